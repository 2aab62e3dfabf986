"""Spoken numbers and units to amounts in SI.

A small grammar over words: "one eighty", "twenty-seven and a half feet", "three
o'clock", "forty two point five", "a quarter inch", "between ten and two o'clock",
"27 foot six"; and the damage speech-to-text does to them ("for the two" for forty
two, "to the clock" for two o'clock, "100 and 12"), taken only where a unit or a
clock word stands beside it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache
from typing import Any

from saltglaze.narration.tables import table


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
class Amount:
    """A spoken amount: metres, share 0..1, degrees, hours 0..12, Pa, m3/s or a bare number.

    ``to`` closes a range; ``unit`` is the unit as said; ``rough`` says that the word
    itself is vague ("a couple of feet"); ``fraction`` that it was said as one ("a third").
    """

    measure: Measure
    value: float
    to: float | None = None
    unit: str = ""
    rough: bool = False
    fraction: bool = False

    @property
    def middle(self) -> float:
        """The value, or the middle of the range."""
        return self.value if self.to is None else (self.value + self.to) / 2.0


@dataclass(frozen=True, slots=True)
class Number:
    """A number without unit, found at words ``at`` .. ``end`` (end excluded)."""

    value: float
    end: int
    rough: bool = False
    fraction: bool = False
    digits: bool = False


@dataclass(frozen=True, slots=True)
class Found:
    """An amount and the words it was said in; ``because`` is set where it was mis-heard."""

    start: int
    end: int
    amount: Amount
    because: str = ""


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
_SLASHED = re.compile(r"(\d+)\s?/\s?(\d+)")
_HALF_HOUR = re.compile(r"(\d{1,2}):(\d{2})")
_CLOCK_WORDS = frozenset({"o'clock", "oclock", "o'clocks", "oclocks"})
_CLOCK_PAIRS = frozenset({"o", "oh", "a", "of", "the", "uh"})
_POINTERS = frozenset(
    "that this another other next first last big no the good bad each which any every "
    "second third small little which same only new old some".split()
)


def amounts_in(words: Sequence[str]) -> list[Found]:
    """Return all amounts in a sentence's words, left to right, not overlapping."""
    singles: list[Found] = []
    at = 0
    while at < len(words):
        found = _amount_at(words, at)
        if found is None:
            at += 1
            continue
        singles.append(found)
        at = found.end
    return _ranged(words, singles)


# ------------------------------------------------------------------ one amount
def _amount_at(words: Sequence[str], at: int) -> Found | None:
    damaged = _damaged(words, at)
    if damaged is not None:
        return damaged
    thirty = _half_past(words, at)
    if thirty is not None:
        return thirty
    half_hour = _HALF_HOUR.fullmatch(words[at])
    if half_hour:
        return _written_time(words, at, int(half_hour.group(1)), int(half_hour.group(2)))
    number = number_at(words, at)
    if number is None:
        return None
    return _with_unit(words, at, number)


def _written_time(words: Sequence[str], at: int, hour: int, minute: int) -> Found | None:
    if not 1 <= hour <= 12 or minute not in (0, 15, 30, 45):
        return None
    end = at + 1 + _clock_length(words, at + 1)
    amount = Amount(Measure.CLOCK, (hour + minute / 60.0) % 12.0)
    return Found(at, end, amount)


def _half_past(words: Sequence[str], at: int) -> Found | None:
    """ "two thirty o'clock" and "half past two"."""
    hour = number_words().units.get(words[at])
    if hour and 1 <= hour <= 12 and list(words[at + 1 : at + 2]) == ["thirty"]:
        length = _clock_length(words, at + 2)
        if length:
            return Found(at, at + 2 + length, Amount(Measure.CLOCK, (hour + 0.5) % 12.0))
    if list(words[at : at + 2]) == ["half", "past"] and at + 2 < len(words):
        hour = number_words().units.get(words[at + 2])
        if hour and 1 <= hour <= 12:
            end = at + 3 + _clock_length(words, at + 3)
            return Found(at, end, Amount(Measure.CLOCK, (hour + 0.5) % 12.0))
    return None


def _with_unit(words: Sequence[str], at: int, number: Number) -> Found | None:
    end = number.end
    clock = _clock_length(words, end)
    if clock and 1 <= number.value <= 12.5:
        return Found(at, end + clock, Amount(Measure.CLOCK, number.value % 12.0))
    unit = unit_at(words, end, number)
    if unit is None:
        share = _share_of(words, at, number)
        if share is not None:
            return share
        if _is_pronoun_one(words, at, number):
            return None
        amount = Amount(Measure.NUMBER, number.value, rough=number.rough, fraction=number.fraction)
        return Found(at, end, amount)
    measure, factor, name, length = unit
    amount = Amount(measure, number.value * factor, unit=name, rough=number.rough)
    found = Found(at, end + length, amount)
    return _feet_and_inches(words, found) if name == "ft" else found


_BORE = frozenset(
    "pipe line bore diameter flow opening section circumference tile height lateral wall "
    "cross capacity depth area width".split()
)
_FILLED = frozenset(
    "full blocked plugged choked closed filled submerged gone clogged obstructed restricted "
    "stopped packed up".split()
)


def _share_of(words: Sequence[str], at: int, number: Number) -> Found | None:
    """ "a third of the pipe", "half full", "three quarters of the way round"."""
    if not number.fraction or number.value > 1.0:
        return None
    end = number.end
    while end < len(words) and words[end] in ("of", "the", "this", "that", "a", "your", "way"):
        end += 1
    word = words[end] if end < len(words) else ""
    joined = end > number.end
    if word in ("round", "around") or (joined and word == "circumference"):
        return Found(at, end + 1, Amount(Measure.ROUND, number.value, fraction=True))
    if word in _FILLED or (joined and word in _BORE) or (words[at] == "half" and word == "pipe"):
        return Found(at, end + 1, Amount(Measure.SHARE, number.value, unit="part"))
    return None


def unit_at(
    words: Sequence[str], at: int, number: Number
) -> tuple[Measure, float, str, int] | None:
    """Return measure, factor, unit name and how many words the unit takes, or ``None``."""
    tables = number_words()
    skip = 0
    if number.fraction or number.rough:
        # half "an" inch, a quarter "of an" inch, a couple "of" feet
        while skip < 2 and at + skip < len(words) and words[at + skip] in ("of", "a", "an"):
            skip += 1
    if at + skip >= len(words):
        return None
    if skip == 0 and number.digits and words[at] in tables.attached:
        return (*tables.attached[words[at]], 1)
    for length in (3, 2, 1):
        spoken = words[at + skip : at + skip + length]
        phrase = " ".join(spoken)
        if len(spoken) == length and phrase in tables.unit_words:
            return (*tables.unit_words[phrase], skip + length)
    return None


def _feet_and_inches(words: Sequence[str], found: Found) -> Found:
    """Add the inches of "27 feet 6 inches", "twelve foot and six inches" and "six foot four"."""
    at = found.end
    if at < len(words) and words[at] == "and":
        at += 1
    inches = number_at(words, at) if at < len(words) else None
    if inches is None or not 0 < inches.value < 12:
        return found
    unit = unit_at(words, inches.end, inches)
    if unit is not None and unit[2] == "in" and _adds_up(words, found, inches):
        end = inches.end + unit[3]
    elif unit is None and words[found.end - 1] == "foot" and _ends_clause(words, inches.end):
        end = inches.end
    else:
        return found
    total = found.amount.value + inches.value * 0.0254
    return Found(found.start, end, replace(found.amount, value=total))


def _adds_up(words: Sequence[str], found: Found, inches: Number) -> bool:
    """Tell "27 feet 6 inches" from "three feet of six inch clay"; "at 40 feet four inch" is two."""
    after = inches.end
    return words[after] in ("inches", '"', "″", "”") or words[found.end - 1] in ("'", "′")


def _ends_clause(words: Sequence[str], at: int) -> bool:
    return at >= len(words) or words[at] in (",", ".", ";", "?", "!", "and", "in", "on")


def _is_pronoun_one(words: Sequence[str], at: int, number: Number) -> bool:
    """A bare "one" mostly stands for a thing: "that one", "one of those"."""
    if number.end - at != 1 or words[at] != "one":
        return False
    before = words[at - 1] if at else ""
    after = words[at + 1] if at + 1 < len(words) else ""
    return before in _POINTERS or after in ("", "of", "here", "there", "is", "that", ",", ".", "'s")


def _clock_length(words: Sequence[str], at: int) -> int:
    """How many words after ``at`` say "o'clock" (0: none)."""
    if at >= len(words):
        return 0
    if words[at] in _CLOCK_WORDS:
        return 1
    after = words[at + 1] if at + 1 < len(words) else ""
    if words[at] in _CLOCK_PAIRS and after in ("clock", "clocks", "o'clock"):
        return 2
    return 0


# ------------------------------------------------------------------ damage
def _damaged(words: Sequence[str], at: int) -> Found | None:
    """What speech-to-text made of a number, where a unit or clock beside it gives it away."""
    return _damaged_forty(words, at) or _damaged_clock(words, at) or _damaged_digit(words, at)


def _damaged_forty(words: Sequence[str], at: int) -> Found | None:
    """ "for the two feet" is forty two feet."""
    if words[at] not in ("for", "four", "4") or words[at + 1 : at + 2] not in (
        ["the"],
        ["tea"],
        ["ty"],
    ):
        return None
    tables = number_words()
    digit = _digit_like(words, at + 2)
    if digit is None:
        return None
    number = _decimals(words, Number(40.0 + digit, at + 3), allow_half=True)
    unit = unit_at(words, number.end, number)
    called = at > 0 and words[at - 1] in ("at", "counter", "reads", "says", "footage", "about")
    if unit is None and not (called and number.end > at + 3) and not (called and tables):
        return None
    found = _with_unit(words, at, number)
    return replace(found, because="“for the” before a digit sounds like forty") if found else None


def _damaged_clock(words: Sequence[str], at: int) -> Found | None:
    """ "to the clock" is two o'clock."""
    value = number_words().sounds.get(words[at])
    if value is None or not 1 <= value <= 12:
        return None
    length = _clock_length(words, at + 1)
    if not length:
        return None
    amount = Amount(Measure.CLOCK, value % 12.0)
    return Found(at, at + 1 + length, amount, f"“{words[at]}” before o'clock sounds like {value:g}")


def _damaged_digit(words: Sequence[str], at: int) -> Found | None:
    """ "for inch clay" is four inch clay; "thirty to feet" thirty two feet."""
    value = number_words().sounds.get(words[at])
    if value is None:
        return None
    number = _decimals(words, Number(value, at + 1), allow_half=True)
    unit = unit_at(words, number.end, replace(number, digits=False))
    if unit is None or words[number.end] in ("mill", "mills", "pounds"):
        return None
    found = _with_unit(words, at, number)
    return (
        replace(found, because=f"“{words[at]}” before a unit sounds like {value:g}")
        if found
        else None
    )


def _digit_like(words: Sequence[str], at: int) -> float | None:
    if at >= len(words):
        return None
    tables = number_words()
    value = tables.units.get(words[at], tables.sounds.get(words[at]))
    if value is None and words[at].isdigit():
        value = float(words[at])
    return value if value is not None and 1 <= value <= 9 else None


# ------------------------------------------------------------------ bare numbers
def number_at(words: Sequence[str], at: int) -> Number | None:
    """Return the number said at ``at``, with its decimals and fractions, or ``None``."""
    if at >= len(words):
        return None
    fraction = _fraction(words, at)
    if fraction is not None:
        return fraction
    whole = _digits(words, at) or _spoken(words, at)
    if whole is not None:
        return _decimals(words, whole, allow_half=True)
    return _vague(words, at) or _leading_point(words, at)


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


def _tail_digit(words: Sequence[str], at: int) -> float | None:
    """The 7 of "20 7 feet": a single digit with a unit or a fraction behind it."""
    if at + 1 >= len(words):
        return None
    digit = _digit_like(words, at)
    if digit is None:
        return None
    if words[at + 1] in ("point", "and") or words[at + 1] in number_words().unit_words:
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
    first = _below_hundred(words, at)
    if first is None:
        return None
    paired = _paired(words, at, first)
    return paired or first


def _hundreds(words: Sequence[str], at: int) -> Number | None:
    """ "a hundred and twelve", "two hundred", "fifteen hundred", "hundred and twelve"."""
    if words[at] in ("a", "hundred"):
        count, end = 1.0, at + (words[at] == "a")
    else:
        first = _below_hundred(words, at)
        if first is None and words[at].isdigit() and len(words[at]) <= 2:
            first = Number(float(words[at]), at + 1)
        if first is None:
            return None
        count, end = first.value, first.end
    if end >= len(words) or words[end] != "hundred":
        return None
    end += 1
    joined = end < len(words) and words[end] == "and"
    rest = _below_hundred(words, end + joined) if end + joined < len(words) else None
    if rest is None or (joined and _starts_fraction(words, end + 1)):
        return Number(count * 100.0, end)
    return Number(count * 100.0 + rest.value, rest.end)


def _paired(words: Sequence[str], at: int, first: Number) -> Number | None:
    """ "one eighty" 180, "one oh five" 105, "two fifty five" 255, "nineteen fifty two" 1952."""
    if first.end - at != 1 or not (1 <= first.value <= 9 or 13 <= first.value <= 20):
        return None
    end = first.end
    if end >= len(words):
        return None
    if words[end] in ("oh", "o") and end + 1 < len(words):
        digit = number_words().units.get(words[end + 1])
        if digit is not None and 1 <= digit <= 9 and not _clock_length(words, end + 2):
            return Number(first.value * 100.0 + digit, end + 2)
        return None
    rest = _below_hundred(words, end)
    if rest is None or rest.value < 10:
        return None
    if first.value > 9 and not (rest.value >= 20 or first.value in (19, 20)):
        return None
    if first.value <= 9 and _clock_length(words, rest.end):
        return None
    if rest.value == 30 and first.value <= 12 and _clock_length(words, rest.end):
        return None
    return Number(first.value * 100.0 + rest.value, rest.end)


def _below_hundred(words: Sequence[str], at: int) -> Number | None:
    tables = number_words()
    if at >= len(words):
        return None
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


def _decimals(words: Sequence[str], whole: Number, *, allow_half: bool) -> Number:
    """Add "point five", "and a half", "1/2", "½" to a whole number."""
    at = whole.end
    if at >= len(words):
        return whole
    if words[at] in ("point", "dot"):
        decimal = _decimal_digits(words, at + 1)
        if decimal is not None:
            return replace(whole, value=whole.value + decimal[0], end=decimal[1])
    if allow_half and words[at] == "and" and at + 1 < len(words):
        part = _fraction(words, at + 1)
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
    """ "three cracks and a half inch gap": the half belongs to what follows, not before."""
    return False if at >= len(words) else words[at] in ("of",)


def _decimal_digits(words: Sequence[str], at: int) -> tuple[float, int] | None:
    tables = number_words()
    text, end = "", at
    while end < len(words) and len(text) < 4:
        word = words[end]
        if word.isdigit() and len(word) <= 3 and not text:
            text, end = word, end + 1
            break
        value = tables.units.get(word)
        if value is None and not text and word in tables.tens:
            pair = _below_hundred(words, end)
            return (pair.value / 100.0, pair.end) if pair else None
        if value is None:
            value = tables.sounds.get(word) if _damaged_ahead(words, end) else None
        if value is None or value > 9:
            break
        text, end = text + str(int(value)), end + 1
    return (float("0." + text), end) if text else None


def _damaged_ahead(words: Sequence[str], at: int) -> bool:
    return at + 1 < len(words) and words[at + 1] in number_words().unit_words


def _leading_point(words: Sequence[str], at: int) -> Number | None:
    if words[at] != "point":
        return None
    decimal = _decimal_digits(words, at + 1)
    return Number(decimal[0], decimal[1]) if decimal else None


def _fraction(words: Sequence[str], at: int) -> Number | None:
    """ "a half", "half an", "three quarters", "a quarter", "1/4", "¼", "one eighth"."""
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
    count = 1.0 if word in ("a", "an", "one") else tables.units.get(word)
    if count is None or after not in tables.fractions or not 1 <= count <= 15:
        return None
    if count == 1.0 and not _fraction_fits(words, at + 1):
        return None
    return Number(count * tables.fractions[after], at + 2, fraction=True)


def _starts_fraction(words: Sequence[str], at: int) -> bool:
    return at < len(words) and _fraction(words, at) is not None


def _fraction_fits(words: Sequence[str], at: int) -> bool:
    """Whether "half", "quarter", "third" here measures something ("a third crack" does not)."""
    after = words[at + 1] if at + 1 < len(words) else ""
    units = number_words().unit_words
    if after in ("of", "an", "a") or after in units or after in ("bend", "bends"):
        return True
    if words[at] in ("half", "quarter"):
        return after not in ("hour", "past", "to", "turn")
    return after in ("full", "blocked", "the", "gone")


def _ratio(match: re.Match[str]) -> float | None:
    over, under = int(match.group(1)), int(match.group(2))
    if under not in (2, 3, 4, 5, 6, 8, 10, 12, 16, 32, 64) or over >= under * 4:
        return None
    return over / under


def _vague(words: Sequence[str], at: int) -> Number | None:
    vague = number_words().vague
    start = at + 1 if words[at] == "a" else at
    if start < len(words) and words[start] in vague:
        return Number(vague[words[start]], start + 1, rough=True)
    return None


# ------------------------------------------------------------------ ranges
_RANGE_WORDS = ("to", "or", "through", "till", "until", "thru", "–", "—")


def _ranged(words: Sequence[str], found: Sequence[Found]) -> list[Found]:
    """Join "nine to three o'clock", "twenty to thirty percent", "two or three inches"."""
    out: list[Found] = []
    for item in found:
        joined = _joined(words, out[-1], item) if out else None
        if joined is not None:
            out[-1] = joined
        else:
            out.append(item)
    return out


def _joined(words: Sequence[str], first: Found, second: Found) -> Found | None:
    gap = words[first.end : second.start]
    if first.amount.to is not None or second.amount.to is not None or not 0 < len(gap) <= 4:
        return None
    before = words[first.start - 1] if first.start else ""
    link = [
        word
        for word in gap
        if word not in ("about", "around", "position", "the", "up", "all", "way", "say")
    ]
    between = before in ("between", "from") and link == ["and"]
    if not between and link not in [[word] for word in _RANGE_WORDS] and link != ["around", "to"]:
        return None
    a, b = first.amount, second.amount
    if a.measure is Measure.NUMBER and b.measure is Measure.CLOCK and 1 <= a.value <= 12:
        a = Amount(Measure.CLOCK, a.value % 12.0)
    elif a.measure is Measure.CLOCK and b.measure is Measure.NUMBER and 1 <= b.value <= 12:
        b = Amount(Measure.CLOCK, b.value % 12.0)
    elif a.measure is Measure.NUMBER and b.measure in (
        Measure.LENGTH,
        Measure.SHARE,
        Measure.ANGLE,
    ):
        factor = next(f for m, f, u in number_words().unit_words.values() if u == b.unit)
        a = replace(b, value=a.value * factor)
    if a.measure is not b.measure:
        return None
    hours = a.measure is Measure.NUMBER and before in ("from", "between") and _hours(a, b)
    if a.measure is not Measure.CLOCK and a.value >= b.value and not hours:
        return None
    if link == ["or"] and a.measure is Measure.CLOCK and abs(a.value - b.value) > 2:
        return None
    if a.measure is Measure.NUMBER and not _plain_range(words, before, link, a, b):
        return None
    return Found(first.start, second.end, replace(a, to=b.value), first.because or second.because)


def _hours(a: Amount, b: Amount) -> bool:
    """Whether both may be hours of a clock ("from ten to two")."""
    return all(1 <= x.value <= 12 and x.value == int(x.value) for x in (a, b))


def _plain_range(words: Sequence[str], before: str, link: list[str], a: Amount, b: Amount) -> bool:
    """A range of bare numbers is only sure after "from" or "between", or as "two or three"."""
    return before in ("from", "between") or (link == ["or"] and b.value - a.value <= 2)
