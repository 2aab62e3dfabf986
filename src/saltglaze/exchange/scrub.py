"""Take known texts out of sentences, and days out of dates."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Final

from saltglaze.exchange.known_names import WORDS, Known, is_ordinary

SHORT_NUMBER: Final = 4
"""Digits of a number that could be any number; a telephone number has more."""

Scrub = Callable[[str], str]

MONTHS: Final = (
    "January|February|March|April|May|June|July|August|September|October|November|December"
)
_DAYS: Final = (
    (re.compile(rf"\b({MONTHS}) \d{{1,2}},? (\d{{4}})\b"), r"\1 \2"),
    (re.compile(rf"\b\d{{1,2}} ({MONTHS}) (\d{{4}})\b"), r"\1 \2"),
    (re.compile(r"\b(\d{4}-\d{2})-\d{2}\b"), r"\1"),
)
_QUOTED: Final = re.compile(r"“([^”]*)”|\"([^\"]*)\"|(?<!\w)'([^']*)'(?!\w)")


def scrubber(known: Iterable[Known], renamed: Mapping[str, str]) -> Scrub:
    """Return a function that takes every known text out of a sentence.

    ``renamed`` gives ids and what they are called now. A quotation of what was said is
    taken out even where it is a fragment; of a date the month and year stay.
    """
    listed = [k._replace(text=k.text.strip()) for k in known if k.text.strip()]
    said = "\n".join(_folded(k.text) for k in listed if k.instead == WORDS)
    telling = {k.text: k.instead for k in reversed(listed) if _tells(k.text)}
    telling |= {old: new for old, new in renamed.items() if _tells(old) or _marks(old)}
    spelled = {k.text: k.instead for k in reversed(listed) if k.always and _spells(k.text)}
    without_names = _replacer(telling, re.IGNORECASE)
    without_plain_names = _replacer(spelled, 0)

    def unquoted(match: re.Match[str]) -> str:
        inner = next(group for group in match.groups() if group is not None)
        quotes_talk = _folded(inner) in said and not _is_one_word(inner)
        return f"({WORDS})" if quotes_talk else match[0]

    def scrub(sentence: str) -> str:
        text = without_plain_names(without_names(sentence))
        text = _QUOTED.sub(unquoted, text)
        for pattern, month in _DAYS:
            text = pattern.sub(month, text)
        return text

    return scrub


def _is_one_word(text: str) -> bool:
    """Say whether a quotation is one ordinary word, such as a grade word."""
    return len(text.split()) < 2 and is_ordinary(text)


def _tells(text: str) -> bool:
    """Whether a text may be taken out wherever it stands: no ordinary word or bare number."""
    letters = sum(character.isalpha() for character in text)
    if letters == len(text) < 3 and text.isascii():
        return False
    return letters > 0 and not is_ordinary(text)


def _spells(text: str) -> bool:
    """Whether a name of ordinary words or digits is taken out where it is spelled just so.

    A short number is left, or the numbers of a sentence would go with it.
    """
    return not _tells(text) and (any(c.isalpha() for c in text) or len(text) > SHORT_NUMBER)


def _marks(text: str) -> bool:
    """Whether an id looks like no word that a sentence would hold by itself."""
    return len(text) > 3 and any(c.isalpha() for c in text) and bool(re.search(r"[\d_-]", text))


def _folded(text: str) -> str:
    return " ".join(text.split()).casefold()


def _replacer(instead: Mapping[str, str], flags: int) -> Scrub:
    """Replace texts, longest first, at the bounds of words; how white space runs is free."""
    if not instead:
        return lambda text: text
    longest_first = sorted(instead, key=len, reverse=True)
    pattern = re.compile("|".join(map(_bounded, longest_first)), flags)
    folded = {_folded(text): role for text, role in instead.items()}
    return lambda text: pattern.sub(lambda m: folded.get(_folded(m[0]), WORDS), text)


def _bounded(text: str) -> str:
    spaced = r"\s+".join(map(re.escape, text.split()))
    # Writing without spaces between words has no bounds to look for.
    before = r"(?<![^\W_])" if text[0].isascii() and text[0].isalnum() else ""
    after = r"(?![^\W_])" if text[-1].isascii() and text[-1].isalnum() else ""
    return f"{before}{spaced}{after}"
