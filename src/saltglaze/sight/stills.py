"""Stills: the sharpest good frame near a moment, upright by the roll, counter readable."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.base import Estimate
from saltglaze.model.track import CounterBox, SightTrack, ViewState

REACH_S: Final = 2.0
"""A still is taken at most this far from the moment asked for: common practice, no source."""

ROLL_REACH_S: Final = 1.0
"""A roll reading this far off in time still tells which way is up."""

LEVEL_DEG: Final = 4.0
"""A picture this close to upright is left as it is."""


def best_moment(track: SightTrack, at_s: float, until_s: float | None = None) -> float:
    """Return the time of the sharpest clear frame within reach of a moment or stretch.

    Falls back to the sharpest frame of any view, then to ``at_s`` itself.
    """
    start, end = at_s - REACH_S, max(at_s, until_s or at_s) + REACH_S
    near = [(t, sharp) for t, sharp in track.sharpness if start <= t <= end]
    clear = [(t, sharp) for t, sharp in near if _clear(track, t)]
    pool = clear or near
    return max(pool, key=lambda frame: frame[1])[0] if pool else at_s


def _clear(track: SightTrack, time_s: float) -> bool:
    states = [v.state for v in track.view if v.start_s <= time_s <= v.end_s]
    return all(state is ViewState.CLEAR for state in states)


def roll_at(track: SightTrack, time_s: float) -> Estimate | None:
    """Return the roll nearest in time, degrees; None where none is near or known."""
    near = [
        sample
        for sample in track.roll
        if sample.roll_deg.known and abs(sample.time_s - time_s) <= ROLL_REACH_S
    ]
    if not near:
        return None
    return min(near, key=lambda sample: abs(sample.time_s - time_s)).roll_deg


def upright(
    picture: NDArray[np.uint8], roll_deg: Estimate | None, counter: CounterBox | None
) -> NDArray[np.uint8]:
    """Return the picture turned so that the pipe's soffit is at the top.

    ``picture`` is (height, width, 3) uint8. The counter's box is laid back unturned, so
    that it stays readable. An unknown or small roll leaves the picture as it is.
    """
    if roll_deg is None or roll_deg.value is None or abs(roll_deg.value) < LEVEL_DEG:
        return picture
    import cv2

    height, width = picture.shape[:2]
    centre = (width / 2.0, height / 2.0)
    # A soffit at the right of the screen (roll +90) comes up by a turn against the clock.
    turn = cv2.getRotationMatrix2D(centre, roll_deg.value, 1.0)
    turned: NDArray[np.uint8] = cv2.warpAffine(
        picture, turn, (width, height), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT
    ).astype(np.uint8)
    if counter is not None:
        rows = slice(max(counter.top_px, 0), counter.top_px + counter.height_px)
        columns = slice(max(counter.left_px, 0), counter.left_px + counter.width_px)
        turned[rows, columns] = picture[rows, columns]
    return turned
