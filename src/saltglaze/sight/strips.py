"""The wall unrolled: each picture as a strip of angle against closeness."""

from __future__ import annotations

from functools import cache
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from saltglaze.sight.disc import MOST_PX, square

ANGLES: Final = 72
"""Columns: 5 degrees each, clockwise from the top of the screen."""

RINGS: Final = 80
"""Rows, from the rim of the picture (near) inward (far)."""

NEAR_PX: Final = 126.0
FAR_PX: Final = 24.0
"""Radii in the square that the first and the last row look at."""


def strip(luma: NDArray[np.uint8]) -> NDArray[np.int8]:
    """Return a picture's wall as (RINGS, ANGLES) int8, brightness against its surroundings.

    Rows are even in the reciprocal of the radius, which is even in distance ahead. Each
    column is freed of its slow change with distance, so that light and shade fall away.
    """
    wall = wall_of(luma)
    slow = cv2.blur(wall, (1, 13), borderType=cv2.BORDER_REFLECT)
    fine = (wall - slow) * (64.0 / np.maximum(slow, 12.0))
    return np.asarray(np.clip(fine * 4.0, -127, 127), dtype=np.int8)


def wall_of(luma: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return the brightness of a picture's wall as (RINGS, ANGLES)."""
    even = cv2.resize(square(luma), (MOST_PX, MOST_PX), interpolation=cv2.INTER_LINEAR)
    across, down = _maps()
    return np.asarray(cv2.remap(even, across, down, cv2.INTER_LINEAR), dtype=np.float32)


def closeness() -> NDArray[np.float64]:
    """Return the reciprocal radius of each row, in units of the rim's: 1 at the rim."""
    return np.linspace(1.0, NEAR_PX / FAR_PX, RINGS)


@cache
def _maps() -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    radius = (NEAR_PX / closeness())[:, None]
    angle = np.deg2rad(np.arange(ANGLES) * (360.0 / ANGLES))[None, :]
    middle = (MOST_PX - 1) / 2.0
    across = (middle + radius * np.sin(angle)).astype(np.float32)
    down = (middle - radius * np.cos(angle)).astype(np.float32)
    return across, down
