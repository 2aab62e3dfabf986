"""A decoded picture on its way from the film to the eye."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.base import Record


class Frame(NamedTuple):
    """One decoded picture.

    ``luma`` is (height, width) uint8, already turned upright for rotated streams and
    with square pixels. ``time_s`` is the presentation time from the start of the film.
    """

    time_s: float
    luma: NDArray[np.uint8]
    number: int


class FilmFacts(Record):
    """What the container says about a film."""

    width_px: int
    height_px: int
    frames_per_s: float | None = None
    duration_s: float | None = None
    has_audio: bool = False
    interlaced: bool = False
    codec: str = ""
    broke_off_at_s: float | None = None
    """Where decoding failed; ``None`` for a film read to its end."""
    broke_off_because: str | None = None
