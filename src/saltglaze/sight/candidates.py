"""Places that look unlike the clean wall around them, offered to a reviewer unclassed."""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from saltglaze.model.track import Candidate, RollSample
from saltglaze.sight.mosaic import BIN_D, Mosaic
from saltglaze.sight.strips import ANGLES

Array = NDArray[np.float64]

LEAST: Final = 4.0
"""A cell stands out by this many robust spreads of the map."""

LEAST_CELLS: Final = 10
"""A smaller patch is noise."""

MOST: Final = 40
"""At most this many are offered for a film, strongest first."""

SEEN_AHEAD_D: Final = 0.9
"""A patch is best seen this many diameters ahead of the lens."""

LEAST_SEEN: Final = 3
"""A cell of the map that fewer strips have seen tells nothing."""

LEAST_SPREAD: Final = 2.0
GOING_ON_D: Final = 3.0
"""What looks the same at one angle for longer than about half of this is no place."""

BLOCK: Final = 5
"""Rows of the map that the running median takes together."""

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
    """Return how odd each cell is, in robust spreads; joint rings are left out.

    A cell is compared with its ring (light and shade), with the wall before and behind it
    at the same angle (a stain or water's edge that goes on and on), and with how much the
    wall varies at that angle (ripples and gravel along the invert).
    """
    known = mosaic.seen >= LEAST_SEEN
    cells = np.where(known, mosaic.cells, 0.0)
    plain = cells - np.median(cells, axis=1, keepdims=True)
    plain -= _going_on(plain)
    plain[~known] = 0.0
    odd = plain / _spread(plain, known)[None, :]
    rows_d = mosaic.start_d + (np.arange(len(odd)) + 0.5) * BIN_D
    for ring_d in rings_d:
        odd[np.abs(rows_d - ring_d) <= RING_D] = 0.0
    return np.asarray(odd)


def _going_on(plain: Array) -> Array:
    """Return what goes on along the wall at each angle: a running median over GOING_ON_D."""
    pads = -len(plain) % BLOCK
    padded = np.pad(plain, ((0, pads), (0, 0)), mode="edge")
    blocks = np.median(padded.reshape(-1, BLOCK, plain.shape[1]), axis=1)
    wide = max(round(GOING_ON_D / (BIN_D * BLOCK)), 1)
    slow = ndimage.median_filter(blocks, size=(wide, 1), mode="nearest")
    return np.asarray(np.repeat(slow, BLOCK, axis=0)[: len(plain)])


def _spread(plain: Array, known: NDArray[np.bool_]) -> Array:
    """Return the robust spread at each angle, nowhere less than that of the whole map."""
    if not known.any():
        return np.full(plain.shape[1], LEAST_SPREAD)
    size = np.where(known, np.abs(plain), np.nan)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # an angle that was never seen
        each = np.nan_to_num(np.nanmedian(size, axis=0))
    # Neighbours speak for each other: a defect must not raise its own measure.
    each = ndimage.median_filter(each, size=9, mode="wrap")
    return np.asarray(np.maximum(1.4826 * np.maximum(each, np.nanmedian(size)), LEAST_SPREAD))


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
