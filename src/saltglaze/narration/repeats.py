"""Remarks that name nothing and repeat what was named: "and the next", "worse, fifteen".

A remark is elliptic where all of its words are places, sizes and small words that
repeat. It then tells as many further findings as it steps on to further places; the
words themselves need not stand in any table of phrases.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature
from saltglaze.narration.numbers import Measure
from saltglaze.narration.reading import Reading
from saltglaze.narration.sizes import SHARES, WET, as_share, estimate, percent_of, role
from saltglaze.narration.stations import is_station
from saltglaze.narration.tables import word_set
from saltglaze.narration.threads import CARRY_S, REMARK_GAP_S, Draft, Notebook

_SMALL_WORDS = word_set("repeats", "small_words")
_LINKS = word_set("repeats", "links")
_WORSE = word_set("repeats", "worse")
_PLACES = word_set("repeats", "places")
_WELL = word_set("repeats", "well")
_AS_MUCH = frozenset({"as", "so", "quite", "that", "too"})
_SIZES = (*SHARES, "width_m")
_AGAIN = word_set("repeats", "again")
_HEAPS = frozenset(
    {"bunch", "couple", "few", "lot", "load", "bit", "time", "some", "down", "there's"}
)
_TOO = frozenset({"too", "also", "again", "well"})
_HAS_IT = frozenset(
    (
        ("as", "well"),
        *((has, it) for has in ("has", "have", "got") for it in ("it", "them", "some")),
    )
)
"""Word pairs that tell a next place's share: "the next joint has them"."""


# ------------------------------------------------------------------ further places
def steps(reading: Reading) -> int:
    """How many further places an elliptic remark tells ("also in the next, and the one after")."""
    words = [word for word in reading.words if word[0].isalnum() or word[0] == "<"]
    if not _elliptic(reading) or _well_after(reading):
        return 0
    if reading.words[0][0] == "<":
        words = words[1:]  # "one point four, and again"
    if set(words) <= _AGAIN and ({"again", "another"} & set(words) or words == ["and", "here"]):
        return 1  # "and again"
    if not (_LINKS & set(words) or _too(reading) or _HAS_IT & set(pairwise(words))):
        return 0
    stepped = sum(_steps_on(words, at) for at in range(len(words)))
    here = ("this", "joint") in pairwise(words) or ("this", "one") in pairwise(words)
    return stepped or int(here and bool(_TOO & set(words)))


def more(reading: Reading) -> int:
    """How many more an elliptic remark counts ("two more like it"), 0 where it counts none."""
    words = reading.words
    for at, amount in reading.amounts.items():
        counted = amount.measure is Measure.NUMBER and not amount.rough
        whole = counted and amount.value in (1.0, 2.0, 3.0, 4.0)
        if whole and words[at + 1 : at + 2] == ("more",) and _elliptic(reading):
            return int(amount.value)
        if amount.rough and words[at + 1 : at + 2] == ("more",) and _elliptic(reading):
            return 1  # "couple more, right side this time"
    return 0


def _too(reading: Reading) -> bool:
    """Whether a remark closes with a "too" that was heard as "to" or "two"."""
    last = len(reading.words) - 1
    amount = reading.amounts.get(last)
    return reading.words[last] == "to" or (amount is not None and amount.value == 2.0)


def at_another_place(loose: dict[str, Any], reading: Reading, last: Draft | None) -> bool:
    """Whether "and the right" tells the thing before again, at a place of its own."""
    if last is None or "and" not in reading.words[:4] or not _elliptic(reading):
        return False
    for name in ("screen", "clock"):
        old, new = last.fields.get(name), loose.get(name)
        if old is not None and new is not None and old != new:
            return True
    return False


def worse_here(reading: Reading, book: Notebook) -> Feature | None:
    """What "worse here", "eleven, worse again" tells anew, before its size is told."""
    if not {"worse", "better"} & set(reading.words) or not _elliptic(reading):
        return None
    measured = _measured(reading, book)
    moved = bool(reading.amounts) or bool({"here", "again"} & set(reading.words))
    return measured[0].feature if measured and moved else None


def _steps_on(words: list[str], at: int) -> bool:
    """Whether a word is the one that steps on: "next", "the one after", "the other side"."""
    following = words[at + 1] if at + 1 < len(words) else ""
    if words[at] in ("next", "following"):
        return True
    if words[at] == "after":
        return at > 0 and words[at - 1] in _PLACES
    return words[at] == "other" and following in ("side", "wall", "one")


def _elliptic(reading: Reading) -> bool:
    """Whether nothing is said but places, amounts, grades and small words."""
    qualities = [hit for hit in reading.qualities if {"grade", "at_joint"} & hit.entry.keys()]
    told = {i for hit in (*reading.sides, *qualities) for i in hit.at}
    words = reading.words
    for at, word in enumerate(words):
        if word == "not" and words[at + 1 : at + 2] and words[at + 1] in _AS_MUCH:
            continue
        known = word in _SMALL_WORDS or word in _PLACES or word in _HEAPS or at in told
        if word[0].isalnum() and not known:
            return False
    return True


def asks(reading: Reading) -> bool:
    """Whether somebody asks after the next place: "and the next one?"."""
    return reading.words[-1] == "?" and "see" not in reading.words


def all_well(reading: Reading) -> bool:
    """Whether a remark that steps on says that nothing is there: "the one after is clean"."""
    if _well_after(reading):
        return False
    return bool(reading.acts("sound")) or bool(_WELL & set(reading.words))


def _well_after(reading: Reading) -> bool:
    """Whether only the place after is sound: "same at the next one, and the one after is clean"."""
    words = reading.words
    well = [at for at, word in enumerate(words) if word in _WELL]
    parted = [at for at, word in enumerate(words) if word in ("and", "but", "then", ",")]
    same = [hit for hit in reading.acts("same") if hit.start < 3]
    return bool(same and well and any(same[0].end <= at < well[0] - 1 for at in parted))


def goes_to_next(reading: Reading) -> bool:
    """Whether a remark only says where the camera is now: "next joint.", "third joint"."""
    words = [word for word in reading.words if word[0].isalnum()]
    ahead = bool(words) and (words[0] in _ORDINALS or words[:2] == ["the", "next"])
    return ahead and len(words) <= 3 and words[-1] in _PLACES


_ORDINALS = frozenset({"next", "second", "third", "fourth", "fifth", "sixth", "last"})


def likened(reading: Reading) -> frozenset[str]:
    """The words that tell what "glue again, same as the first one" is told of."""
    words = reading.words
    at = next(
        (i for i, w in enumerate(words) if w == "same" and words[i + 1 : i + 2] == ("as",)), 0
    )
    named = (w for w in words[:at] if w.isalpha())
    return frozenset(w for w in named if w not in _SMALL_WORDS and w not in _PLACES)


# ------------------------------------------------------------------ measured again
def measured_again(
    reading: Reading, loose: dict[str, Any], book: Notebook
) -> tuple[Feature, dict[str, Estimate]] | None:
    """The thing measured last with its new size: "worse, that's fifteen", "now a quarter".

    Only what was measured before can be measured again, and only where the remark
    compares or stands at another distance.
    """
    if reading.question or not _compares(reading):
        return None
    for index, amount in loose.get("amounts", ()):
        for draft in _measured(reading, book):
            name = role(reading, index, draft.feature) or percent_of(draft.fields, reading, index)
            if name in SHARES and name in draft.fields:
                return draft.feature, {name: estimate(name, as_share(amount))}
            if name == "width_m" and name in draft.fields:
                return draft.feature, {name: estimate(name, amount)}
    return None


def _compares(reading: Reading) -> bool:
    """Whether a remark compares ("worse"), or tells nothing but a size at another distance."""
    moved = any(is_station(reading, index) for index in reading.amounts)
    return bool(_WORSE & set(reading.words)) or (moved and _elliptic(reading))


def _measured(reading: Reading, book: Notebook) -> list[Draft]:
    """The draft measured last, if it was so lately and is nothing that lies open."""
    for draft in reversed(book.drafts):
        lately = reading.start_s - draft.last_s <= CARRY_S
        if draft.withdrawn or not lately:
            continue
        if (draft.feature in WET and draft.open) or _waits(draft, reading):
            return []
        if any(name in draft.fields for name in _SIZES):
            return [draft]
    return []


def _waits(draft: Draft, reading: Reading) -> bool:
    """Whether a thing was just repeated and its size is still to come."""
    just = reading.start_s - draft.last_s <= REMARK_GAP_S
    return draft.repeats and just and not any(name in draft.fields for name in _SIZES)
