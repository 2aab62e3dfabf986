"""The round middle of a picture, small: what the view reader looks at.

A disc can be turned without corners coming in, so that one trained reader serves every
roll, and most burned-in text lies outside it.
"""

from __future__ import annotations

from functools import cache
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

SIDE_PX: Final = 96
"""Side of the square that holds the disc."""

MOST_PX: Final = 256
"""No eye for the pipe needs a larger square."""


def square(luma: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the middle square of a (height, width) picture, at most MOST_PX on a side."""
    height, width = luma.shape
    side = min(height, width)
    top, left = (height - side) // 2, (width - side) // 2
    middle = luma[top : top + side, left : left + side]
    if side <= MOST_PX:
        return middle
    size, how = (MOST_PX, MOST_PX), cv2.INTER_AREA
    if side >= 2 * MOST_PX:
        # Halving is an exact mean and quick; what is left is too little to need one.
        middle = cv2.resize(middle, (side // 2, side // 2), interpolation=cv2.INTER_AREA)
        how = cv2.INTER_LINEAR if side < 3 * MOST_PX else cv2.INTER_AREA
    return np.asarray(cv2.resize(middle, size, interpolation=how), dtype=np.uint8)


def disc(luma: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the disc of a picture, (SIDE_PX, SIDE_PX) uint8, zero outside the circle.

    ``luma`` is (height, width) uint8; the disc is as high as the picture, about its centre.
    """
    small = cv2.resize(square(luma), (SIDE_PX, SIDE_PX), interpolation=cv2.INTER_AREA)
    return np.asarray(small * inside(), dtype=np.uint8)


def grey_of(small: NDArray[np.uint8]) -> tuple[float, float]:
    """Return the mean and standard deviation of the grey inside a disc."""
    levels = small[inside() > 0]
    return float(levels.mean()), float(levels.std())


@cache
def inside() -> NDArray[np.uint8]:
    """Return 1 inside the disc and 0 outside, (SIDE_PX, SIDE_PX) uint8."""
    at = np.arange(SIDE_PX) - (SIDE_PX - 1) / 2.0
    return np.asarray(at[:, None] ** 2 + at[None, :] ** 2 <= (SIDE_PX / 2.0) ** 2, dtype=np.uint8)
