"""From cues to words with times, and from words to sentences.

Speech-to-text cuts its cues where the breath or the line length falls, not where a
sentence ends; so all cues are laid end to end and cut again at full stops, long
silences and, where a talk carries no punctuation at all, at cue ends and at the
words people begin a new remark with.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from saltglaze.model.talk import Cue
from saltglaze.narration.tables import word_set

CHARS_PER_S = 14.0
"""Pace of speech where a cue gives no end; common practice for captions, no source."""

_SILENCE_S = 4.0
"""A silence that ends a sentence even in mid clause."""

_SHORT_SILENCE_S = 1.2
"""A silence that ends a sentence where the talk carries no punctuation."""

_LONGEST_WORD = 60
_LONGEST_SENTENCE = 80

_PIECE = re.compile(
    r"clean-outs?"
    r"|\d+(?:,\d{3})+(?:\.\d+)?"  # 3,000
    r"|\d+\s?/\s?\d+"  # 1/4
    r"|\d+\.\d+|\.\d+|\d+:\d{2}(?!\d)|\d+"  # 42.5, .3, 3:30, 42
    r"|[½¼¾⅓⅔⅛⅜⅝⅞]"
    r"|o['’]\s?clock"
    r"|[^\W\d_]{2,}in['’](?![^\W\d_])"  # layin'
    r"|no['’](?=\s+[^\W\d_])"  # "it's no' level"
    r"|[^\W\d_]+(?:['’][^\W\d_]+)*"  # words, with the apostrophes inside them
    r"|[%°\"″”'′’]"
    r"|\.{2,}|…|--+|[.?!,;:—–]",
    re.IGNORECASE,
)
_KEEPS_S = word_set("words", "keeps_s")
_STOPS = frozenset(".?!")
_OPENERS = word_set("words", "openers")


@dataclass(frozen=True, slots=True)
class Word:
    """One word or mark, lower case, with its time and its place in the cue's text."""

    text: str
    start_s: float
    end_s: float
    cue: int
    mark: bool = False
    at: int = 0
    to: int = 0
    capital: bool = False
    """Begins with a capital, and is no acronym."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """Words that were said as one, and the text as the transcript has it."""

    words: tuple[Word, ...]
    text: str

    @property
    def start_s(self) -> float:
        """Time of the first word."""
        return self.words[0].start_s

    @property
    def end_s(self) -> float:
        """Time of the last word's end."""
        return max(word.end_s for word in self.words)


def as_words(piece: str) -> tuple[str, ...]:
    """Return a piece of text as the lexicon spells it: "joint's" in two, "layin'" as laying.

    "it's", "that's" and the like stay whole; "t'left" is "the left", "no' level" "not level".
    """
    plain = piece.lower().replace("’", "'")
    if plain == "no'":
        return ("not",)
    if plain.startswith("clean-out"):
        return (plain.replace("-", ""),)
    if plain.endswith("in'") and len(plain) > 4:
        return (plain[:-1] + "g",)
    head, apostrophe, tail = plain.partition("'")
    return _around_apostrophe(head, tail) if apostrophe else (plain,)


def _around_apostrophe(head: str, tail: str) -> tuple[str, ...]:
    if tail == "n" and len(head) > 3:
        return (head, "than")  # "flatter'n", "farther'n"
    if head == "t":
        return ("the", *as_words(tail))
    if head and tail == "s" and head not in _KEEPS_S:
        return (head, "'s")
    return (f"{head}'{tail}",)


def words_of(cues: Sequence[Cue]) -> list[Word]:
    """Return the words of time-ordered cues, each with its share of the cue's time."""
    words: list[Word] = []
    for number, cue in enumerate(cues):
        following = cues[number + 1].start_s if number + 1 < len(cues) else None
        words.extend(_timed(cue, number, _end(cue, following)))
    return words


def _end(cue: Cue, following: float | None) -> float:
    spoken = cue.start_s + max(0.4, len(cue.text) / CHARS_PER_S)
    if cue.end_s is not None:
        return max(cue.end_s, cue.start_s)
    return spoken if following is None else max(cue.start_s, min(spoken, following))


def _timed(cue: Cue, number: int, end_s: float) -> Iterable[Word]:
    text = composed(cue.text)
    per_char = (end_s - cue.start_s) / max(1, len(text))
    for piece in _PIECE.finditer(text):
        said = piece.group(0)[:_LONGEST_WORD]
        mark = said[0] in ".?!,;:—–…-" and not said[-1].isdigit()
        for part in as_words(said):
            yield Word(
                text=part,
                start_s=cue.start_s + per_char * piece.start(),
                end_s=cue.start_s + per_char * piece.end(),
                cue=number,
                mark=mark,
                at=piece.start(),
                to=piece.end(),
                capital=said[0].isupper() and not said[1:2].isupper(),
            )


def composed(text: str) -> str:
    """Return text in composed Unicode form, so that an accent is one letter."""
    return unicodedata.normalize("NFC", text)


def sentences_of(cues: Sequence[Cue]) -> list[Sentence]:
    """Cut time-ordered cues into sentences."""
    words = words_of(cues)
    groups = _cut(words)
    texts = [composed(cue.text) for cue in cues]
    return [Sentence(tuple(group), _text(group, texts)) for group in groups]


def _text(group: Sequence[Word], texts: Sequence[str]) -> str:
    """The stretch of each cue that a sentence covers, as written."""
    spans: dict[int, tuple[int, int]] = {}
    for word in group:
        low, high = spans.get(word.cue, (word.at, word.to))
        spans[word.cue] = (min(low, word.at), max(high, word.to))
    return " ".join(texts[cue][low:high] for cue, (low, high) in spans.items())


def without_fillers(words: Sequence[Word]) -> list[Word]:
    """Drop "oh", "um", "you know" that stand between two commas, with the commas."""
    out: list[Word] = []
    at = 0
    while at < len(words):
        length = _filler_at(words, at)
        if length and out:
            at += length
            continue
        out.append(words[at])
        at += 1
    return out


def rejoined(words: Sequence[Word]) -> list[Word]:
    """Read "first joint, it's dropped" as "first joint's dropped": a subject told twice."""
    out: list[Word] = []
    for at, word in enumerate(words):
        told = bool(out) and out[-1].text in _TOPICS
        following = words[at + 1].text if at + 1 < len(words) else ""
        if told and word.text == "," and following in _IT_IS:
            continue
        again = told and word.text in _IT_IS and words[at - 1].text == ","
        out.append(replace(word, text="'s") if again else word)
    return out


_TOPICS = word_set("words", "topics")
_IT_IS = frozenset({"it's", "that's", "she's", "he's"})


def _filler_at(words: Sequence[Word], at: int) -> int:
    if words[at].text != ",":
        return 0
    for length in (1, 2):
        said = tuple(word.text for word in words[at + 1 : at + 1 + length])
        closed = words[at + 1 + length : at + 2 + length]
        if said in _BETWEEN_COMMAS and closed and closed[0].text == ",":
            return length + 2
    return 0


_BETWEEN_COMMAS = {
    (word,) for word in ("oh", "um", "uh", "er", "eh", "mm", "hmm", "erm", "like", "what", "say")
} | {("you", "know"), ("i", "mean"), ("let's", "see"), ("i", "dunno")}


def _cut(words: Sequence[Word]) -> list[list[Word]]:
    bare = not _punctuated(words)
    sentences: list[list[Word]] = []
    current: list[Word] = []
    for word in words:
        if current and _begins_anew(current, word, bare):
            _close(sentences, current)
            current = []
        current.append(word)
        if word.mark and word.text in _STOPS:
            _close(sentences, current)
            current = []
    _close(sentences, current)
    return sentences


def _close(sentences: list[list[Word]], current: list[Word]) -> None:
    if any(not word.mark for word in current):
        sentences.append(current)


def _punctuated(words: Sequence[Word]) -> bool:
    stops = sum(1 for word in words if word.mark and word.text in _STOPS)
    return stops * 40 >= len(words)


def _begins_anew(current: Sequence[Word], word: Word, bare: bool) -> bool:
    gap = word.start_s - current[-1].end_s
    if gap > _SILENCE_S or len(current) >= _LONGEST_SENTENCE:
        return True
    if not bare or word.cue == current[-1].cue:
        return False
    return gap > _SHORT_SILENCE_S or word.text in _OPENERS
