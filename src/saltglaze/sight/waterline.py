"""Where the water's edge lies in one look: what the small waterline net says of a pair of discs.

The wall of both discs is unrolled about where the view net says the invert lies. An edge
along the pipe is then a column, however far ahead: water's, a settled bed's and a tide
mark's differ in what lies below them and in how it moves. The net (``water.onnx``, trained
by ``training/water`` on rendered films) answers with a chance for each depth, so that two
edges in sight stay two, until time decides (``water``).
"""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import log_softmax

from saltglaze.sight.disc import SIDE_PX
from saltglaze.sight.weights import WATER, session

Array = NDArray[np.float64]

DEPTHS: Final = np.arange(33) * 0.02
"""Depths, as shares of the diameter, that the answer gives chances for."""

ROWS: Final = 32
COLUMNS: Final = 160
"""The unrolled wall: rows from the rim inward, columns clockwise, the invert in the middle."""

NEAR_PX: Final = 47.0
FAR_PX: Final = 8.0
"""Radii in the disc that the first and the last row look at."""


def waterline(pairs: NDArray[np.uint8], roll_rad: Array) -> Array:
    """Return the logarithm of the chance of each depth, (n, len(DEPTHS)).

    ``pairs`` is (n, 2, side, side) uint8 discs; ``roll_rad`` (n,) where the soffit lies,
    clockwise from the top of the screen.
    """
    walls = unrolled(pairs, roll_rad).astype(np.float32) / np.float32(255.0)
    told = np.asarray(session(WATER).run(["depths"], {"walls": walls})[0], dtype=float)
    return np.asarray(log_softmax(told, axis=1))


def unrolled(pairs: NDArray[np.uint8], roll_rad: Array) -> NDArray[np.uint8]:
    """Return the walls of pairs of discs, (n, 2, ROWS, COLUMNS) uint8."""
    radius = np.geomspace(NEAR_PX, FAR_PX, ROWS)[:, None]
    step = 2.0 * np.pi / COLUMNS
    about_invert = (np.arange(COLUMNS) - (COLUMNS - 1) / 2.0) * step + np.pi
    middle = (SIDE_PX - 1) / 2.0
    walls = np.empty((len(pairs), 2, ROWS, COLUMNS), np.uint8)
    for k, roll in enumerate(roll_rad):
        angle = about_invert + roll
        across = (middle + radius * np.sin(angle)).astype(np.float32)
        down = (middle - radius * np.cos(angle)).astype(np.float32)
        for which in range(2):
            cv2.remap(pairs[k, which], across, down, cv2.INTER_LINEAR, dst=walls[k, which])
    return walls
