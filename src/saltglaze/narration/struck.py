"""Words a speaker takes back within a sentence: "at three, no, four o'clock"."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from saltglaze.narration.amounts import Amount
from saltglaze.narration.numbers import Measure
from saltglaze.narration.phrases import Hit

_BEHIND = 7
_AHEAD = 7


def struck_words(
    words: Sequence[str],
    amounts: Mapping[int, Amount],
    layers: Sequence[Sequence[Hit]],
    markers: Sequence[Hit],
) -> frozenset[int]:
    """Return the tokens that a self-correction replaces.

    Where an amount, a thing or a place stands on both sides of "no", "sorry", "I
    mean" and the like, the one before is struck.
    """
    struck: set[int] = set()
    for marker in markers:
        amount = _amount_before(amounts, marker)
        if amount is not None:
            struck.add(amount)
            continue
        turn = _turn_before(words, marker)
        if turn is not None:
            struck.add(turn)
            continue
        for hits in layers:
            before = [h for h in hits if marker.start - _BEHIND <= h.end - 1 < marker.start]
            after = [h for h in hits if marker.end <= h.start < marker.end + _AHEAD]
            if before and after:
                struck.update(before[-1].at)
                break
    return frozenset(struck)


def _turn_before(words: Sequence[str], marker: Hit) -> int | None:
    """Read "a bend, left, no, right": the side before is taken back."""
    before = [i for i in range(max(0, marker.start - 3), marker.start) if words[i] in _TURNS]
    after = [w for w in words[marker.end : marker.end + 3] if w in _TURNS]
    return before[-1] if before and after else None


_TURNS = ("left", "right", "up", "down")


def _amount_before(amounts: Mapping[int, Amount], marker: Hit) -> int | None:
    before = [i for i in amounts if marker.start - _BEHIND <= i < marker.start]
    after = [i for i in amounts if marker.end <= i < marker.end + _AHEAD]
    if not before or not after:
        return None
    old, new = amounts[before[-1]], amounts[after[0]]
    alike = old.measure is new.measure or Measure.NUMBER in (old.measure, new.measure)
    return before[-1] if alike else None
