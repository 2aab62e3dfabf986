"""From the transmitter to the mark on the ground: how far ahead the marked feature lies."""

from __future__ import annotations

import math
from typing import Final

from saltglaze.model.base import Estimate
from saltglaze.model.ground import Locate
from saltglaze.model.run import Direction, Run
from saltglaze.position.sonde.features import PITCH_READING_SD_DEG, marked_ahead

DEPTH_WHERE_UNKNOWN_M: Final = Estimate.of(1.3, 0.5)
"""Only for the size of the transmitter shift of a locate without depth: common practice."""

DRAIN_PITCH_DEG: Final = Estimate.of(1.15, 1.15)
"""Nose down looking with the flow where no pitch is shown: 2 % of fall, give or take 2 %
(common practice, no source)."""


def mark_station(
    locate: Locate, run: Run | None, transmitter: Estimate | None, depth: Estimate | None = None
) -> Estimate:
    """Return the station of the marked ground point from the station of the transmitter.

    A run that counts down the line (``reversed_stationing``) points its nose the other way.
    """
    if transmitter is None:
        return Estimate.unknown("neither time, counter nor station of this locate is settled")
    if transmitter.value is None:
        return transmitter
    forwards = -1.0 if run is not None and run.reversed_stationing else 1.0
    ahead = feature_ahead(locate, run, depth)
    assert ahead.value is not None
    return Estimate.of(
        transmitter.value + forwards * ahead.value, math.hypot(transmitter.spread, ahead.spread)
    )


def feature_ahead(locate: Locate, run: Run | None, depth: Estimate | None) -> Estimate:
    """Return how far ahead of the transmitter the mark lies, in the direction of travel."""
    known = depth if depth is not None and depth.value is not None else DEPTH_WHERE_UNKNOWN_M
    return marked_ahead(locate.marked, known, pitch_of(locate, run))


def pitch_of(locate: Locate, run: Run | None) -> Estimate:
    """Return the pitch, nose down, degrees: as shown, or a drain's usual fall."""
    if locate.pitch_deg is not None:
        return Estimate.of(locate.pitch_deg, PITCH_READING_SD_DEG)
    assert DRAIN_PITCH_DEG.value is not None
    match run.direction if run is not None else None:
        case Direction.WITH_FLOW:
            return DRAIN_PITCH_DEG
        case Direction.AGAINST_FLOW:
            return Estimate.of(-DRAIN_PITCH_DEG.value, DRAIN_PITCH_DEG.spread)
        case None:
            return Estimate.of(0.0, math.hypot(DRAIN_PITCH_DEG.value, DRAIN_PITCH_DEG.spread))
