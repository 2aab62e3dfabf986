"""Where a stretch begins and where it is over, in words that name nothing.

"Gravel from here on" opens a stretch of gravel; "bottom's good again" closes the one
told of in the same words; "and she's dry", "okay, back" close open water or a dirty lens.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from saltglaze.model.finding import Feature
from saltglaze.narration.numbers import Measure
from saltglaze.narration.reading import Reading
from saltglaze.narration.sizes import WET
from saltglaze.narration.tables import word_set
from saltglaze.narration.thing import Thing

BLIND = frozenset({Feature.CAMERA_UNDER_WATER, Feature.LENS_FOULED})
_POINTS = frozenset({Feature.TAP, Feature.BEND, Feature.CLEAN_OUT, Feature.INTRUDING_TAP})
"""Things at one place: they never run on."""

_RESTORED = word_set("stretches", "restored")
_ENDING = word_set("stretches", "ending")
_RELEASED = word_set("stretches", "released")
_SEEN_AGAIN = word_set("stretches", "seen_again")
_RISEN = word_set("stretches", "risen")
_NOT_OVER = word_set("stretches", "not_over")
Told = tuple[Feature, frozenset[str]]
_IT = frozenset({"it", "it's", "that", "that's", "she", "she's", "he", "he's"})
_LONGEST_WORDS = 12
_SHORT = 7
_PAST = frozenset(
    {
        ("we're", "through"),
        ("i'm", "through"),
        ("threw", "it"),
        ("away", "again"),
        ("it's", "done"),
        ("drains", "off"),
        ("'s", "off"),
        ("'s", "out"),
        ("drains", "away"),
        ("levels", "out"),
        ("up", "and"),
        ("lets", "go"),
        ("rises", "again"),
    }
)
_ON = (
    ("from", "here"),
    ("along", "here"),
    ("starts", "here"),
    ("start", "here"),
    ("here", "on"),
    ("goes", "on"),
    ("runs", "on"),
    ("continuous", "defect"),
    ("starts", "at"),
)
_STARTING = frozenset({"begins", "begin", "starts", "start", "starting", "beginning"})


def opens(thing: Thing, reading: Reading) -> bool:
    """Whether the words say that a thing runs on from here."""
    if thing.feature in _POINTS:
        return False
    words = reading.words
    after = words[thing.high : thing.high + 4]
    told = any(pair in _ON for pair in pairwise(words))
    return told or bool(_STARTING & set(after)) or words[thing.low - 1 : thing.low] == ("start",)


def over(reading: Reading, things: Sequence[Thing], words_of: Sequence[Told]) -> list[int]:
    """Return which of the open stretches, oldest first, a sentence closes.

    ``words_of`` are the feature and the words of each open stretch.
    """
    said = {word for word in reading.words if word[0].isalnum()}
    live = [t for t in things if not (t.denied or t.talked_of or t.reference)]
    if not words_of or _says_more(reading, said):
        return []
    if live:
        ended = {t.feature for t in live if _ENDING & set(reading.words[t.high : t.high + 2])}
        return [i for i, (feature, _) in enumerate(words_of) if feature in ended]
    wet = [i for i, (feature, _) in enumerate(words_of) if feature in WET]
    blind = [i for i, (feature, _) in enumerate(words_of) if feature in BLIND]
    if wet and _water_gone(reading, said, things):
        return wet
    if blind and said & _SEEN_AGAIN and len(said) <= _SHORT:
        return blind
    if not _ends(reading, said):
        return []
    shared = [i for i, (_, told) in enumerate(words_of) if told & said]
    return shared[-1:] or ([len(words_of) - 1] if said & _IT else [])


def _says_more(reading: Reading, said: set[str]) -> bool:
    """Whether a sentence is too long for it, asks, denies or measures."""
    if reading.question or said & _NOT_OVER or len(said) > _LONGEST_WORDS:
        return True
    return any(
        amount.measure not in (Measure.LENGTH, Measure.NUMBER)
        or amount.fraction
        or amount.unit in ("in", "mm", "cm")
        for amount in reading.amounts.values()
    )


def _water_gone(reading: Reading, said: set[str], things: Sequence[Thing]) -> bool:
    """Such as "and she's dry", "there, she come up", "no standing water from here"."""
    denied = any(t.denied and t.feature in WET for t in things)
    if denied and {"here", "now", "anymore", "more"} & said:
        return True
    if said & _RELEASED or _PAST & set(pairwise(reading.words)):
        return True
    return "up" in said and bool(said & _RISEN)


def _ends(reading: Reading, said: set[str]) -> bool:
    """Such as "mortar's good again", "gravel thins out", "it's done"."""
    restored = any(a in _RESTORED and b == "again" for a, b in pairwise(reading.words))
    return restored or bool(said & _ENDING)
