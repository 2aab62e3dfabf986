"""Stills: the sharpest good frame near a moment, upright by the roll in a round window."""

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

PAPER: Final = 255
"""White: what lies round the window of a turned picture."""

BESIDE: Final = 0.8
ABOVE: Final = 0.15
"""Room left about the counter's box where it is laid back, shares of its height."""


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

    ``picture`` is (height, width, 3) uint8. A turned one comes back square, as the round
    window about its middle that every turn fills: what the lens saw in all directions
    alike, and no corner that no picture reaches. Round it the paper is white. The
    counter's box is laid unturned into the corner it came from, so that it stays
    readable. An unknown or small roll leaves the picture as it is.
    """
    if roll_deg is None or roll_deg.value is None or abs(roll_deg.value) < LEVEL_DEG:
        return picture
    import cv2

    height, width = picture.shape[:2]
    side = min(height, width)
    # A soffit at the right of the screen (roll +90) comes up by a turn against the clock.
    turn = cv2.getRotationMatrix2D((width / 2.0, height / 2.0), roll_deg.value, 1.0)
    turn[:, 2] -= ((width - side) / 2.0, (height - side) / 2.0)
    turned: NDArray[np.uint8] = cv2.warpAffine(
        picture, turn, (side, side), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    ).astype(np.uint8)
    turned[~_window(side)] = PAPER
    if counter is not None:
        _lay_back(turned, picture, counter)
    return turned


def _window(side: int) -> NDArray[np.bool_]:
    """Return where the round window of a square picture lies."""
    across = np.arange(side) - (side - 1) / 2.0
    inside: NDArray[np.bool_] = np.hypot(across[:, None], across[None, :]) <= side / 2.0
    return inside


def _lay_back(square: NDArray[np.uint8], picture: NDArray[np.uint8], box: CounterBox) -> None:
    """Copy the counter and its unit, unturned, into the corner of the square it came from."""
    height, width = picture.shape[:2]
    digits = _around(picture, box)[: square.shape[0], : square.shape[1]]
    rows, columns = digits.shape[:2]
    below = box.top_px + box.height_px / 2.0 > height / 2.0
    right = box.left_px + box.width_px / 2.0 > width / 2.0
    first_row = square.shape[0] - rows if below else 0
    first_column = square.shape[1] - columns if right else 0
    square[first_row : first_row + rows, first_column : first_column + columns] = digits


def _around(picture: NDArray[np.uint8], box: CounterBox) -> NDArray[np.uint8]:
    """Return the box with room for the outline of its digits and a letter of the unit."""
    beside, above = round(BESIDE * box.height_px), round(ABOVE * box.height_px)
    rows = slice(max(box.top_px - above, 0), box.top_px + box.height_px + above)
    columns = slice(max(box.left_px - beside, 0), box.left_px + box.width_px + beside)
    return picture[rows, columns]
