"""From a place on the screen to a clock position in the pipe, from either side.

The screen turns with the camera head; the pipe does not. A place at ``s`` degrees
clockwise from the top of the screen lies at ``s - roll`` in the pipe, where roll is
the angle at which the pipe's soffit shows on the screen (geometry, no source needed).
Left as seen looking with the flow is right looking against it, so a clock position
is only whole together with its view.
"""

from __future__ import annotations

import math
from typing import Final

from saltglaze.model.base import Estimate
from saltglaze.model.finding import Clock, Facts, Feature, ScreenPlace
from saltglaze.model.run import Direction

SCREEN_DEG: Final[dict[ScreenPlace, float]] = {
    ScreenPlace.TOP: 0.0,
    ScreenPlace.TOP_RIGHT: 45.0,
    ScreenPlace.RIGHT: 90.0,
    ScreenPlace.BOTTOM_RIGHT: 135.0,
    ScreenPlace.BOTTOM: 180.0,
    ScreenPlace.BOTTOM_LEFT: 225.0,
    ScreenPlace.LEFT: 270.0,
    ScreenPlace.TOP_LEFT: 315.0,
}
"""Degrees clockwise from the top of the screen."""

OCTANT_SD_DEG: Final = 45.0 / math.sqrt(12.0)
"""A word such as "top right" means anywhere in its octant: uniform over 45 degrees."""

ROLL_TOO_VAGUE_DEG: Final = 60.0
"""Above this sd a roll says nothing useful (a uniform circle has 104 degrees)."""

DEG_PER_HOUR: Final = 30.0

_LIES_IN_WATER: Final = frozenset({Feature.STANDING_WATER, Feature.SAG})
_LIES_AT_INVERT: Final = frozenset({Feature.SETTLED_DEPOSITS})


def pipe_clock(
    screen: ScreenPlace | None, roll: Estimate | None, view: Direction | None
) -> Clock | None:
    """Return the clock position in the pipe of a place on the screen.

    Parameters
    ----------
    screen
        Where it showed on the screen.
    roll
        Angle of the pipe's soffit on the screen, degrees clockwise.
    view
        Direction of view, kept with the answer.

    Returns
    -------
    Clock or None
        ``None`` where the screen place or the roll does not tell; see
        :func:`clock_unknown_because`. ``sd_h`` joins the octant's width and the roll's sd.
    """
    if screen is ScreenPlace.ALL_ROUND:
        return Clock(from_h=0.0, sd_h=0.0, all_round=True, view=view, because="all round")
    if clock_unknown_because(screen, roll) is not None:
        return None
    assert screen is not None and roll is not None and roll.value is not None
    hours = hours_from_deg(SCREEN_DEG[screen] - roll.value)
    sd_h = math.hypot(OCTANT_SD_DEG, roll.spread) / DEG_PER_HOUR
    return Clock(from_h=hours, sd_h=sd_h, view=view, because="roll")


def clock_unknown_because(screen: ScreenPlace | None, roll: Estimate | None) -> str | None:
    """Return why no clock position follows from the screen, or ``None`` where one does."""
    if screen is ScreenPlace.ALL_ROUND:
        return None
    if screen is None:
        return "nobody said where on the screen it is"
    if screen is ScreenPlace.CENTRE:
        return "the centre of the screen has no clock position"
    if roll is None or roll.value is None:
        why = "no reading at that moment" if roll is None else roll.unknown_because
        return f"the roll of the camera head is not known: {why}"
    if roll.spread > ROLL_TOO_VAGUE_DEG:
        return f"the roll of the camera head is only known to {roll.spread:.0f} degrees"
    return None


def settled_clock(
    facts: Facts, roll: Estimate | None, view: Direction | None
) -> tuple[Clock | None, str | None]:
    """Return the clock position of a finding, or ``None`` and the reason.

    In order: a clock position that a person gave (typed, edited or spoken), gravity
    where physics settles it, then the screen turned by the roll.
    """
    if facts.clock is not None:
        kept = facts.clock if facts.clock.view else facts.clock.model_copy(update={"view": view})
        return (kept if kept.because else kept.model_copy(update={"because": "word"})), None
    by_gravity = gravity_clock(facts, view)
    if by_gravity is not None:
        return by_gravity, None
    clock = pipe_clock(facts.screen, roll, view)
    return clock, (None if clock else clock_unknown_because(facts.screen, roll))


def gravity_clock(facts: Facts, view: Direction | None) -> Clock | None:
    """Return the clock range of what must lie at the invert: standing water, settled deposits.

    Water of depth ``h`` (share of the bore) wets the circle to ``acos(1 - 2h)`` on
    either side of 6 o'clock. Nothing else is placed by gravity: roots, grease and
    scale grow where they like, and infiltration runs down from where it enters.
    """
    if facts.feature in _LIES_IN_WATER:
        share = facts.water_share
    elif facts.feature in _LIES_AT_INVERT:
        share = None
    else:
        return None
    half_h = 0.0 if share is None or share.value is None else _wetted_half_h(share.value)
    because = "gravity (it lies at the invert)"
    if half_h <= 0.0:
        return Clock(from_h=6.0, sd_h=0.5, view=view, because=because)
    if half_h >= 6.0:
        return Clock(from_h=0.0, sd_h=0.0, all_round=True, view=view, because=because)
    return Clock(from_h=6.0 - half_h, to_h=6.0 + half_h, sd_h=0.5, view=view, because=because)


def _wetted_half_h(share: float) -> float:
    return math.degrees(math.acos(1.0 - 2.0 * min(max(share, 0.0), 1.0))) / DEG_PER_HOUR


def as_seen(clock: Clock, direction: Direction) -> Clock | None:
    """Return the same place in the pipe as seen looking in ``direction``.

    Looking the other way mirrors the dial left for right: ``h`` becomes ``12 - h``,
    and a range changes ends so that it still runs clockwise. ``None`` where the view
    of ``clock`` is unknown and the mirror image would differ.
    """
    if clock.view is direction:
        return clock
    mirrored = _mirrored(clock)
    if clock.view is None and not _same_place(clock, mirrored):
        return None
    return mirrored.model_copy(update={"view": direction})


def from_behind(clock: Clock | None) -> Clock | None:
    """Return the same place as seen looking the other way; None where no view is known."""
    if clock is None or clock.view is None:
        return None
    with_flow = clock.view is Direction.WITH_FLOW
    return as_seen(clock, Direction.AGAINST_FLOW if with_flow else Direction.WITH_FLOW)


def _mirrored(clock: Clock) -> Clock:
    if clock.all_round:
        return clock
    if clock.to_h is None:
        return clock.model_copy(update={"from_h": (-clock.from_h) % 12.0})
    return clock.model_copy(update={"from_h": (-clock.to_h) % 12.0, "to_h": (-clock.from_h) % 12.0})


def _same_place(one: Clock, other: Clock) -> bool:
    ends = ((one.from_h, other.from_h), (one.to_h or 0.0, other.to_h or 0.0))
    return all(hours_apart(a, b) < 1e-9 for a, b in ends)


def hours_from_deg(angle_deg: float) -> float:
    """Return an angle clockwise from the soffit as hours in [0, 12)."""
    hours = (angle_deg / DEG_PER_HOUR) % 12.0
    return 0.0 if hours >= 12.0 else hours


def hours_apart(one_h: float, other_h: float) -> float:
    """Return the shorter way round the dial between two clock positions, hours (0 to 6)."""
    apart = abs(one_h - other_h) % 12.0
    return min(apart, 12.0 - apart)
