"""The field of a small coil: a magnetic dipole in the near field, ground loss left out.

``B = k (3 (m.r) r - m r^2) / r^5`` with ``k = mu0 / 4 pi`` (textbook magnetostatics);
signals are relative, so ``k`` times the moment is one unknown factor. Loss in soil is
small at lateral depths: the skin depth at 0.05 S/m is 99 m at 512 Hz and 12 m at 33 kHz
(computed).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def dipole_field(away_m: Array, moment: Array) -> Array:
    """Return the field of a dipole, shape (..., 3).

    Parameters
    ----------
    away_m
        Places of the readings minus the place of the dipole, (..., 3), metres.
    moment
        Moment direction and size, (3,) or as ``away_m``, relative units.
    """
    square = np.sum(away_m**2, axis=-1, keepdims=True)
    along = np.sum(away_m * moment, axis=-1, keepdims=True)
    field: Array = (3.0 * along * away_m - moment * square) / square**2.5
    return field


def moment_of(pitch_deg: float, azimuth_deg: float = 90.0) -> Array:
    """Return the unit moment (east, north, up) of a transmitter lying in the pipe.

    ``pitch_deg`` is positive nose down; ``azimuth_deg`` is the bearing of the nose.
    """
    pitch, azimuth = math.radians(pitch_deg), math.radians(azimuth_deg)
    level = math.cos(pitch)
    return np.array(
        [level * math.sin(azimuth), level * math.cos(azimuth), -math.sin(pitch)], dtype=np.float64
    )


def along_line(x_m: Array, depth_m: float, pitch_deg: float) -> Array:
    """Return the field (along, across, up) on the ground along the pipe, shape (n, 3).

    ``x_m`` runs ahead (nose side) from the point above the transmitter.
    """
    away = np.column_stack([x_m, np.zeros_like(x_m), np.full_like(x_m, depth_m)])
    return dipole_field(away, moment_of(pitch_deg))
