"""What is taken back, answered or given another name in the next breath.

"Is that a crack? No.", "wait, that's not grease", "no, a rat", "scratch that".
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from saltglaze.narration.phrases import Hit
from saltglaze.narration.reading import Reading
from saltglaze.narration.tables import word_set
from saltglaze.narration.thing import Thing
from saltglaze.narration.threads import Draft, Notebook

_FLAT_NO = word_set("listen", "flat_no")
_FITTINGS = frozenset({"fitting", "factory", "proper", "wye", "tee", "junction"})
_RENAMED_S = 8.0
_SHORT_ANSWER = 4
_ANSWERED_S = 10.0
_NO = frozenset({"no", "nope", "nah", "not", "nobody's", "don't"})
_YES = frozenset({"yes", "yeah", "yep", "yup", "sure", "correct", "right", "exactly"})
_NOT_THAT = frozenset(
    {("that's", "not"), ("it's", "not"), ("that", "isn't"), ("it", "isn't"), ("that", "wasn't")}
)


def answer(book: Notebook, reading: Reading, things: Sequence[Thing]) -> None:
    """Settle a question asked just before: yes, maybe, or no."""
    asked = [d for d in book.drafts if d.asked and not d.withdrawn]
    if not asked or reading.question:
        return
    draft = asked[-1]
    words = set([word for word in reading.words if word[0].isalnum()][:4])
    if reading.start_s - draft.last_s > _ANSWERED_S or words & _NO:
        draft.withdrawn = True
    elif reading.acts("hedge"):
        draft.asked, draft.supposed = False, True
    elif words & _YES or any(t.feature is draft.feature and not t.denied for t in things):
        draft.asked = False


def deny_flatly(book: Notebook, reading: Reading) -> None:
    """Take back a guess that a bare "No." follows."""
    words = {word for word in reading.words if word[0].isalnum()}
    if not words or not words <= _FLAT_NO or not book.current:
        return
    last = book.current[-1]
    if last.supposed and reading.start_s - last.last_s < 6.0:
        last.withdrawn = True
        book.current = []


def take_back(book: Notebook, reading: Reading, things: Sequence[Thing]) -> None:
    """Take back what was said last, or earlier in this very sentence."""
    _unsaid(book, reading, things)
    hits = [hit for hit in reading.acts("withdraw") if _takes_back(book, hit, reading)]
    if not hits:
        _renamed(book, reading, things)
        return
    here = [t for t in things if t.low < hits[0].start and not t.denied]
    for thing in things:
        same = reading.boundaries[thing.low] <= reading.boundaries[hits[-1].end - 1]
        of_it = _is_meant(thing, hits[0], reading)
        if thing.low < hits[-1].end + 4 and same and of_it:  # "that's not a root, it's a rag"
            thing.talked_of = True
    last = book.current[-1] if book.current else None
    if here:
        book.current = []
    elif last is not None and _can_be_meant(last, hits[0], reading, things, book):
        last.withdrawn = True
        book.current = []


def _can_be_meant(
    last: Draft, hit: Hit, reading: Reading, things: Sequence[Thing], book: Notebook
) -> bool:
    """Whether the thing told last is what is taken back.

    "That's not a crack" takes back no brick, and "just a reflection" at the next distance
    nothing that lies behind.
    """
    if reading.start_s - last.last_s >= _TAKEN_BACK_S:
        return False
    words = set(words_of(hit, reading))
    others = {thing.feature for thing in things} - {last.feature}
    if {"not", "isn't"} & words and others and last.feature not in {t.feature for t in things}:
        return False
    return not ({"just", "only"} & words and last.last_s <= book.moved_s)


_TAKEN_BACK_S = 15.0


def _unsaid(book: Notebook, reading: Reading, things: Sequence[Thing]) -> None:
    """Take back what "wait, that's not grease" says it is not."""
    last = book.current[-1] if book.current else None
    if last is None or reading.start_s - last.last_s > _RENAMED_S:
        return
    for thing in things:
        lead = pairwise(reading.words[max(0, thing.low - 3) : thing.low + 1])
        if thing.denied and thing.feature is last.feature and _NOT_THAT & set(lead):
            last.withdrawn = True
            book.current = []
            return


def _takes_back(book: Notebook, hit: Hit, reading: Reading) -> bool:
    """Whether words such as "that's nothing" stand for themselves and take a thing back."""
    after = reading.words[hit.end] if hit.end < len(reading.words) else "."
    if "nothing" in words_of(hit, reading) and after[0].isalnum():
        return False  # "that's nothing you'd lose sleep over"
    moved = bool(reading.sides or reading.amounts) and "mistake" in words_of(hit, reading)
    if moved:
        return False  # "my mistake, it's at ten"
    if after in _FITTINGS and "a" in words_of(hit, reading):
        return False  # "they busted that in, that's not a fitting": a tap still
    last = book.current[-1] if book.current else None
    detail = "back" in words_of(hit, reading) and last is not None
    return not (detail and last is not None and last.told & set(reading.words[hit.end :]))


def _renamed(book: Notebook, reading: Reading, things: Sequence[Thing]) -> None:
    """Take back what "no wait, that's roots" gives another name."""
    replaced = reading.acts("replace")
    last = book.current[-1] if book.current else None
    if last is not None and reading.words[:2] == ("no", ",") and not replaced:
        _named_anew(book, last, reading, things)
    if not replaced or replaced[0].start > 1 or last is None:
        return
    after = reading.words[replaced[0].end : replaced[0].end + 3]
    told = {"that's", "it's", "those", "they're"} & {
        *after,
        *(reading.words[i] for i in replaced[0].at),
    }
    named = [t for t in things if not (t.denied or t.talked_of or t.reference)]
    other = named and named[0].feature is not last.feature
    if told and other and reading.start_s - last.last_s < _RENAMED_S:
        last.withdrawn = True
        book.current = []


def _named_anew(book: Notebook, last: Draft, reading: Reading, things: Sequence[Thing]) -> None:
    """Take back "mouse" where "no, a rat" follows."""
    short = sum(word[0].isalnum() for word in reading.words) <= _SHORT_ANSWER
    named = [t for t in things if not (t.denied or t.talked_of or t.reference)]
    other = bool(named) and named[0].feature is not last.feature
    if short and other and reading.start_s - last.last_s < _RENAMED_S:
        last.withdrawn = True
        book.current = []


def _is_meant(thing: Thing, hit: Hit, reading: Reading) -> bool:
    """Whether "it's not a ..." takes back a thing: one named behind, or again by its word."""
    if thing.low >= hit.start or "a" not in words_of(hit, reading):
        return True
    return reading.words[hit.end : hit.end + 1] in [(reading.words[i],) for i in thing.tokens]


def words_of(hit: Hit, reading: Reading) -> tuple[str, ...]:
    """Return the words that a phrase matched."""
    return tuple(reading.words[index] for index in hit.at)
