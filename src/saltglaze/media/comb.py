"""Tell an interlaced picture by its comb, where the file does not say that it is one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FIELD_HEIGHTS = (480, 486, 576)
"""Heights of standard-definition captures, which may hold two fields."""

COMBED = 1.1


def comb_ratio(luma: NDArray[np.uint8]) -> float:
    """Return how unlike neighbouring lines are against lines of one field.

    In any natural picture the next line is more alike than the one after it (below 1);
    two fields of a moving scene turn that round. Only the part that moves shows it, so
    the picture is judged in tiles and the most combed of them counts (the 95 % point).
    """
    lines = luma.astype(np.int16)
    next_line = np.abs(lines[1:-1] - lines[:-2])
    same_field = np.abs(lines[2:] - lines[:-2])
    rows, columns = next_line.shape[0] // 32, next_line.shape[1] // 32
    if rows < 2 or columns < 2:
        return 0.0

    def tiles(values: NDArray[np.int16]) -> NDArray[np.float64]:
        cut = values[: rows * 32, : columns * 32]
        return np.asarray(cut.reshape(rows, 32, columns, 32).mean(axis=(1, 3)))

    # Two grey levels of play keep flat tiles, which are all noise, from counting.
    return float(np.percentile((tiles(next_line) + 2.0) / (tiles(same_field) + 2.0), 95))
