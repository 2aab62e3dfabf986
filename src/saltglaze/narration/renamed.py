"""A thing named again in a remark of its own: "it's leaking here ... steady drip".

Whoever stops at a fault says its name, looks, and says it again in other words. A
remark so soon behind that tells of no other one, no place, no distance and no joint of
its own is of the thing before.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from saltglaze.model.finding import Feature
from saltglaze.narration.numbers import Measure
from saltglaze.narration.reading import Reading
from saltglaze.narration.stations import is_station
from saltglaze.narration.thing import Thing

SOON_S = 10.0
"""A name that only says the same again comes so soon."""

_LONGEST = 14
_SHORT = 7
_WALL = Feature.SURFACE_DAMAGE
_STEPS_ON = frozenset(
    {
        "another",
        "more",
        "again",
        "also",
        "too",
        "next",
        "second",
        "third",
        "other",
        "then",
        "same",
        "new",
        "ahead",
        "further",
        "now",
        "one",
        "two",
        "three",
        "here",
        "every",
        "past",
    }
)
_HERE = frozenset({"this", "that", "the", "same"})
_COUNTED = frozenset({Feature.TAP, Feature.INTRUDING_TAP, Feature.CLEAN_OUT, Feature.BEND})
"""Fittings are counted off one by one in bare names."""


def only_renamed(
    thing: Thing, reading: Reading, feature: Feature, held: Mapping[str, Any], gap_s: float
) -> bool:
    """Whether a remark only names again what was named ``gap_s`` seconds before."""
    words = [word for word in reading.words if word[0].isalnum()]
    if gap_s > SOON_S or thing.another or len(words) > _LONGEST or thing.feature in _COUNTED:
        return False
    if feature is not thing.feature and _WALL in (feature, thing.feature):
        return False  # "all worn ... hole, six o'clock"
    placed = {"clock", "screen"} & thing.fields.keys()
    elsewhere = "clock" in placed or (placed and {"clock", "screen"} & held.keys())
    if elsewhere or (placed and len(words) > _SHORT):
        return False
    if _STEPS_ON & set(words) or words[0] == "and" or _own_joint(reading) or _own_part(reading):
        return False
    return not _own_distance(reading)


def _own_part(reading: Reading) -> bool:
    """Whether it is told of a part that is just shown: "this hub's split"."""
    return reading.words[0] == "this" and not _BE & set(reading.words[1:2])


_BE = frozenset({"is", "one", "looks", "has", "was"})


def _own_joint(reading: Reading) -> bool:
    """Whether a joint is named that was not pointed back to."""
    words = reading.words
    return any(
        word in ("joint", "joints") and not (i and words[i - 1] in _HERE)
        for i, word in enumerate(words)
    )


def _own_distance(reading: Reading) -> bool:
    return any(
        is_station(reading, i) or (amount.measure is Measure.NUMBER and i == 0)
        for i, amount in reading.amounts.items()
    )
