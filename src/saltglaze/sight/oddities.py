"""Where each picture's wall looks unlike clean wall: the small odd net's answer.

The net (``odd.onnx``, trained by ``training/odd``) was shown rendered walls with defects and
taught where they differ from the same walls without: it knows no class. It is evidence, not
truth: ``candidates`` decides over the way gone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from saltglaze.sight.weights import ODD, session

PIECE = 16
"""Strips that the net looks at together."""

EVERY = 2
"""The net answers for every second row and angle of a strip."""


def odd_heat(strips: NDArray[np.int8]) -> NDArray[np.int8]:
    """Return how probably each cell is odd, in per cent, (n, RINGS, ANGLES), of strips."""
    parts = [_told(strips[k : k + PIECE]) for k in range(0, len(strips), PIECE)]
    coarse = np.concatenate(parts) if parts else np.zeros((0, 1, 1), np.int8)
    return np.repeat(np.repeat(coarse, EVERY, axis=1), EVERY, axis=2)


def _told(strips: NDArray[np.int8]) -> NDArray[np.int8]:
    logits = np.asarray(session(ODD).run(["odd"], {"strips": strips.astype(np.float32)})[0])
    return np.asarray(np.round(100.0 * expit(logits)), dtype=np.int8)
