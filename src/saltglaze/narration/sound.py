"""How alike two words sound and how alike they are spelled."""

from __future__ import annotations

import re
from functools import lru_cache

_SPELLINGS = (
    (re.compile(r"[^a-z]"), ""),
    (re.compile(r"^(kn|gn)"), "n"),
    (re.compile(r"^wr"), "r"),
    (re.compile(r"^wh"), "w"),
    (re.compile(r"^x"), "s"),
    (re.compile(r"mb$"), "m"),
    (re.compile(r"ough|augh|igh"), "a"),
    (re.compile(r"ph"), "f"),
    (re.compile(r"tch|[cs]h"), "j"),
    (re.compile(r"th"), "t"),
    (re.compile(r"ti(?=o|a)|ssi(?=o)"), "j"),
    (re.compile(r"[cs](?=[eiy])"), "s"),
    (re.compile(r"qu?"), "k"),
    (re.compile(r"x"), "ks"),
    (re.compile(r"ck"), "k"),
    (re.compile(r"c"), "k"),
    (re.compile(r"g(?=[eiy])"), "j"),
    (re.compile(r"dg"), "j"),
    (re.compile(r"z"), "s"),
)
_CLASSES = str.maketrans({"b": "p", "d": "t", "v": "f", "g": "k", "m": "n"})
_VOWELS = re.compile(r"[aeiouyhw]")
_DOUBLES = re.compile(r"(.)\1+")


@lru_cache(maxsize=20_000)
def sound_key(word: str) -> str:
    """Return a key that words of like sound share: consonant classes, vowels dropped.

    Voiced and unvoiced consonants fall together, as do m and n; a leading vowel is
    kept as ``a``. Our own rules, made for short trade words.
    """
    text = word.lower()
    for pattern, instead in _SPELLINGS:
        text = pattern.sub(instead, text)
    if not text:
        return ""
    head = "a" if text[0] in "aeiouy" else ""
    body = _VOWELS.sub("", text.translate(_CLASSES))
    return head + _DOUBLES.sub(r"\1", body)


def edit_distance(a: str, b: str, limit: int = 4) -> int:
    """Return the number of letters to insert, drop, change or swap, at most ``limit + 1``."""
    if abs(len(a) - len(b)) > limit:
        return limit + 1
    before: list[int] = []
    row = list(range(len(b) + 1))
    for i, letter in enumerate(a, start=1):
        following = [i]
        for j, other in enumerate(b, start=1):
            cost = min(row[j] + 1, following[j - 1] + 1, row[j - 1] + (letter != other))
            if i > 1 and j > 1 and letter == b[j - 2] and a[i - 2] == other:
                cost = min(cost, before[j - 2] + 1)
            following.append(cost)
        if min(following) > limit:
            return limit + 1
        before, row = row, following
    return min(row[-1], limit + 1)
