"""How deep the transmitter lay: as shown, from the nulls, from the shape of the field."""

from __future__ import annotations

import math
from itertools import combinations

from saltglaze.model.appraisal import Check, Verdict
from saltglaze.model.base import Estimate
from saltglaze.model.ground import Locate
from saltglaze.model.run import Run
from saltglaze.position.sonde.features import ghost_depth, read_nulls, two_height_depth
from saltglaze.position.sonde.fit import LEAST_READINGS, DipoleFit, fit_dipole
from saltglaze.position.transmitter import pitch_of

LEAST_SPACING_M = 0.15
"""Heights nearer to one another tell no depth: common practice, no source."""
SAME_SPOT_M = 0.1

DEEPEST_M = 15.0
"""A depth beyond this is a slip of the pen: common practice, no source."""


def depth_sd_m(depth_m: float) -> float:
    """Return the default sd of a depth shown by a receiver: 5 % of it and 5 cm.

    From memory ("5 to 10 % in a clean field"); no neutral source was found.
    """
    return 0.05 * depth_m + 0.05


def depth_of(
    locate: Locate, run: Run | None, fit: DipoleFit | None
) -> tuple[Estimate | None, list[Check]]:
    """Return the depth of the transmitter (or what ``depth_to`` says), and what was noticed."""
    shown, checks = _shown(locate)
    found = (
        _null_depth(locate, run),
        _ghost_depth(locate, run),
        fit.depth_m if fit else _two_heights(locate),
    )
    rivals = [depth for depth in found if depth is not None]
    if shown is None:
        return (rivals[0] if rivals else None), checks
    for rival in rivals:
        shown, said = _agreed(locate, shown, rival)
        checks += said
    return shown, checks


def _shown(locate: Locate) -> tuple[Estimate | None, list[Check]]:
    if locate.depth_m is None or locate.depth_m.value is None:
        return None, []
    depth_m = locate.depth_m.value
    if not 0.0 < depth_m < DEEPEST_M:
        why = "lies above the ground" if depth_m <= 0.0 else "is beyond any lateral"
        return None, [
            Check(
                name="depth cannot be",
                verdict=Verdict.DOUBT,
                reason=f"a depth of {depth_m:g} m {why}; it was left out",
                about=locate.id,
                mend="read the depth again",
            )
        ]
    if locate.depth_m.spread == 0.0:
        return Estimate.of(depth_m, depth_sd_m(depth_m)), []
    return locate.depth_m, []


def _null_depth(locate: Locate, run: Run | None) -> Estimate | None:
    if locate.null_front_m is None or locate.null_rear_m is None:
        return None
    pitch = pitch_of(locate, run) if locate.pitch_deg is not None else None
    return read_nulls(locate.null_front_m, locate.null_rear_m, locate.marked, pitch).depth_m


def _ghost_depth(locate: Locate, run: Run | None) -> Estimate | None:
    if locate.ghost_front_m is None or locate.ghost_rear_m is None:
        return None
    pitch = pitch_of(locate, run) if locate.pitch_deg is not None else None
    return ghost_depth(locate.ghost_front_m, locate.ghost_rear_m, pitch)


def _two_heights(locate: Locate) -> Estimate | None:
    """Return the depth from two readings one above the other, where there are such."""
    for low, high in combinations(sorted(locate.readings, key=lambda r: r.height_m), 2):
        spacing = high.height_m - low.height_m
        aside = math.hypot(
            low.point.east_m - high.point.east_m, low.point.north_m - high.point.north_m
        )
        if low.coil != high.coil or spacing < LEAST_SPACING_M or aside > SAME_SPOT_M:
            continue
        share = math.hypot(low.sd_share, high.sd_share) / math.sqrt(2.0)
        below = two_height_depth(low.signal, high.signal, spacing, share)
        return Estimate.of((below.value or 0.0) - low.height_m, below.spread)
    return None


def _agreed(locate: Locate, shown: Estimate, other: Estimate) -> tuple[Estimate, list[Check]]:
    """Return the weighted mean of two depths, or the shown one opened up to reach the other."""
    assert shown.value is not None and other.value is not None
    gap, sd = shown.value - other.value, math.hypot(shown.spread, other.spread)
    if abs(gap) <= 3.0 * sd:
        weight = other.spread**2 / sd**2
        return (
            Estimate.of(
                other.value + weight * gap, shown.spread * other.spread / sd if sd else 0.0
            ),
            [],
        )
    return Estimate.of(shown.value, math.hypot(shown.spread, gap)), [
        Check(
            name="depths disagree",
            verdict=Verdict.DOUBT,
            reason=f"the receiver shows {shown.value:.2f} m, the field's shape "
            f"{other.value:.2f} m: the field is disturbed, so the depth is hardly known",
            about=locate.id,
            mend="locate again a little further along, away from metal",
        )
    ]


def fitted(locate: Locate) -> tuple[DipoleFit | None, list[Check]]:
    """Return the transmitter fitted to a locate's signal readings, where there are enough."""
    if len(locate.readings) < LEAST_READINGS:
        return None, []
    fit = fit_dipole(locate.readings)
    if not fit.disturbed:
        return fit, []
    return fit, [
        Check(
            name="field disturbed",
            verdict=Verdict.DOUBT,
            reason=f"the signal readings miss a clean transmitter field by {fit.misfit_ratio:.1f} "
            "times their error: other metal or a second line bends it",
            about=locate.id,
            mend="locate again with other services switched off, or a little further along",
        )
    ]
