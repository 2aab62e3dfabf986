"""Where in each picture a ring stands that goes all the way round: the small ring net's answer.

The net (``ring.onnx``, trained by ``training/ring`` on rendered films) looks at three
seconds of strips at a time, in which a ring is a streak that runs towards the rim as the
camera advances. It is evidence, not truth: ``joints`` decides over the way gone.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from saltglaze.sight.strips import closeness
from saltglaze.sight.weights import RING, session

Array = NDArray[np.float64]

EVERY: Final = 2
"""The net answers for every second row of a strip."""

PIECE: Final = 96
MARGIN: Final = 16
"""Samples looked at together, and those on either side that the middle ones lean on."""


def ring_heat(strips: NDArray[np.int8]) -> NDArray[np.float32]:
    """Return the probability of a ring at each row, (n, rows), of strips (n, RINGS, ANGLES)."""
    parts = []
    for first in range(0, len(strips), PIECE):
        low, high = max(first - MARGIN, 0), min(first + PIECE + MARGIN, len(strips))
        told = session(RING).run(["rings"], {"strips": strips[low:high].astype(np.float32)})[0]
        parts.append(np.asarray(told)[first - low :][:PIECE])
    logits = np.concatenate(parts)
    return np.asarray(expit(logits), dtype=np.float32)


def ahead_of_rows() -> Array:
    """Return how far ahead each of the net's rows looks, in distances of the rim."""
    return closeness()[::EVERY]
