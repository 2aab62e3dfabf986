"""Which thing of a sentence an attribute is nearest to.

Words of kind and grade mostly stand before the thing they describe, places and sizes
after it; crossing a comma or an "and" costs more than a few words.
"""

from __future__ import annotations

from collections.abc import Sequence

from saltglaze.narration.reading import Reading
from saltglaze.narration.thing import Thing

_BOUNDARY_COST = 6.0
_WRONG_SIDE_COST = 2.5


def nearest(
    reading: Reading, things: Sequence[Thing], low: int, high: int, *, describes: bool
) -> Thing | None:
    """Return the nearest thing to tokens ``low`` .. ``high``; ``describes`` prefers the next."""

    def cost(thing: Thing) -> float:
        if thing.low < high and thing.high > low:
            return 0.0
        ahead = thing.low >= high
        apart = thing.low - high if ahead else low - thing.high
        edges = reading.boundaries
        crossed = abs(edges[thing.low] - edges[min(low, len(edges) - 1)])
        wrong = ahead != describes
        return apart + _BOUNDARY_COST * crossed + (_WRONG_SIDE_COST if wrong else 0.0)

    return min(things, key=cost, default=None)
