"""Places that look unlike the clean wall around them, offered to a reviewer unclassed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from saltglaze.model.track import Candidate, RollSample, WaterSample
from saltglaze.sight.mosaic import BIN_D, Mosaic
from saltglaze.sight.strips import ANGLES

Array = NDArray[np.float64]

LEAST: Final = 40.0
"""A cell of the map is odd from this mean probability on, in per cent: set, as the next, on
rendered films that the figures do not rest on."""

LEAST_CELLS: Final = 7
"""A smaller patch is noise."""

MOST: Final = 40
"""At most this many are offered for a film, strongest first."""

SEEN_AHEAD_D: Final = 0.9
"""A patch is best seen this many diameters ahead of the lens."""

LEAST_SEEN: Final = 3
"""A cell of the map that fewer strips have seen tells nothing."""

BROAD: Final = ANGLES // 4
SHORT: Final = 8
"""A patch wider round than the first and shorter along than the second is a step of a ring."""

FULL: Final = 0.55
"""A patch that fills less of the box around it is a texture, not a spot."""


class Patch(NamedTuple):
    """A patch of the map: its middle row and angle, its look and how strongly it stands out."""

    row: float
    angle_deg: float
    look: str
    strength: float


def candidates(
    mosaic: Mosaic,
    times_s: Array,
    way_d: Array,
    turned_rad: Array,
    roll: tuple[RollSample, ...],
    water: tuple[WaterSample, ...],
) -> tuple[Candidate, ...]:
    """Return the patches that stand out, in time order.

    ``turned_rad`` is the roll the map was laid down by; a patch has a clock position in
    the pipe only where ``roll`` is known. What lies on the water (foam, glints) is no wall.
    """
    offered = []
    for patch in _patches(mosaic):
        place_d = mosaic.start_d + patch.row * BIN_D
        seen_best = int(np.argmin(np.abs(way_d + SEEN_AHEAD_D - place_d)))
        if not _on_water(patch.angle_deg, water[seen_best]):
            turned_deg = math.degrees(turned_rad[seen_best])
            offered.append(
                _candidate(patch, float(times_s[seen_best]), turned_deg, roll[seen_best])
            )
    strongest = sorted(offered, key=lambda candidate: -candidate.strength)[:MOST]
    return tuple(sorted(strongest, key=lambda candidate: candidate.time_s))


def _on_water(angle_deg: float, water: WaterSample) -> bool:
    if water.depth_share.value is None:
        return False
    half_deg = math.degrees(math.acos(1.0 - 2.0 * min(water.depth_share.value, 1.0)))
    return abs(angle_deg - 180.0) < half_deg


def _patches(mosaic: Mosaic) -> Iterator[Patch]:
    """Yield each patch of odd cells of some size."""
    odd = np.where(mosaic.seen >= LEAST_SEEN, mosaic.odd, 0.0) >= LEAST
    labels = _labelled(odd)
    for number, box in enumerate(ndimage.find_objects(labels), start=1):
        if box is None:  # joined to another over the seam
            continue
        inside = labels[box] == number
        if inside.sum() < LEAST_CELLS:
            continue
        rows, columns = np.nonzero(inside)
        turn = (columns + box[1].start) * (2.0 * np.pi / ANGLES)
        yield Patch(
            row=float(rows.mean() + box[0].start),
            angle_deg=math.degrees(np.angle(np.exp(1j * turn).sum())) % 360.0,
            look=_look(mosaic.cells[box][inside], inside),
            strength=float(mosaic.odd[box][inside].mean() / LEAST * math.sqrt(inside.sum())),
        )


def _labelled(odd: NDArray[np.bool_]) -> NDArray[np.int_]:
    """Return the patches numbered from 1; one that lies across the seam has one number."""
    labels, _ = ndimage.label(odd, structure=np.ones((3, 3)))
    for left, right in zip(labels[:, 0], labels[:, -1], strict=True):
        if left and right and left != right:
            labels[labels == right] = left
    return np.asarray(labels)


def _look(values: Array, inside: NDArray[np.bool_]) -> str:
    long, wide = len(inside), int(inside.any(axis=0).sum())  # the box may span the seam
    if wide > BROAD and long < SHORT:
        return "ring_step"
    if inside.sum() > FULL * long * wide:
        return "dark_hole" if values.mean() < 0 else "bright_patch"
    return "fine_texture"


def _candidate(patch: Patch, time_s: float, turned_deg: float, roll: RollSample) -> Candidate:
    return Candidate(
        time_s=time_s,
        end_s=time_s,
        look=patch.look,
        screen_clock_deg=(patch.angle_deg + turned_deg) % 360.0,
        clock_deg=patch.angle_deg if roll.roll_deg.known else None,
        strength=patch.strength,
    )
