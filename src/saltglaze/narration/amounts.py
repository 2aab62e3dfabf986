"""Spoken amounts: numbers with their units, in SI.

"twenty-seven and a half feet", "three o'clock", "a quarter inch", "between ten and two
o'clock", "27 foot six", "a third of the pipe"; and the damage speech-to-text does to
them ("for the two feet", "to the clock", "seven tea one feet"), taken only where a unit
or a clock word stands beside it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from saltglaze.narration.numbers import (
    Measure,
    Number,
    clock_length,
    decimals,
    digit_like,
    fraction_at,
    number_at,
    number_words,
)
from saltglaze.narration.tables import word_set


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
    plural: bool = False
    """Whether the unit was said in the plural ("eight feet", not "an eight foot length")."""

    @property
    def middle(self) -> float:
        """The value, or the middle of the range."""
        return self.value if self.to is None else (self.value + self.to) / 2.0


@dataclass(frozen=True, slots=True)
class Found:
    """An amount and the words it was said in; ``because`` is set where it was mis-heard."""

    start: int
    end: int
    amount: Amount
    because: str = ""


_HALF_HOUR = re.compile(r"(\d{1,2}):(\d{2})")
_NUMBERED = word_set("amounts", "numbered")


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
    end = at + 1 + clock_length(words, at + 1)
    amount = Amount(Measure.CLOCK, (hour + minute / 60.0) % 12.0)
    return Found(at, end, amount)


def _half_past(words: Sequence[str], at: int) -> Found | None:
    """Read "two thirty o'clock" and "half past two"."""
    hour = number_words().units.get(words[at])
    if hour and 1 <= hour <= 12 and list(words[at + 1 : at + 2]) == ["thirty"]:
        length = clock_length(words, at + 2)
        if length:
            return Found(at, at + 2 + length, Amount(Measure.CLOCK, (hour + 0.5) % 12.0))
    if list(words[at : at + 2]) == ["half", "past"] and at + 2 < len(words):
        hour = number_words().units.get(words[at + 2])
        if hour and 1 <= hour <= 12:
            end = at + 3 + clock_length(words, at + 3)
            return Found(at, end, Amount(Measure.CLOCK, (hour + 0.5) % 12.0))
    return None


def _with_unit(words: Sequence[str], at: int, number: Number) -> Found | None:
    end = number.end
    clock = clock_length(words, end)
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
    tail = _fraction_behind(words, end + length)
    if tail is not None and measure is Measure.LENGTH:
        number = replace(number, value=number.value + tail.value)
        length = tail.end - end
    plural = words[end + length - 1] in _PLURALS
    amount = Amount(measure, number.value * factor, unit=name, rough=number.rough, plural=plural)
    found = Found(at, end + length, amount)
    if name == "m":
        return _metres_and_tenths(words, found)
    return _feet_and_inches(words, found) if name == "ft" else found


def _metres_and_tenths(words: Sequence[str], found: Found) -> Found:
    """Add the decimals told behind the unit: "three metres one", "six metres forty"."""
    at = found.end + (list(words[found.end : found.end + 1]) == ["and"])
    rest = number_at(words, at) if at < len(words) else None
    if rest is None or rest.fraction or rest.rough or found.amount.value % 1.0:
        return found
    whole = rest.value == int(rest.value) and 1 <= rest.value <= 99
    joined = at > found.end and rest.value < 10  # "at two metres and four"
    if not whole or joined or not _ends_remark(words, rest.end):
        return found
    decimals_m = rest.value / (10.0 if rest.value < 10 else 100.0)
    return Found(
        found.start, rest.end, replace(found.amount, value=found.amount.value + decimals_m)
    )


def _ends_remark(words: Sequence[str], at: int) -> bool:
    return at >= len(words) or not words[at][0].isalnum()


_PLURALS = ("feet", "metres", "meters")
_SHARE_FILLER = word_set("amounts", "share_filler")
_BORE = word_set("amounts", "bore")
_FILLED = word_set("amounts", "filled")


def _share_of(words: Sequence[str], at: int, number: Number) -> Found | None:
    """Read "a third of the pipe", "half full", "three quarters of the way round"."""
    if not number.fraction or number.value > 1.0:
        return None
    end = number.end
    while end < len(words) and words[end] in _SHARE_FILLER:
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


def _fraction_behind(words: Sequence[str], at: int) -> Number | None:
    """Return the fraction behind a unit ("ten feet and a half")."""
    if at + 1 >= len(words) or words[at] != "and":
        return None
    part = fraction_at(words, at + 1)
    if part is None and words[at + 1] == "half":
        part = Number(0.5, at + 2, fraction=True)
    if part is None or unit_at(words, part.end, part) is not None:
        return None
    return part if part.end >= len(words) or words[part.end] not in ("of", "the", "full") else None


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
    if words[at + 1 : at + 2] in (["side"], ("side",)):
        return True
    before = words[at - 1] if at else ""
    if at == 1 and before in number_words().units and words[2:3] in ([","], ["."], []):
        return False  # "three one, lateral on the right"
    ranged = list(words[at + 1 : at + 2]) in (["to"], ["through"]) and (
        number_at(words, at + 2) is not None
    )
    return before not in _NUMBERED and not ranged


def _damaged(words: Sequence[str], at: int) -> Found | None:
    """What speech-to-text made of a number, where a unit or clock beside it gives it away."""
    return (
        _damaged_forty(words, at)
        or _damaged_tens(words, at)
        or _damaged_clock(words, at)
        or _damaged_digit(words, at)
    )


def _damaged_forty(words: Sequence[str], at: int) -> Found | None:
    """Read "for the two feet" is forty two feet."""
    if words[at] not in ("for", "four", "4") or words[at + 1 : at + 2] not in (
        ["the"],
        ["tea"],
        ["ty"],
    ):
        return None
    tables = number_words()
    digit = digit_like(words, at + 2)
    if digit is None:
        return None
    number = decimals(words, Number(40.0 + digit, at + 3), allow_half=True)
    unit = unit_at(words, number.end, number)
    called = at > 0 and words[at - 1] in ("at", "counter", "reads", "says", "footage", "about")
    if unit is None and not (called and number.end > at + 3) and not (called and tables):
        return None
    found = _with_unit(words, at, number)
    return replace(found, because="“for the” before a digit sounds like forty") if found else None


def _damaged_tens(words: Sequence[str], at: int) -> Found | None:
    """Take "seven tea one feet" as seventy one feet, "nine tee degree" as ninety degrees."""
    tens = digit_like(words, at)
    if tens is None or list(words[at + 1 : at + 2]) not in (["tea"], ["tee"], ["ty"], ["tie"]):
        return None
    digit = digit_like(words, at + 2)
    value = tens * 10.0 + (digit or 0.0)
    number = decimals(words, Number(value, at + (2 if digit is None else 3)), allow_half=True)
    if unit_at(words, number.end, number) is None:
        return None
    found = _with_unit(words, at, number)
    because = f"“{words[at]} {words[at + 1]}” before a unit sounds like {tens * 10:g}"
    return replace(found, because=because) if found else None


def _damaged_clock(words: Sequence[str], at: int) -> Found | None:
    """Read "to the clock" is two o'clock."""
    value = number_words().sounds.get(words[at])
    if value is None or not 1 <= value <= 12:
        return None
    length = clock_length(words, at + 1)
    if not length:
        return None
    amount = Amount(Measure.CLOCK, value % 12.0)
    return Found(at, at + 1 + length, amount, f"“{words[at]}” before o'clock sounds like {value:g}")


def _damaged_digit(words: Sequence[str], at: int) -> Found | None:
    """Read "for inch clay" is four inch clay; "thirty to feet" thirty two feet."""
    value = number_words().sounds.get(words[at])
    if value is None:
        return None
    number = decimals(words, Number(value, at + 1), allow_half=True)
    unit = unit_at(words, number.end, replace(number, digits=False))
    if unit is None or words[number.end] in ("mill", "mills", "pounds"):
        return None
    found = _with_unit(words, at, number)
    return (
        replace(found, because=f"“{words[at]}” before a unit sounds like {value:g}")
        if found
        else None
    )


# ------------------------------------------------------------------ ranges
_RANGE_FILLER = word_set("amounts", "range_filler")
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


def _joined(words: Sequence[str], first: Found, second: Found) -> Found | None:  # noqa: PLR0911 - one guard a rule
    gap = words[first.end : second.start]
    if first.amount.to is not None or second.amount.to is not None or not 0 < len(gap) <= 4:
        return None
    before = words[first.start - 1] if first.start else ""
    link = [word for word in gap if word not in _RANGE_FILLER]
    if not link and "through" in gap:
        link = ["through"]
    counted = first.amount.measure is Measure.NUMBER and not first.amount.fraction
    if list(gap) == [","] and counted and first.amount.value % 1.0 == 0:
        listed = second.amount.measure in (Measure.SHARE, Measure.LENGTH)
        if listed and second.amount.unit not in ("m", "ft") and second.amount.to is None:
            link = ["or"]
    between = before in ("between", "from") and link == ["and"]
    if not between and link not in [[word] for word in _RANGE_WORDS]:
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
        a = _with_unit_of(b, a)
    if a.measure is not b.measure:
        return None
    hours = a.measure is Measure.NUMBER and _hours(a, b)
    if a.measure is not Measure.CLOCK and a.value >= b.value and not hours:
        return None
    if link == ["or"] and a.measure is Measure.CLOCK and abs(a.value - b.value) > 2:
        return None
    if a.measure is Measure.NUMBER and not _plain_range(words, before, link, a, b):
        return None
    return Found(first.start, second.end, replace(a, to=b.value), first.because or second.because)


def _with_unit_of(second: Amount, bare: Amount) -> Amount:
    """Return a bare number in the unit behind it; a share told as a fraction has none to lend."""
    units = number_words().unit_words.values()
    factor = next((f for _, f, unit in units if unit == second.unit), None)
    return bare if factor is None else replace(second, value=bare.value * factor)


def in_unit_of(former: Amount, bare: Amount) -> Amount:
    """Return a bare number in the unit of the amount that it replaces."""
    if former.measure not in (Measure.LENGTH, Measure.SHARE, Measure.CLOCK):
        return bare
    if former.measure is Measure.CLOCK:
        return Amount(Measure.CLOCK, bare.value % 12.0) if 1 <= bare.value <= 12 else bare
    factors = {name: f for _, f, name in number_words().unit_words.values()}
    factor = factors.get(former.unit)
    return replace(former, value=bare.value * factor, to=None) if factor else bare


def _hours(a: Amount, b: Amount) -> bool:
    """Whether both may be hours of a clock ("from ten to two")."""
    return all(1 <= x.value <= 12 and x.value == int(x.value) for x in (a, b))


def _plain_range(words: Sequence[str], before: str, link: list[str], a: Amount, b: Amount) -> bool:
    """A range of bare numbers is only sure after "from" or "between", or as "two or three"."""
    if before in ("from", "between") or (link == ["or"] and b.value - a.value <= 2):
        return True
    return link in (["to"], ["through"], ["thru"], ["till"]) and _hours(a, b)
