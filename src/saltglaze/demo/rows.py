"""The rows of the polar strip: equal steps in reciprocal distance, as a screen sees them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float32]

FURTHEST_M = 5.0
"""Beyond this nothing is lit."""


@dataclass(frozen=True)
class Rows:
    """Distance ahead of each row (far rows first), and how far one reaches along the pipe."""

    ahead_m: Array
    footprint_m: Array
    inverse_step: float

    @classmethod
    def covering(cls, inverse_z_max: float, count: int) -> Rows:
        """Return ``count`` rows from the vanishing point to ``inverse_z_max``."""
        step = inverse_z_max / (count - 1)
        inverse = np.maximum(np.arange(count, dtype=np.float32) * step, 1.0 / FURTHEST_M)
        ahead = (1.0 / inverse).astype(np.float32)
        return cls(ahead, (ahead * ahead * step).astype(np.float32), step)
