"""Slope of each stretch of the line, with its margin."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Final

from saltglaze.model.appraisal import Fall, Sag
from saltglaze.position.profile import Profile

LONGEST_M: Final = 15.0
"""A stretch is cut so that it is no longer than this."""
SHORTEST_M: Final = 2.0
SHOULDER_M: Final = 1.0
"""The bed is bent this far beyond the water of a sag, so stretches are cut outside it."""


def falls_of(profile: Profile, sags: Sequence[Sag] = ()) -> tuple[Fall, ...]:
    """Return the fall of each stretch, positive downstream, station order.

    Stretches end where the bore or material changes, a little outside sags, and every
    15 m at most.
    """
    cuts = _cuts(profile, sags)
    return tuple(
        Fall(
            from_m=low,
            to_m=high,
            slope=profile.slope_between(low, high),
            because=_because(profile),
        )
        for low, high in pairwise(cuts)
    )


def _because(profile: Profile) -> str:
    if profile.datum_known:
        return "depths and ground levels adjusted together"
    return "no ground level was given: depths alone, with the ground taken as nearly even"


def _cuts(profile: Profile, sags: Sequence[Sag]) -> list[float]:
    low, high = float(profile.stations_m[0]), float(profile.stations_m[-1])
    marks = {low, high}
    marks.update(s.start_m.value for s in profile.segments if s.start_m.value is not None)
    for sag in sags:
        if sag.start_m.value is not None and sag.end_m.value is not None:
            marks.update((sag.start_m.value - SHOULDER_M, sag.end_m.value + SHOULDER_M))
    inside = sorted(mark for mark in marks if low <= mark <= high)
    return _even(_spaced(inside))


def _spaced(marks: Iterable[float]) -> list[float]:
    """Drop cuts that would leave a stretch too short to have a slope."""
    ordered = list(marks)
    kept = [ordered[0]]
    for mark in ordered[1:-1]:
        if mark - kept[-1] >= SHORTEST_M and ordered[-1] - mark >= SHORTEST_M:
            kept.append(mark)
    return [*kept, ordered[-1]]


def _even(marks: Sequence[float]) -> list[float]:
    cuts = [marks[0]]
    for low, high in pairwise(marks):
        pieces = max(int(-(-(high - low) // LONGEST_M)), 1)
        cuts += [low + (high - low) * (k + 1) / pieces for k in range(pieces)]
    return cuts
