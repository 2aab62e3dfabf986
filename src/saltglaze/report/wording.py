"""Sentences by key, from one file a language, so that another can be added beside it."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import Any

from saltglaze.errors import InputError

FALLBACK = "en"


@cache
def _table(language: str) -> dict[str, str]:
    source = resources.files("saltglaze.report") / "texts" / f"{language}.toml"
    with source.open("rb") as stream:
        return _flattened(tomllib.load(stream))


def _flattened(table: dict[str, Any], prefix: str = "") -> dict[str, str]:
    flat: dict[str, str] = {}
    for key, value in table.items():
        if isinstance(value, dict):
            flat |= _flattened(value, f"{prefix}{key}.")
        else:
            flat[prefix + key] = str(value)
    return flat


def languages() -> tuple[str, ...]:
    """Return the languages that have a text file, in alphabetical order."""
    folder = resources.files("saltglaze.report") / "texts"
    names = [entry.name for entry in folder.iterdir() if entry.name.endswith(".toml")]
    return tuple(sorted(name.removesuffix(".toml") for name in names))


class Words:
    """The sentences of one language; a key it lacks falls back to English.

    Raises
    ------
    InputError
        If there is no text file for ``language``.
    """

    def __init__(self, language: str = FALLBACK) -> None:
        if language not in languages():
            raise InputError(
                f"no texts for language {language!r}",
                where="language",
                expected=f"one of {', '.join(languages())}",
            )
        self.language = language
        self._table = {**_table(FALLBACK), **_table(language)}

    def __call__(self, key: str, /, **values: object) -> str:
        """Return the sentence under ``key`` with ``{names}`` filled in.

        ``KeyError`` for an unknown key: a missing sentence is a fault of ours.
        """
        return self._table[key].format_map(values) if values else self._table[key]

    def counted(self, key: str, count: int, /, **values: object) -> str:
        """Return the sentence for a number of things: ``key.one`` or ``key.other``."""
        form = "one" if count == 1 else "other"
        return self(f"{key}.{form}", count=count, **values)

    def get(self, key: str) -> str | None:
        """Return the sentence under ``key``, or ``None`` where there is none."""
        return self._table.get(key)

    def listed(self, items: list[str]) -> str:
        """Join items as the language does: "a", "a and b", "a, b and c"."""
        if len(items) < 2:
            return "".join(items)
        return f"{', '.join(items[:-1])} {self('join.and')} {items[-1]}"

    def sentence(self, text: str) -> str:
        """Return text from a record with a capital first and a full stop last."""
        text = text.strip()
        if not text:
            return ""
        text = text[0].upper() + text[1:]
        return text if text[-1] in ".!?:…" else text + "."
