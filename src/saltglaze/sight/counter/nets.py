"""What the counter's two small nets answer.

``finder.onnx`` marks where lines of burned-in text run; ``reader.onnx`` reads a strip.
Both were trained by ``training/counter``; see its MODEL_CARD.md.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.sight.weights import FINDER, READER, session

CHARSET: Final = "0123456789.,-+ ftm'\":/#"
"""Class 0 is "nothing here"; class k is ``CHARSET[k - 1]``; '#' is any other glyph."""

STRIP_PX: Final = 32
"""Height of a strip."""

DIGIT_SHARE: Final = 0.66
"""Share of a strip's height that a digit takes, the middle of what the reader was trained on."""

STEP_PX: Final = 4
"""Strip columns to one step of the reader's answer, and frame pixels to a finder cell."""


def read_strips(strips: NDArray[np.uint8]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return class probabilities (n, steps, classes) and features (n, steps, width).

    ``strips`` is (n, 32, w) uint8; w is a multiple of 4.
    """
    odds, features = session(READER).run(None, {"strip": strips[:, None].astype(np.float32)})
    raised = np.exp(odds - odds.max(axis=-1, keepdims=True))
    return raised / raised.sum(axis=-1, keepdims=True), features


def text_maps(picture: NDArray[np.uint8]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return the probability of text and the digit height in pixels, for 4x4 cells.

    ``picture`` is a luma picture with digits 9 to 44 pixels high; sides multiples of 4.
    """
    (maps,) = session(FINDER).run(None, {"frame": picture[None, None].astype(np.float32)})
    text = 1.0 / (1.0 + np.exp(-np.clip(maps[0, 0], -30, 30)))
    return text, np.exp2(np.clip(maps[0, 1], -2, 3)) * np.float32(16.0)
