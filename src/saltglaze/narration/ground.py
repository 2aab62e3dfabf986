"""The ground outside the pipe, seen through an opening: "it's just dirt up there".

Words for earth are also words for what lies in a pipe and for what a pipe is made of;
they are the ground where the words beside them say so.
"""

from __future__ import annotations

from saltglaze.model.finding import Feature
from saltglaze.narration.numbers import Measure
from saltglaze.narration.reading import Reading
from saltglaze.narration.tables import word_set

OPENINGS = frozenset(
    {Feature.HOLE, Feature.BREAK, Feature.OPEN_JOINT, Feature.FRACTURE, Feature.COLLAPSE}
)
THROUGH = OPENINGS | {
    Feature.CRACK,
    Feature.TAP,
    Feature.INTRUDING_TAP,
    Feature.SURFACE_DAMAGE,
    Feature.OFFSET_JOINT,
    Feature.ANGLED_JOINT,
}
"""Things through or beside which the ground may be seen."""

_EARTH = word_set("ground", "earth")
_BESIDE = word_set("ground", "beside")
_BEFORE = word_set("ground", "before")
_NOT_GROUND = word_set("ground", "not_ground")
_LYING = word_set("ground", "lying")
_COLOURED = frozenset(
    {"red", "yellow", "blue", "brown", "grey", "gray", "white", "raw", "bare", "wet"}
)
_FEW = 3
_NEAR = 3


def ground_at(reading: Reading) -> int | None:
    """Token of the word for the ground, where the words beside say that it is seen."""
    if any(amount.measure is Measure.SHARE for amount in reading.amounts.values()):
        return None  # "loose stones, five percent"
    for at, word in enumerate(reading.words):
        if word in _EARTH and _is_ground(reading, at):
            return at
    return None


def lies(reading: Reading) -> bool:
    """Whether a sentence tells of something that lies in the pipe."""
    return bool(_LYING & set(reading.words))


def _is_ground(reading: Reading, at: int) -> bool:
    words = reading.words
    after = words[at + 1 : at + 1 + _NEAR]
    lead = words[max(0, at - _NEAR) : at]
    if {"no", "not", "any", "without"} & set(lead) or (after and after[0] in _NOT_GROUND):
        return False
    if words[at] == "clay":  # mostly the pipe
        return bool(_COLOURED & set(lead[-1:]) or {"behind", "outside"} & set(after))
    if set(lead[-1:]) & {"the", "this"} and "behind" in lead:
        return False  # "water behind the mud"
    if _LYING & {*lead, *after} or any(word in _LYING for word in words[at:]):
        return False
    near = _BESIDE & set(after) or _BEFORE & set(lead) or "behind" in _clause(reading, at)
    return bool(near) or len(_clause(reading, at)) <= _FEW


def _clause(reading: Reading, at: int) -> list[str]:
    """The words between the stops on both sides."""
    stops = [i for i, word in enumerate(reading.words) if word[0] in _STOPS]
    low = max((i for i in stops if i < at), default=-1)
    high = min((i for i in stops if i > at), default=len(reading.words))
    return [word for word in reading.words[low + 1 : high] if word[0].isalnum()]


_STOPS = ".,;:?!—–…"
