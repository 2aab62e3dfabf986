"""How far a nozzle can pull its hose, and a rod can be pushed.

Straight and level the pull must beat the drag of the hose behind it, mu w L; a bend
of angle theta multiplies what is behind it by e^(mu theta) (capstan law; conduit
construction manual, confirmed). Pushed rods buckle: sinusoidal at
2 sqrt(E I w / r), helical at 2.828 sqrt(E I w / r) (drilling course slides,
confirmed). These are ceilings for a clean pipe.
"""

from __future__ import annotations

import math
from collections.abc import Sequence


def capstan(tension_n: float, friction: float, angle_deg: float) -> float:
    """Return the tension ahead of a bend, from the tension behind it."""
    return tension_n * math.exp(friction * math.radians(angle_deg))


def needed_pull(
    length_m: float,
    weight_n_m: float,
    friction: float,
    bends: Sequence[tuple[float, float]] = (),
) -> float:
    """Return the pull in newtons at the nozzle for a hose drawn in by ``length_m``.

    ``bends`` are (station in metres from the entry, angle in degrees).
    """
    tension, at_m = 0.0, 0.0
    for station_m, angle_deg in sorted(bends):
        if not 0.0 <= station_m < length_m:
            continue
        tension += friction * weight_n_m * (station_m - at_m)
        tension = capstan(tension, friction, angle_deg)
        at_m = station_m
    return tension + friction * weight_n_m * (length_m - at_m)


def reach(
    pull_n: float,
    weight_n_m: float,
    friction: float,
    bends: Sequence[tuple[float, float]] = (),
) -> float:
    """Return how far, in metres, a pull can draw the hose."""
    if pull_n <= 0.0:
        return 0.0
    low, high = 0.0, pull_n / (friction * weight_n_m)
    for _ in range(60):
        middle = (low + high) / 2.0
        if needed_pull(middle, weight_n_m, friction, bends) <= pull_n:
            low = middle
        else:
            high = middle
    return low


def push_reach(
    push_n: float,
    weight_n_m: float,
    friction: float,
    bends: Sequence[tuple[float, float]] = (),
) -> float:
    """Return how far, in metres, a push at the entry drives a rod that does not buckle.

    Drag builds up from the tip backwards, so a bend near the entry costs most.
    """
    if push_n <= 0.0:
        return 0.0
    low, high = 0.0, push_n / (friction * weight_n_m)
    for _ in range(60):
        middle = (low + high) / 2.0
        from_tip = [(middle - at_m, angle) for at_m, angle in bends if at_m < middle]
        if needed_pull(middle, weight_n_m, friction, from_tip) <= push_n:
            low = middle
        else:
            high = middle
    return low


def sinusoidal_force(stiffness_n_m2: float, weight_n_m: float, clearance_m: float) -> float:
    """Return the push in newtons at which a rod starts to snake."""
    return 2.0 * math.sqrt(stiffness_n_m2 * weight_n_m / clearance_m)


def helical_force(stiffness_n_m2: float, weight_n_m: float, clearance_m: float) -> float:
    """Return the push in newtons at which a rod coils up."""
    return math.sqrt(2.0) * sinusoidal_force(stiffness_n_m2, weight_n_m, clearance_m)


def lock_up_m(
    stiffness_n_m2: float, weight_n_m: float, clearance_m: float, friction: float
) -> float:
    """Return the length in metres after which a pushed rod moves no more.

    Straight to the helical force, then as far as the wall force of the coil allows:
    (2/mu) sqrt(E I / (r w)) (pi/2 - arctan sqrt 2) more (derived).
    """
    straight = helical_force(stiffness_n_m2, weight_n_m, clearance_m) / (friction * weight_n_m)
    coiled = (2.0 / friction) * math.sqrt(stiffness_n_m2 / (clearance_m * weight_n_m))
    return straight + coiled * (math.pi / 2.0 - math.atan(math.sqrt(2.0)))
