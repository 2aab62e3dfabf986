"""The ear's data: what the trade says, in files that a technician can extend."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def table(name: str) -> dict[str, Any]:
    """Return the table ``name``.toml of this folder; the result must not be changed."""
    text = files(__package__).joinpath(f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
