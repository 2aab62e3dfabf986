"""Mis-heard trade words put right, each with the reason shown.

Three steps, surest first: spellings that are no mistake (taken silently), listed
mis-hearings where the words around allow them, and words unknown to plain English
that sound and look like a trade word while another trade word stands near.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from saltglaze.model.talk import Correction
from saltglaze.narration.lexicon import lexicon_words
from saltglaze.narration.sound import edit_distance, sound_key
from saltglaze.narration.tables import table
from saltglaze.narration.tables.ordinary import ordinary_words
from saltglaze.narration.words import Word

NEAR = 8
"""A trade word this many words away lends belief to a correction."""


@dataclass(frozen=True, slots=True)
class Mishearing:
    """A heard phrase and the trade term it may stand for."""

    heard: tuple[str, ...]
    term: str
    after: frozenset[str]
    before: frozenset[str]
    both: bool = False
    """Whether the word before and the word after must both fit."""
    near: bool = False
    """Whether a trade word near is enough besides."""


@dataclass(frozen=True, slots=True)
class Ear:
    """The tables of mishearings.toml, ready to look up."""

    same: Mapping[str, tuple[tuple[tuple[str, ...], str], ...]]
    listed: Mapping[str, tuple[Mishearing, ...]]
    trade: frozenset[str]
    by_sound: Mapping[str, tuple[str, ...]]


@lru_cache(maxsize=1)
def ear() -> Ear:
    """Read mishearings.toml and index it by first word and by sound."""
    raw = table("mishearings")
    same: dict[str, list[tuple[tuple[str, ...], str]]] = {}
    for heard, term in raw["same"].items():
        words = tuple(heard.split())
        same.setdefault(words[0], []).append((words, term))
    lost = raw["apostrophe"]
    doing = {tuple(done.split()) for done in lost["doing"]}  # "the water drains off"
    for noun, state in product(lost["lost_after"], lost["before"]):
        heard = (f"{noun}s", state)  # "the joints pulled apart": the joint's pulled apart
        if heard in doing:
            continue
        same.setdefault(heard[0], []).append((heard, f"{noun} 's {state}"))
    listed: dict[str, list[Mishearing]] = {}
    for entry in raw["term"]:
        after, before = frozenset(entry.get("after", ())), frozenset(entry.get("before", ()))
        for heard in entry["heard"]:
            words = tuple(heard.replace("-", " ").split())
            listed.setdefault(words[0], []).append(
                Mishearing(
                    words,
                    entry["term"],
                    after,
                    before,
                    bool(entry.get("both")),
                    bool(entry.get("near")),
                )
            )
    terms = {term for entry in raw["term"] for term in entry["term"].split() if len(term) >= 5}
    terms |= {term for term in raw["trade"] if len(term) >= 5}
    by_sound: dict[str, list[str]] = {}
    for term in sorted(terms):
        by_sound.setdefault(sound_key(term), []).append(term)
    return Ear(
        same={key: tuple(sorted(v, key=lambda x: -len(x[0]))) for key, v in same.items()},
        listed={key: tuple(sorted(v, key=lambda m: -len(m.heard))) for key, v in listed.items()},
        trade=frozenset(raw["trade"]),
        by_sound={key: tuple(found) for key, found in by_sound.items()},
    )


def corrected(words: Sequence[Word]) -> tuple[list[Word], tuple[Correction, ...]]:
    """Return a sentence's words as understood, and what was corrected on the way."""
    plain = _spelled_alike(words)
    once, first = _one_sweep(plain)
    twice, second = _one_sweep(once)  # a word put right lends belief to its neighbours
    return twice, (*first, *second)


def _one_sweep(plain: list[Word]) -> tuple[list[Word], tuple[Correction, ...]]:
    texts = [word.text for word in plain]
    out: list[Word] = []
    corrections: list[Correction] = []
    at = 0
    while at < len(plain):
        found = _listed(texts, at) or _by_sound(texts, at)
        if found is None:
            out.append(plain[at])
            at += 1
            continue
        length, correction = found
        out.extend(_replaced(plain[at : at + length], correction.understood))
        corrections.append(correction)
        at += length
    return out, tuple(corrections)


def _spelled_alike(words: Sequence[Word]) -> list[Word]:
    same = ear().same
    out: list[Word] = []
    at = 0
    while at < len(words):
        for heard, term in same.get(words[at].text, ()):
            if tuple(word.text for word in words[at : at + len(heard)]) == heard:
                out.extend(_replaced(words[at : at + len(heard)], term))
                at += len(heard)
                break
        else:
            out.append(words[at])
            at += 1
    return out


def _replaced(group: Sequence[Word], term: str) -> list[Word]:
    start, end = group[0].start_s, group[-1].end_s
    said = term.split()
    share = (end - start) / len(said)
    return [
        Word(word, start + share * n, start + share * (n + 1), group[0].cue)
        for n, word in enumerate(said)
    ]


def _listed(texts: Sequence[str], at: int) -> tuple[int, Correction] | None:
    for entry in ear().listed.get(texts[at], ()):
        length = len(entry.heard)
        if tuple(texts[at : at + length]) != entry.heard or " ".join(entry.heard) == entry.term:
            continue
        because = _allowed(entry, texts, at, at + length)
        if because:
            return length, Correction(
                heard=" ".join(entry.heard), understood=entry.term, because=because
            )
    return None


def _allowed(entry: Mishearing, texts: Sequence[str], at: int, end: int) -> str:
    """Return why the words around allow this correction; empty where they do not."""
    before = texts[at - 1] if at else ""
    after = texts[end] if end < len(texts) else ""
    if entry.both:
        if before in entry.after and after in entry.before:
            return f"sounds like it, and stands between “{before}” and “{after}”"
    elif before in entry.after:
        return f"sounds like it, and follows “{before}”"
    elif after in entry.before:
        return f"sounds like it, and stands before “{after}”"
    if (entry.after or entry.before) and not entry.near:
        return ""
    near = _trade_near(texts, at, end)
    return f"sounds like it, and “{near}” is near" if near else ""


def _trade_near(texts: Sequence[str], at: int, end: int) -> str:
    trade = ear().trade
    around = [*texts[max(0, at - NEAR) : at][::-1], *texts[end : end + NEAR]]
    return next((word for word in around if word in trade), "")


def _by_sound(texts: Sequence[str], at: int) -> tuple[int, Correction] | None:
    heard = texts[at]
    if len(heard) < 5 or not heard.isascii() or not heard.isalpha():
        return None
    plain = {heard, heard.removesuffix("s"), heard.removesuffix("ing"), heard.removesuffix("ed")}
    if plain & ordinary_words() or heard in lexicon_words():
        return None
    candidates = ear().by_sound.get(sound_key(heard), ())
    best = min(candidates, key=lambda term: edit_distance(heard, term), default=None)
    if best is None or best == heard or best.rstrip("s") == heard.rstrip("s"):
        return None
    if edit_distance(heard, best) > 1 + len(best) // 5:
        return None
    near = _trade_near(texts, at, at + 1)
    if not near:
        return None
    because = f"no plain word, sounds and looks like it, and “{near}” is near"
    return 1, Correction(heard=heard, understood=best, because=because)
