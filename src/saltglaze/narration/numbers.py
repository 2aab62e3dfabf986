"""Spoken numbers without their units: "one eighty", "forty two point five", "a third".

A small grammar over words. What speech-to-text makes of number words ("thirty to",
"20 7", "100 and 12") is taken only where a unit stands behind it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache
from typing import Any

from saltglaze.narration.tables import table, word_set


class Measure(StrEnum):
    """What a number measures; ``NUMBER`` where no unit was said."""

    NUMBER = "number"
    LENGTH = "length"
    SHARE = "share"
    ROUND = "round"
    ANGLE = "angle"
    CLOCK = "clock"
    PRESSURE = "pressure"
    FLOW = "flow"


@dataclass(frozen=True, slots=True)
class Number:
    """A number without unit, found at words ``at`` .. ``end`` (end excluded)."""

    value: float
    end: int
    rough: bool = False
    fraction: bool = False
    digits: bool = False


@dataclass(frozen=True, slots=True)
class NumberWords:
    """The tables of numbers.toml, ready to look up."""

    units: dict[str, float]
    tens: dict[str, float]
    fractions: dict[str, float]
    glyphs: dict[str, float]
    vague: dict[str, float]
    sounds: dict[str, float]
    unit_words: dict[str, tuple[Measure, float, str]]
    attached: dict[str, tuple[Measure, float, str]]


@lru_cache(maxsize=1)
def number_words() -> NumberWords:
    """Read numbers.toml."""
    raw: dict[str, Any] = table("numbers")
    words: dict[str, tuple[Measure, float, str]] = {}
    attached: dict[str, tuple[Measure, float, str]] = {}
    for unit in raw["unit"]:
        meaning = (Measure(unit["measure"]), float(unit["factor"]), str(unit["unit"]))
        words.update(dict.fromkeys(unit["words"], meaning))
        attached.update(dict.fromkeys(unit["attached"], meaning))
    return NumberWords(
        units=raw["units"],
        tens=raw["tens"],
        fractions=raw["fractions"],
        glyphs=raw["glyphs"],
        vague=raw["vague"],
        sounds=raw["sounds_like"],
        unit_words=words,
        attached=attached,
    )


_DIGITS = re.compile(r"\d+(?:,\d{3})*(?:\.\d+)?|\.\d+")
_CLOCK_WORDS = frozenset({"o'clock", "oclock", "o'clocks", "oclocks"})
_POINTS = ("point", "dot", "comma")
_CLOCK_PAIRS = word_set("numbers", "clock_pairs")
_SLASHED = re.compile(r"(\d+)\s?/\s?(\d+)")


def clock_length(words: Sequence[str], at: int) -> int:
    """How many words after ``at`` say "o'clock" (0: none)."""
    if at >= len(words):
        return 0
    if words[at] in _CLOCK_WORDS:
        return 1
    after = words[at + 1] if at + 1 < len(words) else ""
    if words[at] in _CLOCK_PAIRS and after in ("clock", "clocks", "o'clock"):
        return 2
    return 0


def digit_like(words: Sequence[str], at: int) -> float | None:
    """Return the digit 1..9 said at ``at``, or what speech-to-text makes of one."""
    if at >= len(words):
        return None
    tables = number_words()
    value = tables.units.get(words[at], tables.sounds.get(words[at]))
    if value is None and words[at].isdecimal():
        value = float(words[at])
    return value if value is not None and 1 <= value <= 9 else None


def number_at(words: Sequence[str], at: int) -> Number | None:
    """Return the number said at ``at``, with its decimals and fractions, or ``None``."""
    if at >= len(words):
        return None
    fraction = fraction_at(words, at)
    if fraction is not None:
        return fraction
    whole = _digits(words, at) or _spoken(words, at) or _opening_sound(words, at)
    if whole is not None:
        return decimals(words, whole, allow_half=True)
    return _vague(words, at) or _leading_point(words, at) or _single(words, at)


def _opening_sound(words: Sequence[str], at: int) -> Number | None:
    """Read the "for" of "for point five, roots" where a remark opens with it."""
    value = number_words().sounds.get(words[at]) if at == 0 else None
    pointed = value is not None and words[1:2] in (["point"], ("point",))
    return Number(value, 1) if value and pointed and _decimal_digits(words, 2) else None


def _digits(words: Sequence[str], at: int) -> Number | None:
    if not _DIGITS.fullmatch(words[at]) or len(words[at]) > 12:
        return None
    value = float(words[at].replace(",", ""))
    end = at + 1
    after = words[end] if end < len(words) else ""
    if value in (20, 30, 40, 50, 60, 70, 80, 90) and "." not in words[at]:
        digit = _tail_digit(words, end)
        if digit is not None:
            return Number(value + digit, end + 1, digits=True)
    if value in (100, 200, 300) and after == "and":
        rest = _digits(words, end + 1) if end + 1 < len(words) else None
        rest = rest or (_below_hundred(words, end + 1) if end + 1 < len(words) else None)
        if rest is not None and 0 < rest.value < 100:
            return Number(value + rest.value, rest.end, digits=True)
    if after in ("hundred", "thousand"):
        return _spoken(words, at)
    return Number(value, end, digits=True)


_ONLY_DIGITS = frozenset({"ate", "ait", "fife", "sicks", "nein", "tree"})
"""Mis-heard digits that mean nothing else straight behind tens."""


def _tail_digit(words: Sequence[str], at: int) -> float | None:
    """The 7 of "20 7 feet": a single digit with a unit or a fraction behind it.

    "thirty ate" needs nothing behind it, "at twenty too" only the end.
    """
    digit = digit_like(words, at)
    if digit is None:
        return None
    if words[at] in _ONLY_DIGITS:
        return digit
    if at + 1 >= len(words):
        called = at > 1 and words[at - 2] == "at" and words[at] in number_words().sounds
        return digit if called else None
    if words[at + 1] in ("point", "comma", "and") or words[at + 1] in number_words().unit_words:
        return digit
    return None


def _spoken(words: Sequence[str], at: int) -> Number | None:
    thousands = _below_thousand(words, at)
    if thousands is None:
        return None
    value, end = thousands.value, thousands.end
    if end < len(words) and words[end] == "thousand":
        end += 1
        value *= 1000.0
        rest_at = end + 1 if end < len(words) and words[end] == "and" else end
        rest = _below_thousand(words, rest_at) if rest_at < len(words) else None
        if rest is not None:
            value, end = value + rest.value, rest.end
    return Number(value, end)


def _below_thousand(words: Sequence[str], at: int) -> Number | None:
    hundreds = _hundreds(words, at)
    if hundreds is not None:
        return hundreds
    spelled = _spelled(words, at)
    if spelled is not None:
        return spelled
    first = _below_hundred(words, at)
    if first is None:
        return None
    paired = _paired(words, at, first)
    return paired or first


def _hundreds(words: Sequence[str], at: int) -> Number | None:
    """Read "a hundred and twelve", "two hundred", "fifteen hundred", "hundred and twelve"."""
    if words[at] in ("a", "hundred"):
        count, end = 1.0, at + (words[at] == "a")
    else:
        first = _below_hundred(words, at)
        if first is None and words[at].isdecimal() and len(words[at]) <= 2:
            first = Number(float(words[at]), at + 1)
        if first is None:
            return None
        count, end = first.value, first.end
    if end >= len(words) or words[end] != "hundred":
        return None
    end += 1
    joined = end < len(words) and words[end] == "and"
    rest = _below_hundred(words, end + joined) if end + joined < len(words) else None
    if rest is None or (joined and _startsfraction_at(words, end + 1)):
        return Number(count * 100.0, end)
    return Number(count * 100.0 + rest.value, rest.end)


def _spelled(words: Sequence[str], at: int) -> Number | None:
    """Return three digits told one by one ("two two five"), or two before a point."""
    units = number_words().units
    digits: list[int] = []
    while at + len(digits) < len(words) and len(digits) < 4:
        value = units.get(words[at + len(digits)])
        if value is None or value > 9:
            break
        digits.append(int(value))
    end = at + len(digits)
    pointed = len(digits) == 2 and end < len(words) and words[end] in ("point", "comma")
    if digits[:1] == [0] or not (len(digits) == 3 or pointed):
        return None
    return Number(float("".join(map(str, digits))), end)


def _paired(words: Sequence[str], at: int, first: Number) -> Number | None:  # noqa: PLR0911 - one guard a rule
    """Read "one eighty" 180, "one oh five" 105, "two fifty five" 255, "nineteen fifty two" 1952."""
    if first.end - at != 1 or not (1 <= first.value <= 9 or 13 <= first.value <= 20):
        return None
    end = first.end
    if end >= len(words):
        return None
    if words[end] in ("oh", "o") and end + 1 < len(words):
        digit = number_words().units.get(words[end + 1])
        if digit is not None and 1 <= digit <= 9 and not clock_length(words, end + 2):
            return Number(first.value * 100.0 + digit, end + 2)
        return None
    rest = _below_hundred(words, end)
    if rest is None or rest.value < 10:
        return None
    if first.value > 9 and not (rest.value >= 20 or first.value in (19, 20)):
        return None
    if first.value <= 9 and clock_length(words, rest.end):
        return None
    if rest.value == 30 and first.value <= 12 and clock_length(words, rest.end):
        return None
    return Number(first.value * 100.0 + rest.value, rest.end)


def _below_hundred(words: Sequence[str], at: int) -> Number | None:
    tables = number_words()
    if at >= len(words):
        return None
    if words[at + 1 : at + 2] in (["teen"], ("teen",)):
        digit = digit_like(words, at)
        return Number(10.0 + digit, at + 2) if digit is not None else None
    if words[at] in tables.tens:
        value = tables.tens[words[at]]
        digit = tables.units.get(words[at + 1]) if at + 1 < len(words) else None
        if digit is not None and 1 <= digit <= 9:
            return Number(value + digit, at + 2)
        like = _tail_digit(words, at + 1)
        return Number(value + like, at + 2) if like is not None else Number(value, at + 1)
    if words[at] in tables.units and words[at] != "oh":
        return Number(tables.units[words[at]], at + 1)
    return None


def decimals(words: Sequence[str], whole: Number, *, allow_half: bool) -> Number:
    """Add "point five", "and a half", "1/2", "½" to a whole number."""
    at = whole.end
    if at >= len(words):
        return whole
    if words[at] in _POINTS:
        decimal = _decimal_digits(words, at + 1)
        if decimal is not None:
            return replace(whole, value=whole.value + decimal[0], end=decimal[1])
    if allow_half and words[at] == "and" and at + 1 < len(words):
        part = fraction_at(words, at + 1)
        if part is not None and not _stands_alone(words, part.end):
            return replace(whole, value=whole.value + part.value, end=part.end)
    if words[at] in number_words().glyphs:
        return replace(whole, value=whole.value + number_words().glyphs[words[at]], end=at + 1)
    slashed = _SLASHED.fullmatch(words[at])
    if slashed and whole.digits:
        part_value = _ratio(slashed)
        if part_value is not None and part_value < 1:
            return replace(whole, value=whole.value + part_value, end=at + 1)
    return whole


def _stands_alone(words: Sequence[str], at: int) -> bool:
    """Read "three cracks and a half inch gap": the half belongs to what follows, not before."""
    return False if at >= len(words) else words[at] in ("of",)


def _decimal_digits(words: Sequence[str], at: int) -> tuple[float, int] | None:
    tables = number_words()
    text, end = "", at
    while end < len(words) and len(text) < 4:
        word = words[end]
        if word.isdecimal() and len(word) <= 3 and not text:
            text, end = word, end + 1
            break
        value = tables.units.get(word)
        if value is None and not text and word in tables.tens:
            pair = _below_hundred(words, end)
            return (pair.value / 100.0, pair.end) if pair else None
        if value is None:
            value = tables.sounds.get(word) if not text or _damaged_ahead(words, end) else None
        if value is None or value > 9:
            break
        text, end = text + str(int(value)), end + 1
    return (float("0." + text), end) if text else None


def _damaged_ahead(words: Sequence[str], at: int) -> bool:
    return at + 1 < len(words) and words[at + 1] in number_words().unit_words


def _leading_point(words: Sequence[str], at: int) -> Number | None:
    if words[at] not in ("point", "comma"):
        return None
    decimal = _decimal_digits(words, at + 1)
    return Number(decimal[0], decimal[1]) if decimal else None


def fraction_at(words: Sequence[str], at: int) -> Number | None:  # noqa: PLR0911 - one guard a rule
    """Read "a half", "half an", "three quarters", "a quarter", "1/4", "¼", "one eighth"."""
    tables = number_words()
    word = words[at]
    if word in tables.glyphs:
        return Number(tables.glyphs[word], at + 1, fraction=True)
    slashed = _SLASHED.fullmatch(word)
    if slashed:
        value = _ratio(slashed)
        return Number(value, at + 1, fraction=True) if value is not None else None
    if word in ("half", "quarter", "eighth", "sixteenth") and _fraction_fits(words, at):
        return Number(tables.fractions[word], at + 1, fraction=True)
    after = words[at + 1] if at + 1 < len(words) else ""
    alone = at == 0 and len(words) <= 2 and (not after or not after[0].isalnum())
    if word in ("third", "quarter", "half", "fifth") and alone:
        return Number(tables.fractions[word], at + 1, fraction=True)  # "Water. Third."
    if word in ("third", "fifth", "tenth", "fourth") and after == "of":
        return Number(tables.fractions[word], at + 1, fraction=True)
    count = 1.0 if word in ("a", "an", "one") else tables.units.get(word)
    if count is None or after not in tables.fractions or not 1 <= count <= 15:
        return None
    if count == 1.0 and not _fraction_fits(words, at + 1):
        return None
    return Number(count * tables.fractions[after], at + 2, fraction=True)


def _startsfraction_at(words: Sequence[str], at: int) -> bool:
    return at < len(words) and fraction_at(words, at) is not None


_ORDINAL_NOUNS = word_set("numbers", "ordinal_nouns")


def _fraction_fits(words: Sequence[str], at: int) -> bool:
    """Whether "half", "quarter", "third" here measures something ("a third crack" does not)."""
    after = words[at + 1] if at + 1 < len(words) else ""
    units = number_words().unit_words
    if after in ("of", "an", "a") or after in units or after in ("bend", "bends"):
        return True
    if words[at] in ("half", "quarter"):
        return after not in ("hour", "past", "to", "turn")
    if words[at] in ("fifth", "fifths", "third", "thirds", "tenth", "tenths"):
        return not after or after not in _ORDINAL_NOUNS
    return after in ("full", "blocked", "the", "gone")


def _ratio(match: re.Match[str]) -> float | None:
    over, under = int(match.group(1)), int(match.group(2))
    if under not in (2, 3, 4, 5, 6, 8, 10, 12, 16, 32, 64) or over >= under * 4:
        return None
    return over / under


def _single(words: Sequence[str], at: int) -> Number | None:
    """Return the one of "about an inch", "good inch", "inch and a half"."""
    units = number_words().unit_words
    after = words[at + 1] if at + 1 < len(words) else ""
    if words[at] in ("a", "an") and after in _SINGLES and after in units:
        return Number(1.0, at + 1)
    if words[at] in ("inch", "foot") and (not after or after in _AFTER_SINGLE):
        return Number(1.0, at)
    if at == 0 and words[at] in ("metre", "meter") and number_at(words, 1) is not None:
        return Number(1.0, at)  # "metre four, junction"
    return None


_SINGLES = word_set("numbers", "singles")
_AFTER_SINGLE = word_set("numbers", "after_single")


def _vague(words: Sequence[str], at: int) -> Number | None:
    vague = number_words().vague
    start = at + 1 if words[at] == "a" else at
    if start < len(words) and words[start] in vague:
        return Number(vague[words[start]], start + 1, rough=True)
    return None
