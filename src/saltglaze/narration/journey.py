"""Where the camera goes in and which way it goes, told at the start in anybody's words.

"Headed for the alley", "pushing up towards the bungalow", "lid's off at number nine":
what counts is the verb of going, up or down, and whether the place it goes to lies
at the street's end of the line or at the house.
"""

from __future__ import annotations

from itertools import pairwise

from saltglaze.model.run import Direction
from saltglaze.narration.reading import Reading
from saltglaze.narration.tables import word_set

_WITHIN_S = 60.0
"""Later than this, "up to the house" tells where a thing lies, not where the camera goes."""

_ENTERED_WITHIN_S = 30.0
_GOING = word_set("journey", "going")
_STREET = word_set("journey", "street")
_HOUSE = word_set("journey", "house")
_FLOW = word_set("journey", "flow")
_LIDS = word_set("journey", "lids")
_OPENED = word_set("journey", "opened")
_TOWARD = frozenset({"to", "toward", "towards", "for", "into"})
_REACH = 4
_FEW_WORDS = 4
_WHO = frozenset(
    {"i'm", "i", "we", "we're", "me", "camera", "heading", "headed", "goin", "looking", "pushing"}
)


def heading(reading: Reading) -> Direction | None:
    """Return the way the camera is said to go, early in a talk."""
    if reading.start_s > _WITHIN_S or reading.question:
        return None
    words = reading.words
    flow = _by_flow(words)
    if flow is not None:
        return flow
    if not _GOING & set(words):
        return None
    return _by_place(words) or _by_slope(words)


def _by_flow(words: tuple[str, ...]) -> Direction | None:
    for at, word in enumerate(words):
        if word in ("against", "with") and _FLOW & set(words[at + 1 : at + 3]):
            return Direction.AGAINST_FLOW if word == "against" else Direction.WITH_FLOW
    return None


def _by_place(words: tuple[str, ...]) -> Direction | None:
    """The last place that the words go to."""
    found = None
    for at, word in enumerate(words):
        pointed = word == "at" and words[at - 1 : at] in (("pointed",), ("looking",), ("aimed",))
        if not (word in _TOWARD or pointed):
            continue
        for place in words[at + 1 : at + 1 + _REACH]:
            if not place[0].isalnum() or place in _TOWARD:
                break
            if place in _STREET or place in _HOUSE:
                street = place in _STREET
                found = Direction.WITH_FLOW if street else Direction.AGAINST_FLOW
                break
    return found


def _by_slope(words: tuple[str, ...]) -> Direction | None:
    if len(words) > _FEW_WORDS and not _WHO & set(words):
        return None  # "one sweep, goes down"
    for going, way in pairwise(words):
        if going in _GOING and way in ("up", "uphill"):
            return Direction.AGAINST_FLOW
        if going in _GOING and way in ("down", "downhill"):
            return Direction.WITH_FLOW
    return None


def enters(reading: Reading) -> bool:
    """Whether the first words tell where the camera was put in: "lid's off", "in at the sump"."""
    if reading.start_s > _ENTERED_WITHIN_S or reading.question:
        return False
    words = reading.words
    if {"roots", "joints"} & set(words):
        return False
    opened = bool(_LIDS & set(words) and _OPENED & set(words))
    pairs = set(pairwise(words))
    return opened or bool(pairs & _IN_AT) or (set(words) >= _IN_THE and bool(_GOING & set(words)))


_IN_AT = frozenset(
    (verb, way)
    for verb in ("in", "start", "started", "starting", "begin", "beginning", "entered", "entering")
    for way in ("at", "through", "by", "from", "in")
)
_IN_THE = frozenset({"i'm", "in", "the"})
