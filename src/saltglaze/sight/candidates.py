"""Places that look unlike the clean wall around them, offered to a reviewer unclassed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from saltglaze.model.track import Candidate, RollSample
from saltglaze.sight.mosaic import BIN_D, Mosaic
from saltglaze.sight.strips import ANGLES

Array = NDArray[np.float64]

LEAST: Final = 5.0
"""A cell stands out by this many robust spreads of the map."""

LEAST_CELLS: Final = 10
"""A smaller patch is noise."""

MOST: Final = 40
"""At most this many are offered for a film, strongest first."""

SEEN_AHEAD_D: Final = 0.9
"""A patch is best seen this many diameters ahead of the lens."""


RING_D: Final = 0.12
"""What lies this near a joint ring, in diameters, belongs to the ring."""


def candidates(
    mosaic: Mosaic,
    rings_d: Sequence[float],
    times_s: Array,
    way_d: Array,
    turned_rad: Array,
    roll: tuple[RollSample, ...],
) -> tuple[Candidate, ...]:
    """Return the patches that stand out, in time order.

    ``rings_d`` are the places of joint rings along the way, which are told elsewhere;
    ``turned_rad`` is the roll the map was laid down by; a patch has a clock position in
    the pipe only where ``roll`` is known.
    """
    odd = _oddness(mosaic, rings_d)
    labels, count = ndimage.label(np.abs(odd) >= LEAST, structure=np.ones((3, 3)))
    found = list(_patches(odd, labels, count))
    strongest = sorted(found, key=lambda patch: -patch[3])[:MOST]
    offered = [_candidate(mosaic, patch, times_s, way_d, turned_rad, roll) for patch in strongest]
    return tuple(sorted(offered, key=lambda candidate: candidate.time_s))


def _oddness(mosaic: Mosaic, rings_d: Sequence[float]) -> Array:
    """Return each cell against its ring and the map's spread; joint rings are left out."""
    cells = np.where(mosaic.seen > 0, mosaic.cells, 0.0)
    plain = cells - np.median(cells, axis=1, keepdims=True)
    known = mosaic.seen > 0
    spread = 1.4826 * float(np.median(np.abs(plain[known]))) if known.any() else 0.0
    odd = plain / max(spread, 2.0)
    rows_d = mosaic.start_d + (np.arange(len(odd)) + 0.5) * BIN_D
    for ring_d in rings_d:
        odd[np.abs(rows_d - ring_d) <= RING_D] = 0.0
    return np.asarray(odd)


def _patches(
    odd: Array, labels: NDArray[np.signedinteger], count: int
) -> Iterator[tuple[float, float, str, float]]:
    """Yield (row, angle in degrees, look, strength) of each patch of some size."""
    for number, box in enumerate(ndimage.find_objects(labels, count), start=1):
        inside = labels[box] == number
        if inside.sum() < LEAST_CELLS:
            continue
        values = odd[box][inside]
        rows, columns = np.nonzero(inside)
        turn = (columns + box[1].start) * (2.0 * np.pi / ANGLES)
        angle = math.degrees(np.angle(np.exp(1j * turn).sum())) % 360.0
        yield float(rows.mean() + box[0].start), angle, _look(values, inside), _strength(values)


def _strength(values: Array) -> float:
    return float(np.abs(values).mean() * math.sqrt(len(values)) / LEAST)


def _look(values: Array, inside: NDArray[np.bool_]) -> str:
    if inside.shape[1] > ANGLES // 4 and inside.shape[0] < 8:
        return "ring_step"
    if inside.mean() > 0.55:
        return "dark_hole" if values.mean() < 0 else "bright_patch"
    return "fine_texture"


def _candidate(
    mosaic: Mosaic,
    patch: tuple[float, float, str, float],
    times_s: Array,
    way_d: Array,
    turned_rad: Array,
    roll: tuple[RollSample, ...],
) -> Candidate:
    row, angle_deg, look, strength = patch
    place_d = mosaic.start_d + row * BIN_D
    near = int(np.argmin(np.abs(way_d + SEEN_AHEAD_D - place_d)))
    return Candidate(
        time_s=float(times_s[near]),
        end_s=float(times_s[near]),
        look=look,
        screen_clock_deg=(angle_deg + math.degrees(turned_rad[near])) % 360.0,
        clock_deg=angle_deg if roll[near].roll_deg.known else None,
        strength=strength,
    )
