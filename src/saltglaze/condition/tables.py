"""Read the data tables that lie beside the code that uses them."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import Any


@cache
def read_table(package: str, name: str) -> dict[str, Any]:
    """Return a TOML table shipped inside ``package`` (treat the result as read-only)."""
    text = resources.files(package).joinpath(name).read_text(encoding="utf-8")
    return tomllib.loads(text)
