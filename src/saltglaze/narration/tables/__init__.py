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


@cache
def word_set(module: str, name: str) -> frozenset[str]:
    """Return one list of wordlists.toml, by the module that uses it and its name."""
    return frozenset(table("wordlists")[module][name])
