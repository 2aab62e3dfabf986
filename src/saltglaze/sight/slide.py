"""How far the wall slides past between two pictures, from the strips themselves.

A strip's rows are even in distance ahead, so a camera that advances by ``s`` shifts every
row by the same number of rows, whatever the lens: two strips are laid over each other at
every shift, and how alike they are (correlation, by the Fourier transform) is weighed
against what the view net says of the same pair. On a wall with any grain the correlation
tells the step to a tenth of a row; on a bare one the net decides, and where a ring is in
the picture, the ring: its streak is laid over itself the same way.

The natural unit is the distance of the rim: how far ahead of the lens the wall shows at
the picture's edge. How many diameters that is depends on the lens and is found by
comparing with the net, which was trained in diameters.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from saltglaze.sight.glance import Array, Glances
from saltglaze.sight.rings import EVERY
from saltglaze.sight.strips import ANGLES, RINGS, closeness

ROW: Final = float(closeness()[1] - closeness()[0])
"""One row of a strip, in distances of the rim."""

MOST_ROWS: Final = 24
"""The furthest shift that is tried, rows either way."""

SECTORS: Final = 24
"""The strip's angles are averaged to this many: a ring or stain is wider than one angle."""

TRUST: Final = 6.0
"""Full likeness weighs as much as this difference of log likelihood: neighbouring cells are
alike, so that their number does not count. Set on rendered films that no figure rests on."""

RING_TRUST: Final = 10.0
"""The same for rings that stand in both pictures."""

NET_ROWS: Final = 0.5
NET_SHARE: Final = 0.25
"""The net's step is good to half a row and a quarter of itself, besides its own spread."""

ALIKE: Final = 0.25
"""Strips this much alike tell of the same wall, however dark the picture."""

GRAIN_SHARE: Final = 0.4
"""Of the grain that clear pictures of the film show: with less, what is alike is not the wall."""

STILL_ROWS: Final = 0.2
"""Less than this is standing still: a picture that trembles goes nowhere in an hour."""

RIM_D: Final = 0.8
RIM_LIMITS_D: Final = (0.3, 1.4)
"""Distance of the rim in diameters, where the film does not tell; and its limits, from a lens
that sees 120 degrees across to one that sees 40 (elementary geometry)."""

FADE: Final = 6
PIECE: Final = 500


class Slide(NamedTuple):
    """Steps between pictures; arrays have n rows, the first of them nought.

    ``step`` is the advance since the picture before in distances of the rim, ``same_wall``
    whether both show the same wall, clear or not, ``rim_d`` the distance of the rim in
    diameters.
    """

    step: Array
    same_wall: NDArray[np.bool_]
    rim_d: float


def slide(
    strips: NDArray[np.int8],
    heat: NDArray[np.float32],
    seen: Glances,
    clear: NDArray[np.bool_],
) -> Slide:
    """Return the steps between successive strips, (n, RINGS, ANGLES).

    ``heat`` is where rings stand (``rings.ring_heat``); ``clear`` says which samples show
    the pipe straight ahead and may tell of the lens.
    """
    likeness = _likeness(strips, seen, clear)
    tells = TRUST * likeness + RING_TRUST * _ring_likeness(heat)
    both = clear[1:] & clear[:-1]
    rim_d = RIM_D
    for _ in range(2):
        rows = _settled(tells, seen, rim_d)
        rim_d = _rim_d(seen.advance_d[1:], rows, both, rim_d)
    rows = _settled(tells, seen, rim_d)
    rows = np.where(np.abs(rows) < STILL_ROWS, 0.0, rows)
    same = (likeness.max(axis=1, initial=0.0) > ALIKE) & _grained(strips, clear)[1:]
    return Slide(
        step=np.concatenate([np.zeros(1), rows * ROW]),
        same_wall=np.concatenate([np.zeros(1, dtype=bool), same]),
        rim_d=rim_d,
    )


def _grained(strips: NDArray[np.int8], clear: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which strips show enough grain to be wall; none where no picture is clear."""
    grain = np.array([np.abs(strip, dtype=np.float32).mean() for strip in strips])
    if not clear.any():
        return np.zeros(len(strips), dtype=bool)
    return np.asarray(grain >= GRAIN_SHARE * np.median(grain[clear]))


def _rim_d(advance_d: Array, rows: Array, clear: NDArray[np.bool_], otherwise: float) -> float:
    moving = clear & (np.abs(rows) > 0.7)
    if moving.sum() <= 10:
        return otherwise
    ratio = np.abs(advance_d[moving]).sum() / (np.abs(rows[moving]).sum() * ROW)
    return float(np.clip(ratio, *RIM_LIMITS_D))


def _settled(tells: Array, seen: Glances, rim_d: float) -> Array:
    """Return the shift of each pair in rows, of what the pictures tell and the net expects."""
    shifts = _shifts()
    expected = seen.advance_d[1:] / (rim_d * ROW)
    spread = NET_ROWS + NET_SHARE * np.abs(expected) + seen.advance_sd_d[1:] / (rim_d * ROW)
    off = (shifts[None, :] - expected[:, None]) / spread[:, None]
    belief = tells - 0.5 * np.minimum(off**2, 50.0)
    weight = np.exp(belief - belief.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    mean = weight @ shifts
    wide = weight @ shifts**2 - mean**2 > 1.0
    return np.where(wide, mean, _peak(belief))


def _peak(belief: Array) -> Array:
    """Return where a parabola through the best shift and its neighbours has its top."""
    each = np.arange(len(belief))
    best = np.clip(belief.argmax(axis=1), 1, belief.shape[1] - 2)
    before, top, after = (belief[each, best + k] for k in (-1, 0, 1))
    bend = np.minimum(before - 2.0 * top + after, -1e-6)
    return np.asarray(_shifts()[best] + np.clip(0.5 * (before - after) / bend, -0.5, 0.5))


def _shifts() -> Array:
    return np.arange(-MOST_ROWS, MOST_ROWS + 1, dtype=np.float64)


def _likeness(strips: NDArray[np.int8], seen: Glances, clear: NDArray[np.bool_]) -> Array:
    """Return how alike successive strips are at each shift, (n - 1, 2 MOST_ROWS + 1)."""
    fixed = _fixed(strips, np.flatnonzero(clear & (np.abs(seen.advance_d) > 0.04)))
    turned = np.round(seen.turn_rad / (2.0 * np.pi) * SECTORS).astype(int)
    parts = [np.empty((0, 2 * MOST_ROWS + 1))]
    for first in range(0, len(strips) - 1, PIECE):
        piece = slice(first, first + PIECE + 1)
        parts.append(_correlated(_sectors(strips[piece]) - fixed, turned[piece]))
    return np.concatenate(parts)


def _ring_likeness(heat: NDArray[np.float32]) -> Array:
    """Return how well the rings of successive samples fall on each other at each shift."""
    rows = np.repeat(heat, EVERY, axis=1).astype(np.float64)
    rows[:, :-1] = 0.5 * (rows[:, :-1] + rows[:, 1:])
    parts = [np.empty((0, 2 * MOST_ROWS + 1))]
    for first in range(0, len(rows) - 1, PIECE):
        piece = rows[first : first + PIECE + 1]
        energy = np.sqrt((piece[:-1] ** 2).sum(axis=1) * (piece[1:] ** 2).sum(axis=1))
        sums = _laid_over(piece[:-1, :, None], piece[1:, :, None])
        # A faint ring is no ring: below the energy of one clear cell it tells less.
        parts.append(sums / np.maximum(energy, 1.0)[:, None])
    return np.concatenate(parts)


def _fixed(strips: NDArray[np.int8], moving: NDArray[np.intp]) -> NDArray[np.float32]:
    """Return what stays on the screen while the camera moves: dirt on the lens, shade."""
    if len(moving) < 20:
        return np.zeros((RINGS, SECTORS), dtype=np.float32)
    sums = np.zeros((RINGS, ANGLES))
    for first in range(0, len(moving), PIECE):
        sums += strips[moving[first : first + PIECE]].sum(axis=0, dtype=np.float64)
    return np.asarray(_sectors((sums / len(moving))[None])[0])


def _sectors(strips: NDArray[np.generic]) -> NDArray[np.float32]:
    whole = strips.reshape(len(strips), RINGS, SECTORS, ANGLES // SECTORS)
    return np.asarray(whole.mean(axis=3, dtype=np.float32))


def _correlated(sectors: NDArray[np.float32], turned: NDArray[np.int_]) -> Array:
    from_edge = np.minimum(np.arange(RINGS), np.arange(RINGS)[::-1]) + 1
    faded = sectors * np.minimum(from_edge / FADE, 1.0).astype(np.float32)[None, :, None]
    before, after = faded[:-1].copy(), faded[1:]
    for k in np.flatnonzero(turned[1:]):
        before[k] = np.roll(before[k], turned[k + 1], axis=1)
    sums = _laid_over(before, after)
    energy = (before**2).sum(axis=(1, 2)) * (after**2).sum(axis=(1, 2))
    # A larger shift leaves fewer rows to compare.
    overlap = RINGS / (RINGS - np.abs(_shifts()))
    return np.asarray(sums * overlap / (np.sqrt(energy)[:, None] + 1e-6), dtype=np.float64)


def _laid_over(before: NDArray[np.floating], after: NDArray[np.floating]) -> Array:
    """Return the sum of products at each shift, rows of ``before`` moving towards the rim."""
    waves = np.fft.rfft(before, 2 * RINGS, axis=1)
    waves *= np.conj(np.fft.rfft(after, 2 * RINGS, axis=1))
    sums = np.fft.irfft(waves.sum(axis=2), 2 * RINGS, axis=1)
    return np.asarray(
        np.concatenate([sums[:, -MOST_ROWS:], sums[:, : MOST_ROWS + 1]], axis=1), dtype=np.float64
    )
