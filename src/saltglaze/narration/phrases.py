"""Phrases of the lexicon: a small pattern language, and finding them in a sentence.

A phrase is words parted by spaces. ``a|b`` is either word, ``(a|b)`` may be left
out, ``{joint}`` is any word of the named set, ``{joint}|pipe`` one of it or another
word, ``...`` is up to four words that do not matter (never across a comma),
``<length>`` ``<share>`` ``<clock>`` ``<angle>`` ``<number>`` is a spoken amount. Where
phrases overlap, the one with more words wins.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, product
from typing import Any

from saltglaze.narration.words import as_words

GAP = 4
"""At most so many words may stand where a phrase says ``...``."""

_ELEMENT = re.compile(r"\([^()]*\)|\S+")

_NOT = frozenset({"isn't", "ain't", "aren't", "wasn't", "weren't"})

_OWNED = frozenset({"your", "our", "my"})

Element = frozenset[str] | None
"""Words that may stand here; ``None`` is a gap."""


@dataclass(frozen=True, slots=True)
class Phrase:
    """One compiled form of a lexicon entry; ``entry`` is what it stands for."""

    elements: tuple[Element, ...]
    entry: Mapping[str, Any]
    weight: int
    second: Element = None
    """What must stand behind the first word, where that is sure: most phrases end there."""


@dataclass(frozen=True, slots=True)
class Hit:
    """A phrase found: the words it matched, and the entry of the lexicon it stands for."""

    at: tuple[int, ...]
    entry: Mapping[str, Any]

    @property
    def start(self) -> int:
        """Index of the first word."""
        return self.at[0]

    @property
    def end(self) -> int:
        """Index after the last word."""
        return self.at[-1] + 1


class PhraseBook:
    """Phrases indexed by the first word, so that a talk is read in one sweep.

    Where ``shared``, one stretch of words may stand for several entries.
    """

    def __init__(
        self,
        entries: Iterable[Mapping[str, Any]],
        sets: Mapping[str, Sequence[str]],
        *,
        shared: bool = False,
    ) -> None:
        self._shared = shared
        self._by_first: dict[str, list[Phrase]] = {}
        for entry in entries:
            for said in entry["say"]:
                for phrase in compiled(said, entry, sets):
                    for word in phrase.elements[0] or ():
                        self._by_first.setdefault(word, []).append(phrase)

    def words(self) -> frozenset[str]:
        """All words that any phrase is made of."""
        return frozenset(
            word
            for phrases in self._by_first.values()
            for phrase in phrases
            for element in phrase.elements
            for word in element or ()
        )

    def find(self, words: Sequence[str]) -> list[Hit]:
        """Return the phrases in a sentence, longest first served, in order of place."""
        hits: list[tuple[int, int, Hit]] = []
        for start, word in enumerate(words):
            phrases = self._by_first.get(word)
            if phrases is None:
                continue
            following = words[start + 1] if start + 1 < len(words) else ""
            for phrase in phrases:
                if phrase.second is not None and following not in phrase.second:
                    continue
                at = _match(phrase.elements, words, start)
                if at is not None:
                    hits.append((-phrase.weight, at[-1] - start, Hit(at, phrase.entry)))
        if len(hits) > 1:
            hits.sort(key=lambda item: (item[0], item[1], item[2].start))
        taken: set[int] = set()
        spans: set[tuple[int, ...]] = set()
        chosen: list[Hit] = []
        for _, _, hit in hits:
            again = self._shared and hit.at in spans
            if again or taken.isdisjoint(hit.at):
                taken.update(hit.at)
                spans.add(hit.at)
                chosen.append(hit)
        chosen.sort(key=lambda hit: hit.start)
        return chosen


def compiled(
    said: str, entry: Mapping[str, Any], sets: Mapping[str, Sequence[str]]
) -> list[Phrase]:
    """Return the forms of one written phrase, with and without its optional words.

    Raises
    ------
    ValueError
        The phrase names an unknown set, or begins or ends with a gap.
    """
    phrases = []
    for elements in _forms(said, sets):
        if not elements or elements[0] is None or elements[-1] is None:
            raise ValueError(f"the phrase “{said}” begins or ends with nothing to match")
        literals = sum(element is not None for element in elements)
        second = elements[1] if len(elements) > 1 else None
        weight = literals * 10 + int(entry.get("lift", 0))
        phrases.append(Phrase(elements, entry, weight, second))
    return phrases


def _forms(said: str, sets: Mapping[str, Sequence[str]]) -> list[tuple[Element, ...]]:
    choices = [_choices(piece, sets) for piece in _ELEMENT.findall(said)]
    return [tuple(chain.from_iterable(picked)) for picked in product(*choices)]


def _choices(piece: str, sets: Mapping[str, Sequence[str]]) -> list[tuple[Element, ...]]:
    if piece == "...":
        return [(None,)]
    if piece.startswith("("):
        return [*_forms(piece[1:-1], sets), ()]
    named = [_named(word, sets) for word in piece.split("|") if word.startswith("{")]
    words = [word for word in piece.split("|") if not word.startswith("{")]
    plain = frozenset(word for word in words if not parted(word)).union(*named)
    if "not" in words:
        plain |= _NOT  # "is not straight" is read as "isn't straight"
    if words == ["the"]:
        plain |= _OWNED  # "out into your ditch" is said like "out into the ditch"
    whole: list[tuple[Element, ...]] = [(plain,)] if plain else []
    in_two: list[tuple[Element, ...]] = [
        tuple(frozenset([part]) for part in parted(word)) for word in words if parted(word)
    ]
    return whole + in_two


def _named(piece: str, sets: Mapping[str, Sequence[str]]) -> frozenset[str]:
    """Return the words of the set that ``{name}`` stands for."""
    name = piece[1:-1]
    if name not in sets:
        raise ValueError(f"the lexicon has no word set named {name}")
    return frozenset(sets[name])


def parted(word: str) -> tuple[str, ...]:
    """Part "joint's" as the reader of words does; empty where the word stays whole."""
    pieces = as_words(word)
    return pieces if len(pieces) > 1 else ()


def _match(elements: Sequence[Element], words: Sequence[str], start: int) -> tuple[int, ...] | None:
    """Return the indexes of the words matched, or ``None``."""
    at = start
    matched: list[int] = []
    for number, element in enumerate(elements):
        if element is None:
            follower = elements[number + 1]
            found = _after_gap(follower or frozenset(), words, at)
            if found is None:
                return None
            at = found
            continue
        if at >= len(words) or words[at] not in element:
            return None
        matched.append(at)
        at += 1
    return tuple(matched)


def _after_gap(follower: frozenset[str], words: Sequence[str], at: int) -> int | None:
    for place in range(at, min(at + GAP + 1, len(words))):
        if words[place] in follower:
            return place
        if words[place] in (",", ";", ":", "—", "–", "…", "."):
            return None
    return None
