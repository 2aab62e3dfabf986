"""One glance: what the small view net says of a pair of discs a fifth of a second apart.

The net (``view.onnx``, trained by ``training/view`` on rendered films) is evidence, not
truth: each of its answers carries its own spread, and time decides.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.track import ViewState
from saltglaze.sight.weights import VIEW, session

Array = NDArray[np.float64]

PAIR_S: Final = 0.2
"""The time between the two discs that the net was trained on."""

VIEWS: Final = (
    ViewState.CLEAR,
    ViewState.DARK,
    ViewState.FOULED,
    ViewState.FOGGED,
    ViewState.UNDER_WATER,
    ViewState.GLARE,
    ViewState.OFF_AXIS,
)
"""The net's view classes, in its order."""


class Glances(NamedTuple):
    """What was seen of n pairs; every array has n rows.

    ``roll_rad`` and ``concentration`` are a von Mises direction of the pipe's soffit,
    clockwise from the top of the screen; ``standing`` the probability that water stands;
    ``views`` (n, 7) probabilities in the order of VIEWS; ``advance_d`` the way gone between
    the discs in pipe diameters; ``turn_rad`` the picture's rotation between them; ``edge``
    the probability that a level edge along the pipe is seen: water's, a settled bed's or a
    tide mark's; each ``_sd`` one standard deviation.
    """

    roll_rad: Array
    concentration: Array
    standing: Array
    views: Array
    advance_d: Array
    advance_sd_d: Array
    turn_rad: Array
    turn_sd_rad: Array
    edge: Array


def glance(pairs: NDArray[np.uint8]) -> Glances:
    """Return what the net sees in pairs of discs, (n, 2, side, side) uint8.

    Each pair is looked at as it is and as in a mirror, and the mean is taken: half of what
    the net gets wrong, it gets wrong to one side.
    """
    as_is, mirrored = (_looked_at(way) for way in (pairs, pairs[..., ::-1]))
    return _mean_of(
        as_is, mirrored._replace(roll_rad=-mirrored.roll_rad, turn_rad=-mirrored.turn_rad)
    )


def _looked_at(pairs: NDArray[np.uint8]) -> Glances:
    seen = session(VIEW).run(["seen"], {"discs": pairs.astype(np.float32) / np.float32(255.0)})[0]
    return decoded(np.asarray(seen, dtype=float))


def _mean_of(one: Glances, other: Glances) -> Glances:
    """Return the mean of two glances at the same pairs; where they differ, less is sure."""
    way = [each.concentration * np.exp(1j * each.roll_rad) for each in (one, other)]
    mean = 0.5 * (way[0] + way[1])
    both = Glances(*(0.5 * (a + b) for a, b in zip(one, other, strict=True)))
    return both._replace(roll_rad=np.angle(mean), concentration=np.abs(mean))


def decoded(seen: Array) -> Glances:
    """Return the net's (n, 17) outputs as quantities.

    Its own word on the depth of water (2 and 3) is left: ``waterline`` looks closer.
    """
    views = np.exp(seen[:, 5:12] - seen[:, 5:12].max(axis=1, keepdims=True))
    turn_unit = np.deg2rad(10.0)
    return Glances(
        roll_rad=np.arctan2(seen[:, 0], seen[:, 1]),
        concentration=np.hypot(seen[:, 0], seen[:, 1]),
        standing=_probability(seen[:, 4]),
        views=views / views.sum(axis=1, keepdims=True),
        advance_d=seen[:, 12],
        advance_sd_d=_spread(seen[:, 13]),
        turn_rad=seen[:, 14] * turn_unit,
        turn_sd_rad=_spread(seen[:, 15]) * turn_unit,
        edge=_probability(seen[:, 16]),
    )


def joined(parts: list[Glances]) -> Glances:
    """Return many glances as one, in order."""
    return Glances(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))


def _probability(logit: Array) -> Array:
    return np.asarray(1.0 / (1.0 + np.exp(-logit)))


def _spread(log_sd: Array) -> Array:
    # The same limits that training put on the logarithm.
    return np.exp(np.clip(log_sd, -5.0, 2.0))
