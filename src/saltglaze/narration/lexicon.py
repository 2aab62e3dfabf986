"""The lexicon: every table of phrases compiled once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from saltglaze.narration.phrases import PhraseBook
from saltglaze.narration.tables import table


@dataclass(frozen=True, slots=True)
class Lexicon:
    """Phrase books by what they tell: features, sides, qualities, materials, speech."""

    features: PhraseBook
    hints: PhraseBook
    """Words that name a thing only where a sentence that shows something names no other."""
    sides: PhraseBook
    qualities: PhraseBook
    materials: PhraseBook
    acts: dict[str, PhraseBook]


@lru_cache(maxsize=1)
def lexicon_words() -> frozenset[str]:
    """Return every word that some phrase is made of: none of them is a mis-hearing."""
    books = lexicon()
    every = [
        books.features,
        books.hints,
        books.sides,
        books.qualities,
        books.materials,
        *books.acts.values(),
    ]
    return frozenset(word for book in every for word in book.words())


@lru_cache(maxsize=1)
def lexicon() -> Lexicon:
    """Return the compiled lexicon; the first call takes a fraction of a second."""
    features, sides, qualities = table("features"), table("sides"), table("qualities")
    materials, speech = table("materials"), table("speech")
    by_act: dict[str, list[dict[str, object]]] = {}
    for entry in speech["act"]:
        by_act.setdefault(entry["act"], []).append(entry)
    return Lexicon(
        features=PhraseBook(features["phrase"], features["sets"]),
        hints=PhraseBook(table("hints")["hint"], features["sets"]),
        sides=PhraseBook(sides["side"], sides["sets"]),
        qualities=PhraseBook(qualities["quality"], qualities["sets"], shared=True),
        materials=PhraseBook(materials["material"], materials["sets"]),
        acts={act: PhraseBook(entries, speech["sets"]) for act, entries in by_act.items()},
    )
