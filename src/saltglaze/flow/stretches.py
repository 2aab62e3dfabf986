"""The hydraulics of each stretch of one bore and one slope, with margins.

Slope and roughness are drawn from their margins (2,000 draws, fixed seed), each
draw is solved, and the middle 95 % of the answers is the interval.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from saltglaze.condition.stretch import segment_at
from saltglaze.condition.wording import UnitWords
from saltglaze.errors import InputError
from saltglaze.flow.circular import section
from saltglaze.flow.codebook import roughness, tables
from saltglaze.flow.manning import (
    WATER_N_M3,
    depth_shares_of_flow_shares,
    diameter_for,
    full_flow,
    full_velocity,
    normal_depth_share,
    shear_pa,
    slope_for,
    velocity_at_depth,
)
from saltglaze.model.appraisal import Fall, LineSegment, Reason, StretchFlow
from saltglaze.model.base import Estimate, Record

_DRAWS = 2000
_SEED = 20240517
_LEAST_SLOPE = 1e-6
_SLIVER_M = 0.5
_SURE = 0.95
"""Share of the draws that must agree before we say yes or no."""

Draws = NDArray[np.float64]


class Pipe(NamedTuple):
    """The best numbers of a reach: bore in metres, slope, Manning's n."""

    diameter_m: float
    slope: float
    n: float


class Reach(Record):
    """A stretch of one bore, one material and one slope."""

    from_m: float
    to_m: float
    segment: LineSegment | None = None
    slope: Estimate
    slope_because: str = ""


def reaches(
    segments: Sequence[LineSegment], falls: Sequence[Fall], length_m: float | None
) -> tuple[Reach, ...]:
    """Cut the line where bore, material or slope changes."""
    cuts = {0.0} if length_m is not None else set()
    cuts |= {length_m} if length_m is not None else set()
    for part in segments:
        cuts |= {v for v in (part.start_m.value, part.end_m.value) if v is not None}
    for fall in falls:
        cuts |= {fall.from_m, fall.to_m}
    marks = _without_slivers(sorted(cut for cut in cuts if cut is not None))
    return tuple(_reach(a, b, segments, falls) for a, b in itertools.pairwise(marks))


def _without_slivers(marks: Sequence[float]) -> list[float]:
    """Drop cuts that lie closer to the one before than a cut can be known."""
    kept: list[float] = []
    for mark in marks:
        if not kept or mark - kept[-1] >= _SLIVER_M:
            kept.append(mark)
        elif mark == marks[-1] and len(kept) > 1:
            kept[-1] = mark
    return kept


def solve(reach: Reach, peak_m3_s: Estimate, left: float, words: UnitWords) -> StretchFlow:
    """Return the hydraulics of one reach; ``left`` is the share of capacity not blocked."""
    diameter_m = reach.segment.diameter_m if reach.segment else None
    diameter_m = diameter_m if diameter_m is not None and diameter_m > 0.0 else None
    n, n_because = roughness(reach.segment.material if reach.segment else None)
    gap = _gap(reach, diameter_m)
    if gap or diameter_m is None:
        return _unsolved(reach, diameter_m, n, gap)
    slopes, roughs = _draw(reach.slope, n)
    capacity = np.array([full_flow(diameter_m, 1.0, 1.0)]) * np.sqrt(slopes) / roughs
    reasons: tuple[Reason, ...] = (
        Reason(because=n_because, rule="Manning", source=tables()["roughness"]["source"]),
        Reason(because=f"slope {words.slope(reach.slope.value or 0.0)}: {reach.slope_because}"),
    )
    slope = max(reach.slope.value or 0.0, _LEAST_SLOPE)
    best = Pipe(diameter_m, slope, n)
    peak = _at_peak(peak_m3_s, best, slopes, roughs, capacity, left)
    if peak["enough"] is False:
        reasons = (*reasons, _what_would_do(peak_m3_s.value or 0.0, best, words))
    return StretchFlow(
        from_m=reach.from_m,
        to_m=reach.to_m,
        diameter_m=diameter_m,
        slope=reach.slope,
        manning_n=n,
        full_flow_m3_s=around(full_flow(*best), capacity),
        full_velocity_m_s=around(
            full_velocity(*best), full_velocity(diameter_m, 1.0, 1.0) * np.sqrt(slopes) / roughs
        ),
        peak_flow_m3_s=peak_m3_s,
        reasons=reasons,
        **peak,
    )


def around(value: float, draws: Draws) -> Estimate:
    """Return the answer at the best numbers with the middle 95 % of the draws."""
    low, high = (float(v) for v in np.percentile(draws, [2.5, 97.5]))
    return Estimate.within(value, min(low, value), max(high, value))


def verdict(share: float) -> bool | None:
    """Return yes, no, or ``None`` while the margins leave it open."""
    if share >= _SURE:
        return True
    return False if share <= 1.0 - _SURE else None


def _at_peak(
    peak_m3_s: Estimate,
    best: Pipe,
    slopes: Draws,
    roughs: Draws,
    capacity: Draws,
    left: float,
) -> dict[str, Estimate | bool | None]:
    if peak_m3_s.value is None:
        unknown = Estimate.unknown(peak_m3_s.unknown_because or "peak flow not known")
        full_m_s = full_velocity(best.diameter_m, 1.0, 1.0) * np.sqrt(slopes) / roughs
        cleans = float(np.mean(full_m_s >= tables()["cleansing"]["velocity_m_s"]))
        return {
            "peak_depth_share": unknown,
            "peak_velocity_m_s": unknown,
            "shear_pa": unknown,
            "self_cleansing": verdict(cleans),
            "enough": None,
        }
    flows = _draw_flow(peak_m3_s)
    depths = depth_shares_of_flow_shares(flows / capacity)
    radii = np.interp(depths, *_radius_table()) * best.diameter_m
    depth = _depth(peak_m3_s.value, best)
    velocity = velocity_at_depth(depth, *best)
    shear = shear_pa(depth, best.diameter_m, best.slope)
    shears = WATER_N_M3 * radii * slopes
    return {
        "peak_depth_share": around(depth, depths),
        "peak_velocity_m_s": around(velocity, radii ** (2.0 / 3.0) * np.sqrt(slopes) / roughs),
        "shear_pa": around(shear, shears),
        "self_cleansing": verdict(float(np.mean(shears >= tables()["cleansing"]["shear_pa"]))),
        "enough": verdict(float(np.mean(capacity * left >= flows))),
    }


def _depth(flow_m3_s: float, best: Pipe) -> float:
    """Return the depth share at the best numbers; 1 where the pipe runs full."""
    try:
        return normal_depth_share(flow_m3_s, *best)
    except InputError:
        return 1.0


def _what_would_do(flow_m3_s: float, best: Pipe, words: UnitWords) -> Reason:
    """Say what fall, or what bore, would carry the peak half full."""
    slope = slope_for(flow_m3_s, 0.5, best.diameter_m, best.n)
    bore_m = diameter_for(flow_m3_s, 0.5, best.slope, best.n)
    return Reason(
        because=f"to carry the peak half full it would need a fall of {words.slope(slope)}, "
        f"or a bore of {words.size(bore_m)}",
        rule="Manning",
    )


def _radius_table() -> tuple[Draws, Draws]:
    depths = np.linspace(0.0, 1.0, 401)
    return depths, np.array([section(float(depth), 1.0).radius_m for depth in depths])


def _draw(slope: Estimate, n: float) -> tuple[Draws, Draws]:
    rng = np.random.default_rng(_SEED)
    slopes = np.maximum(rng.normal(slope.value or 0.0, slope.spread, _DRAWS), _LEAST_SLOPE)
    share = float(tables()["roughness"]["sd_share"])
    return slopes, n * np.exp(rng.normal(0.0, share, _DRAWS))


def _draw_flow(flow: Estimate) -> Draws:
    """Draw from a log-normal that keeps the value as median and the interval's width."""
    low, high = flow.interval95
    value = flow.value or 0.0
    ratio = max(high / value, value / max(low, 0.01 * value))
    rng = np.random.default_rng(_SEED + 1)
    return value * np.exp(rng.normal(0.0, np.log(ratio) / 1.96, _DRAWS))


def _gap(reach: Reach, diameter_m: float | None) -> str:
    if diameter_m is None:
        return "the diameter is not known"
    if reach.slope.value is None:
        return f"the fall is not known: {reach.slope.unknown_because}"
    return ""


def _unsolved(reach: Reach, diameter_m: float | None, n: float, gap: str) -> StretchFlow:
    unknown = Estimate.unknown(gap)
    return StretchFlow(
        from_m=reach.from_m,
        to_m=reach.to_m,
        diameter_m=diameter_m,
        slope=reach.slope,
        manning_n=n,
        full_flow_m3_s=unknown,
        full_velocity_m_s=unknown,
        peak_flow_m3_s=unknown,
        peak_depth_share=unknown,
        peak_velocity_m_s=unknown,
        shear_pa=unknown,
        reasons=(Reason(because=gap),),
    )


def _reach(
    from_m: float, to_m: float, segments: Sequence[LineSegment], falls: Sequence[Fall]
) -> Reach:
    middle_m = (from_m + to_m) / 2.0
    segment = segment_at(segments, middle_m)
    fall = next((f for f in falls if f.from_m <= middle_m <= f.to_m), None)
    slope = fall.slope if fall else Estimate.unknown("no depths or levels were taken along it")
    because = fall.because if fall else ""
    return Reach(from_m=from_m, to_m=to_m, segment=segment, slope=slope, slope_because=because)
