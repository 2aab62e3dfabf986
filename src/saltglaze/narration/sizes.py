"""What a spoken amount measures: a gap, a length, a share, the water, a bend, a bore.

The role of an amount follows from the words beside it and from the thing it is said
of; an amount that fits nothing stays unused rather than being forced into a field.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from functools import lru_cache

from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature
from saltglaze.narration.amounts import Amount
from saltglaze.narration.numbers import Measure
from saltglaze.narration.reading import Reading
from saltglaze.narration.tables import table, word_set

WIDE = frozenset(
    {
        Feature.CRACK,
        Feature.FRACTURE,
        Feature.BREAK,
        Feature.HOLE,
        Feature.OFFSET_JOINT,
        Feature.OPEN_JOINT,
        Feature.INTRUDING_TAP,
        Feature.INTRUDING_SEAL,
        Feature.ANGLED_JOINT,
    }
)
"""Things whose small lengths are openings, steps or intrusions."""

LONG = WIDE | {
    Feature.HOLE,
    Feature.COLLAPSE,
    Feature.DEFORMATION,
    Feature.SURFACE_DAMAGE,
    Feature.ROOTS,
    Feature.ATTACHED_DEPOSITS,
    Feature.SETTLED_DEPOSITS,
    Feature.OBSTRUCTION,
    Feature.STANDING_WATER,
    Feature.SAG,
    Feature.REPAIR,
    Feature.LINER,
    Feature.CAMERA_UNDER_WATER,
}
"""Things that may run over a length."""

BLOCKING = frozenset(
    {
        Feature.ROOTS,
        Feature.ATTACHED_DEPOSITS,
        Feature.SETTLED_DEPOSITS,
        Feature.OBSTRUCTION,
        Feature.INTRUDING_TAP,
        Feature.INTRUDING_SEAL,
        Feature.COLLAPSE,
        Feature.OFFSET_JOINT,
    }
)
"""Things whose share is loss of section."""

_STEPS = frozenset({Feature.OFFSET_JOINT, Feature.OPEN_JOINT, Feature.FRACTURE})
"""Things whose bare fraction is a fraction of an inch where the talk is in feet."""

_HALVES = (("bottom",), ("top",), ("lower",), ("upper",), ("other",), ("left",), ("right",))
"""A half behind these is a place ("the bottom half"), not a share."""

WET = frozenset({Feature.STANDING_WATER, Feature.SAG, Feature.CAMERA_UNDER_WATER})
BORED = frozenset({Feature.TAP, Feature.INTRUDING_TAP, Feature.CLEAN_OUT})

_LARGEST_WIDTH_M = 0.16
_LONG_WORDS = word_set("sizes", "long_words")
_LEADS_LENGTH = word_set("sizes", "leads_length")
_STATION_LEADS = word_set("sizes", "station_leads")
_PIPE_WORDS = word_set("sizes", "pipe_words")
_DEPTH_WORDS = word_set("sizes", "depth_words")
_ROUGH = word_set("sizes", "rough")


@dataclass(frozen=True, slots=True)
class Spread:
    """How far a spoken guess may be off, one standard deviation."""

    of_value: float
    least: float


@lru_cache(maxsize=1)
def spreads() -> dict[str, Spread]:
    """Read spread.toml."""
    raw = table("spread")["spread"]
    return {name: Spread(row["of_value"], row["least"]) for name, row in raw.items()}


def estimate(field: str, amount: Amount) -> Estimate:
    """Return a spoken amount as an estimate with the spread of its kind of guess."""
    spread = spreads().get(field) or spreads()["other"]
    sd = max(spread.least, spread.of_value * abs(amount.middle))
    if amount.rough:
        sd *= 2.0
    if amount.to is not None:
        sd = max(sd, abs(amount.to - amount.value) / 4.0)
    return Estimate.of(round(amount.middle, 6), round(sd, 6))


def role(reading: Reading, index: int, feature: Feature) -> str | None:
    """Return the field of ``Facts`` that the amount at ``index`` fills for ``feature``."""
    amount = reading.amounts[index]
    if amount.measure is Measure.SHARE:
        return share_role(feature)
    if amount.measure is Measure.ROUND:
        return "round_share"
    if amount.measure is Measure.ANGLE:
        return "angle_deg" if feature in (Feature.BEND, Feature.ANGLED_JOINT) else None
    if amount.measure is Measure.LENGTH:
        return _length_role(reading, index, feature, amount)
    if amount.measure is Measure.NUMBER:
        return _number_role(reading, index, feature, amount)
    return None


def share_role(feature: Feature) -> str | None:
    """Return the share that can be told of a feature."""
    if feature in WET:
        return "water_share"
    if feature is Feature.DEFORMATION:
        return "deformation_share"
    if feature in BLOCKING:
        return "section_share"
    return None


def _length_role(reading: Reading, index: int, feature: Feature, amount: Amount) -> str | None:  # noqa: PLR0911 - one guard a rule
    words = reading.words
    after = words[index + 1 : index + 3]
    before = words[index - 1] if index else ""
    second = words[index - 2] if index > 1 else ""
    if _is_water_depth(reading, index, feature):
        return None
    if feature in WIDE and amount.middle <= _LARGEST_WIDTH_M and {before, second} & _BREADTH:
        return "width_m"  # "width two millimetre, along the pipe"
    if after[:1] and after[0] in _FURTHER and after[1:2] in ((), (",",), (".",)):
        return None  # "two feet more, another one"
    if any(word in _LONG_WORDS for word in after) or _of_thing(reading, index, feature):
        return "length_m" if feature in LONG else None
    if feature in LONG and _for_a_length(reading, index):
        return "length_m"
    if feature in BORED and amount.middle < 0.7:
        return _bored_role(reading, index, feature)
    if amount.middle <= _LARGEST_WIDTH_M and feature in WIDE:
        return None if after[:1] and after[0] in _PIPE_WORDS - _GAPS else "width_m"
    if feature in WIDE and 0.2 < amount.middle < 3.0 and amount.unit == "in":
        return "length_m"
    if feature in _SPLITS and 0.2 < amount.middle < 3.0 and amount.unit in ("ft", "m", "cm"):
        return "length_m"
    if feature not in LONG or amount.middle > 60.0 or amount.unit in ("in", "mm"):
        return None
    lead = second if before in _ROUGH or before in ("the", "a") else before
    return "length_m" if lead in _LEADS_LENGTH else None


_BREADTH = frozenset({"width", "wide", "gap", "opened", "opens", "open", "opening"})
_GAPS = frozenset({"opening", "inlet"})
_FURTHER = frozenset({"more", "on", "past", "later", "beyond", "further"})
_STEPPED = frozenset({"gap", "step", "drop", "offset", "opening", "lip", "displacement"})
_SPLITS = frozenset({Feature.CRACK, Feature.FRACTURE, Feature.HOLE, Feature.BREAK})


def _for_a_length(reading: Reading, index: int) -> bool:
    """Read "no bottom for like six inches", "gone for about two foot"."""
    lead = reading.words[max(0, index - 4) : index]
    rest = lead[lead.index("for") + 1 :] if "for" in lead else ("",)
    return all(word in _FOR_ABOUT for word in rest)


_FOR_ABOUT = frozenset(
    {
        "about",
        "like",
        "maybe",
        "a",
        "good",
        "around",
        "the",
        "next",
        "first",
        "last",
        "whole",
        "roughly",
    }
)


def _is_water_depth(reading: Reading, index: int, feature: Feature) -> bool:
    return (
        feature in WET
        and reading.amounts[index].middle < 0.5
        and not any(word in _LONG_WORDS for word in reading.words[index + 1 : index + 3])
    )


def _of_thing(reading: Reading, index: int, feature: Feature) -> bool:
    """Read "about four foot of belly", "three feet of it": a length of the thing itself."""
    after = reading.words[index + 1 : index + 4]
    if after[:1] != ("of",) or feature not in LONG:
        return False
    return reading.amounts[index].middle > _LARGEST_WIDTH_M


def _bored_role(reading: Reading, index: int, feature: Feature) -> str | None:
    """Tell how wide a tap is from how far it sticks in ("ninety mil and poking in forty")."""
    words = reading.words
    behind = words[index + 1 : index + 3]
    if any(word in _PIPE_WORDS for word in behind):
        return "diameter_m"
    if _tells_how_far(reading, index, feature):
        return "width_m" if feature is Feature.INTRUDING_TAP else None
    if feature is Feature.INTRUDING_TAP and not any(word in _STICKING for word in words):
        return "diameter_m" if "," in words[index - 1 : index] else "width_m"
    return "diameter_m"


def _tells_how_far(reading: Reading, index: int, feature: Feature) -> bool:
    """Whether a verb of sticking in stands before a length, or "of it" behind."""
    words = reading.words
    behind = words[index + 1 : index + 3]
    if behind == ("of", "it") or (behind[:1] and behind[0] in _STICKING):
        return True
    low = max([0, index - _STICKS_WITHIN, *(i + 1 for i in reading.amounts if i < index)])
    lead = words[low:index]
    if any(word in _STICKING for word in lead):
        return True
    comes = feature is Feature.INTRUDING_TAP and "," not in lead
    return comes and any(word in _ENTERING for word in lead)


_STICKS_WITHIN = 9
_STICKING = word_set("sizes", "sticking")
_ENTERING = frozenset(
    {"come", "comes", "goes", "go", "reaches", "pushed", "into", "inside", "hanging", "hangs"}
)


def _number_role(reading: Reading, index: int, feature: Feature, amount: Amount) -> str | None:
    after = reading.words[index + 1] if index + 1 < len(reading.words) else ""
    if amount.fraction and reading.words[index - 1 : index][:1] in _HALVES:
        return None
    metric = {
        40.0,
        90.0,
        125.0,
        50.0,
        75.0,
        100.0,
        110.0,
        150.0,
        160.0,
        200.0,
        225.0,
        250.0,
        300.0,
        375.0,
        450.0,
    }
    if feature in BORED and amount.value in metric:
        role = _bored_role(reading, index, feature)
        return {"diameter_m": "diameter_mm", "width_m": "width_mm"}.get(role or "")
    sized = reading.words[index - 2 : index]
    if reading.metric and feature in WIDE and sized[-1:] == ("of",) and sized[0] in _STEPPED:
        return "width_mm" if 3.0 <= amount.value <= 200.0 and not amount.fraction else None
    inches = amount.fraction and not reading.metric and 0.05 < amount.value < 1.0
    if inches and feature in _STEPS and after not in ("inch", "of", "way"):
        return "width_in"
    if amount.fraction and 0.0 < amount.value < 1.0 and after not in ("joint", "section", "piece"):
        return share_role(feature)
    return None


# ------------------------------------------------------------------ bare percents
SHARES = ("deformation_share", "section_share", "water_share")
_TOLD = word_set("repeats", "told")
_PERCENT = (3.0, 95.0)
_CALLED = frozenset({"call", "make", "say", "put", "calling"})
_CLOSING = frozenset({"now", "here", "there", "on", "at", "and", "of"})


def percent_of(fields: Container[str], reading: Reading, index: int) -> str | None:
    """The share that a bare number behind "that's", "about" is, where one was told before."""
    if not is_told(reading, index, reading.amounts[index]):
        return None
    return next((name for name in SHARES if name in fields), None)


def is_told(reading: Reading, index: int, amount: Amount) -> bool:
    """Whether a bare number measures: "that's fifteen", "call it forty", "more like ten"."""
    lead = reading.words[max(0, index - 2) : index]
    after = reading.words[index + 1 : index + 2]
    closes = not after or not after[0][0].isalnum() or after[0] in _CLOSING
    whole = amount.measure is Measure.NUMBER and not amount.fraction
    called = lead[-1:] in (("it",), ("that",)) and lead[0] in _CALLED
    told = called or any(word in _TOLD for word in lead[-1:])
    return whole and closes and told and _PERCENT[0] <= amount.middle <= _PERCENT[1]


def as_share(amount: Amount) -> Amount:
    """Return a bare number of percent as a share."""
    if amount.measure is Measure.NUMBER and not amount.fraction:
        to = None if amount.to is None else amount.to / 100.0
        return Amount(Measure.SHARE, amount.value / 100.0, to=to)
    return amount
