"""Options of the command line that are one of a few words."""

from __future__ import annotations

from typing import Literal, cast

from saltglaze.errors import InputError

Units = Literal["us", "metric"]
Page = Literal["letter", "a4"]


def units_of(text: str) -> Units:
    """Return the unit system named; InputError for another word."""
    return cast(Units, _one_of(text, ("us", "metric"), "--units"))


def page_of(text: str) -> Page:
    """Return the page size named; InputError for another word."""
    return cast(Page, _one_of(text, ("letter", "a4"), "--page"))


def _one_of(text: str, choices: tuple[str, ...], option: str) -> str:
    word = text.strip().lower()
    if word not in choices:
        raise InputError(f"{text!r} is not known", where=option, expected=" or ".join(choices))
    return word
