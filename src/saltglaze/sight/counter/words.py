"""From the reader's probabilities to characters, and from characters to numbers."""

from __future__ import annotations

import re
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.run import LengthUnit
from saltglaze.sight.counter.nets import CHARSET, STEP_PX

DIGITS: Final = slice(1, 11)
"""The classes of '0'..'9'."""


SURE_MARK: Final = 0.9
"""Likelihood from which a point or stroke is not taken for a speck."""


class Char(NamedTuple):
    """One character: where in the strip, how likely, and the odds among the ten digits."""

    char: str
    x_px: float
    likely: float
    digits: NDArray[np.float32]
    step: int


class Number(NamedTuple):
    """A number read in one strip, with the odds of each of its digits.

    ``decimals`` is ``None`` where no point was read; ``digits`` is (n, 10); ``looks`` is
    (n, width), the reader's features of each digit, where they were kept.
    """

    text: str
    negative: bool
    decimals: int | None
    digits: NDArray[np.float32]
    likely: float
    left_px: float
    right_px: float
    unit: LengthUnit | None
    unit_shown: bool
    prefixed: bool
    suffixed: bool
    looks: NDArray[np.float16] | None = None

    @property
    def value(self) -> int:
        """All digits as one integer, the point left out."""
        figures = int("".join(c for c in self.text if c.isdigit()))
        return -figures if self.negative else figures


def characters(odds: NDArray[np.float32]) -> list[Char]:
    """Return the best path through (steps, classes), repeated classes and blanks dropped."""
    best = odds.argmax(axis=1)
    found: list[Char] = []
    step, steps = 0, len(best)
    while step < steps:
        kind, begin = int(best[step]), step
        while step < steps and best[step] == kind:
            step += 1
        if kind == 0:
            continue
        peak = begin + int(odds[begin:step, kind].argmax())
        digits = odds[peak, DIGITS] + np.float32(1e-6)
        found.append(
            Char(
                CHARSET[kind - 1],
                (begin + step) / 2 * STEP_PX,
                float(odds[peak, kind]),
                digits / digits.sum(),
                peak,
            )
        )
    return found


_NUMBER: Final = re.compile(
    r"(?P<before>[a-z#:=\"]*)(?P<sign>[-+]?)(?P<whole>\d{1,6})(?:(?P<point>[.,])(?P<part>\d{1,3}))?"
    r"(?P<after>[a-z#'\"./:,-]*)"
)
_FEET: Final = re.compile(r"(f|ft|ft\.|f##t|f#t|'|ft,)")
_METRES: Final = re.compile(r"m\.?|mt#|m#t##[#]?")


def numbers(chars: list[Char], features: NDArray[np.float32] | None = None) -> list[Number]:
    """Return every word that is one number, with the unit behind it if there is one.

    ``features`` is the reader's second answer (steps, width) for the same strip.
    """
    words = _words(chars)
    found = []
    for at, whole_word in enumerate(words):
        word = _without_specks(whole_word)
        match = _NUMBER.fullmatch("".join(c.char for c in word))
        if match is None or match["after"].startswith((":", "/", "-")):
            continue
        if "#" in match["after"] and not match["part"] and unit_of(match["after"]) is None:
            continue
        after = match["after"].rstrip(".,") if not match["after"].strip(".,") else match["after"]
        next_word = "".join(c.char for c in words[at + 1]) if at + 1 < len(words) else ""
        glued = unit_of(after)
        unit = glued or (unit_of(next_word) if not after else None)
        begin = len(match["before"])
        number = word[begin : match.start("after")]
        figures = [c for c in number if c.char.isdigit()]
        found.append(
            Number(
                text=match["sign"]
                + match["whole"]
                + ("." + match["part"] if match["part"] else ""),
                negative=match["sign"] == "-",
                decimals=len(match["part"]) if match["part"] else None,
                digits=np.array([c.digits for c in figures]),
                likely=float(np.prod([c.likely for c in number])),
                left_px=number[0].x_px,
                right_px=number[-1].x_px,
                unit=unit,
                unit_shown=unit is not None,
                prefixed=bool(match["before"]) or at > 0,
                suffixed=unit is None and bool(after or next_word),
                looks=None
                if features is None
                else features[[c.step for c in figures]].astype(np.float16),
            )
        )
    return found


def _without_specks(word: list[Char]) -> list[Char]:
    """Drop unsure points and strokes, the unsurest first, until the word is a number.

    A speck or a ghost between digits reads as a second point; dates and clocks, whose
    marks are sure, stay as they are.
    """
    tried = list(word)
    while not _NUMBER.fullmatch("".join(c.char for c in tried)):
        unsure = [c for c in tried if c.char in ".,:'-" and c.likely < SURE_MARK]
        if not unsure:
            return word
        weakest = min(unsure, key=lambda c: c.likely)
        tried = [c for c in tried if c is not weakest]
    return tried


def unit_of(word: str) -> LengthUnit | None:
    """Return the unit that a word of unit letters stands for."""
    if _FEET.fullmatch(word):
        return LengthUnit.FEET
    if _METRES.fullmatch(word):
        return LengthUnit.METRES
    return None


def _words(chars: list[Char]) -> list[list[Char]]:
    words: list[list[Char]] = [[]]
    for char in chars:
        if char.char == " ":
            words.append([])
        else:
            words[-1].append(char)
    return [word for word in words if word]
