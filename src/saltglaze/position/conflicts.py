"""Evidence that contradicts the rest: named, measured, and answered with and without it.

Nothing is dropped in silence and nothing bends the line in silence. For an item held to
be a gross error the plan is fitted again with the item taken at its word, and what that
would move is told.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import combinations
from typing import Final, NamedTuple

import numpy as np

from saltglaze.model.appraisal import Check, Conflict, Verdict
from saltglaze.model.finding import Turn
from saltglaze.model.job import Job
from saltglaze.position.adjust import Floats
from saltglaze.position.naming import finding_named, metres, told
from saltglaze.position.plan import Anchor, PlanFit, fit
from saltglaze.position.station import RunStations

DOUBTED: Final = 0.5
"""An item more likely a gross error than not."""
CHORD_SD: Final = 3.0
"""A chord longer than its arc by this many standard deviations cannot be."""
SCALE_ODD: Final = 0.05
"""A counter further off than this is worth a word (5 % on private laterals: City of
Ottawa, confirmed in the field dossier)."""


Names = Mapping[str, str]

JOINTS_AGAINST_COUNTER: Final = 0.03
LEAST_SECTIONS: Final = 5


def plan_conflicts(best: PlanFit, names: Names) -> tuple[Conflict, ...]:
    """Anchors that the plan leaves aside, chords longer than arcs, bends against the word.

    ``names`` is what each finding is called in a sentence, by id.
    """
    return (
        *_doubted_anchors(best, names),
        *_long_chords(best, names),
        *_turned_bends(best, names),
    )


def run_conflicts(solved: Mapping[str, RunStations], names: Names) -> tuple[Conflict, ...]:
    """Contradictions inside the runs: stations from records, a counter running backwards."""
    found: list[Conflict] = []
    for stations in solved.values():
        found += _backward_counter(stations)
        found += _doubted_stations(stations, names)
    return tuple(found)


def depth_conflicts(job: Job) -> tuple[Conflict, ...]:
    """Depths above the ground."""
    return tuple(
        Conflict(
            item=f"depth of locate {locate.id}",
            misfit=f"a depth of {metres(locate.depth_m.value)} lies above the ground",
            with_it="the pipe would lie in the air there",
            without_it="the depth there follows from its neighbours, or stays unknown",
            used=False,
        )
        for locate in job.locates
        if locate.depth_m is not None
        and locate.depth_m.value is not None
        and locate.depth_m.value <= 0.0
    )


def run_checks(solved: Mapping[str, RunStations]) -> tuple[Check, ...]:
    """Say how the counter and the talk about it came out."""
    checks: list[Check] = []
    for name, stations in solved.items():
        scale = float(stations.solved.unknowns[stations.knots.scale_at])
        if abs(scale - 1.0) > SCALE_ODD:
            word = "short" if scale > 1.0 else "long"
            checks.append(
                Check(
                    name="counter scale",
                    verdict=Verdict.DOUBT,
                    reason=f"the counter reads {abs(scale - 1.0):.0%} {word} of the pipe",
                    about=name,
                    mend="check the counter against a taped length of cable",
                )
            )
        checks += _joint_check(name, *stations.counted())
        if stations.misspoken:
            checks.append(
                Check(
                    name="distances called out",
                    verdict=Verdict.NOTE,
                    reason=f"{stations.misspoken} of {stations.evidence.spoken.time_s.size} "
                    "distances called out do not fit the run and were left aside",
                    about=name,
                )
            )
    return tuple(checks)


def counter_over(sections_m: float, counter_m: float) -> float:
    """How far a counter reads over the sections counted: its length less theirs, over theirs."""
    return (counter_m - sections_m) / sections_m


def _joint_check(run_id: str, sections: int, length: float, counter: float) -> Iterable[Check]:
    if sections < LEAST_SECTIONS:
        return
    over = counter_over(length, counter)
    yield Check(
        name="joint count",
        verdict=Verdict.DOUBT if abs(over) > JOINTS_AGAINST_COUNTER else Verdict.GOOD,
        reason=f"{sections} sections counted make {metres(length)}; "
        f"the counter says {metres(counter)} ({over:+.1%})",
        about=run_id,
    )


def chord_excess(one: Anchor, other: Anchor, best: PlanFit) -> tuple[float, float]:
    """How much longer the chord between two anchors is than the pipe between them.

    Returns excess and its standard deviation, metres; of mirror points the nearest pair
    counts. The pipe's length is what the runs alone say, before the ground taught them.
    """
    keys = best.problem.keys
    arc = abs(float(keys.mean_m[one.key] - keys.mean_m[other.key]))
    cov = keys.covariance_m2
    arc_var = cov[one.key, one.key] + cov[other.key, other.key] - 2.0 * cov[one.key, other.key]
    gap = other.points[None, :, :] - one.points[:, None, :]
    chord = np.hypot(gap[..., 0], gap[..., 1])
    i, j = np.unravel_index(int(np.argmin(chord)), chord.shape)
    unit = gap[i, j] / max(float(chord[i, j]), 1e-9)
    spread = one.covariances[i] + other.covariances[j]
    return float(chord[i, j]) - arc, math.sqrt(float(unit @ spread @ unit) + max(arc_var, 0.0))


def _doubted_anchors(best: PlanFit, names: Names) -> Iterable[Conflict]:
    for number in np.flatnonzero(best.good < DOUBTED):
        anchor = best.problem.anchors[int(number)]
        miss, ratio = _miss(best, int(number))
        trusted = fit(best.problem, best.start, frozenset({anchor.name}))
        shift = _moved(best, trusted, names)
        yield Conflict(
            item=anchor.name,
            misfit=f"{metres(miss)} off the line that all else gives, "
            f"{ratio:.0f} times the error to expect" + _chords_of(best, int(number)),
            with_it=shift.told,
            without_it="the line as shown; the point is drawn but does not pull it",
            used=False,
            finding_ids=shift.finding_ids,
        )


def _miss(best: PlanFit, number: int) -> tuple[float, float]:
    anchor, choice = best.problem.anchors[number], best.start.choice[number]
    positions, spread = best.at_keys([anchor.key])
    miss = anchor.points[choice] - positions[0]
    expected = anchor.covariances[choice] + spread[0]
    return float(np.hypot(*miss)), math.sqrt(float(miss @ np.linalg.solve(expected, miss)) / 2.0)


def _chords_of(best: PlanFit, number: int) -> str:
    """Say so where the point is further from another than the pipe between is long."""
    anchor = best.problem.anchors[number]
    for other in sorted(best.problem.anchors, key=lambda one: -best.good[_place(best, one)]):
        if other is anchor:
            continue
        excess, sd = chord_excess(anchor, other, best)
        if excess > CHORD_SD * sd:
            return f"; {metres(excess)} further from {other.name} than the pipe between is long"
    return ""


def _place(best: PlanFit, anchor: Anchor) -> int:
    return next(n for n, one in enumerate(best.problem.anchors) if one is anchor)


class _Shift(NamedTuple):
    """What moves most between two fits, in words, and the finding it is."""

    told: str
    finding_ids: tuple[str, ...]


def _moved(best: PlanFit, other: PlanFit, names: Names) -> _Shift:
    """Say what moves, and how far, between two fits."""
    named = [n for n, key in enumerate(best.problem.keys.keys) if key.name.startswith("finding:")]
    if not named:
        named = list(range(len(best.problem.keys.keys)))
    shift = _gap(best.at_keys(named)[0], other.at_keys(named)[0])
    most = int(np.argmax(shift))
    name = best.problem.keys.keys[named[most]].name
    ident = finding_named(name)
    return _Shift(
        f"{told(name, names)} would lie {metres(float(shift[most]))} from where it is shown",
        () if ident is None else (ident,),
    )


def _gap(one: Floats, other: Floats) -> Floats:
    return np.asarray(np.hypot(*(one - other).T))


def _long_chords(best: PlanFit, names: Names) -> Iterable[Conflict]:
    """Pairs that are both kept although they lie further apart than the pipe is long."""
    kept = [best.problem.anchors[int(n)] for n in np.flatnonzero(best.good >= DOUBTED)]
    for one, other in combinations(kept, 2):
        excess, sd = chord_excess(one, other, best)
        if excess <= CHORD_SD * sd:
            continue
        shift = _moved(best, _without(best, other), names)
        yield Conflict(
            item=f"{one.name} and {other.name}",
            misfit=f"{metres(excess)} further apart on the ground than along the pipe, "
            f"{excess / sd:.0f} times the error to expect",
            with_it="the counter would have to be short by that much between them",
            without_it=shift.told,
            used=True,
            finding_ids=shift.finding_ids,
        )


def _without(best: PlanFit, anchor: Anchor) -> PlanFit:
    """The fit with one anchor taken away (its own doubt made endless)."""
    loose = Anchor(
        anchor.name, anchor.key, anchor.points, anchor.covariances * 1e6, 0.0, anchor.out_sd_m
    )
    anchors = tuple(loose if one.name == anchor.name else one for one in best.problem.anchors)
    return fit(replace(best.problem, anchors=anchors), best.start)


def _turned_bends(best: PlanFit, names: Names) -> Iterable[Conflict]:
    for bend, way in zip(best.problem.bends, best.start.turns, strict=True):
        said = Turn.RIGHT if bend.right_chance > 0.5 else Turn.LEFT
        if bend.right_chance == 0.5 or (way > 0.0) == (said is Turn.RIGHT):
            continue
        yield Conflict(
            item=names.get(bend.finding_id, "a bend"),
            misfit=f"said to turn {said.value} walking up the stations; the ground says the other",
            with_it="the surface points beyond it would all be missed",
            without_it="the bend turns as the surface points ask",
            used=False,
            finding_ids=(bend.finding_id,),
        )


def _backward_counter(stations: RunStations) -> Iterable[Conflict]:
    lost = stations.evidence.wrong_way_m
    if lost is not None:
        yield Conflict(
            item=f"counter of run {stations.evidence.run_id}",
            misfit=f"ran back {metres(lost)} while the picture went forwards",
            with_it="the head would have left the pipe by the way it came in",
            without_it="the counter is taken as running backwards: its distances are counted up",
            used=False,
        )


def _doubted_stations(stations: RunStations, names: Names) -> Sequence[Conflict]:
    found = []
    for known, good in zip(stations.known, stations.known_good, strict=True):
        if good >= DOUBTED:
            continue
        at = float(stations.at(np.array([known.time_s]))[0]) + known.ahead_m
        stated = known.station_m + known.ahead_m
        sd = float(stations.sd(np.array([known.time_s]))[0])
        ident = finding_named(known.name)
        found.append(
            Conflict(
                item=told(known.name, names),
                misfit=f"its station is given as {metres(stated)}; "
                f"the run says {metres(at)} give or take {metres(2.0 * sd)}",
                with_it=f"everything near it would shift by {metres(abs(stated - at))}",
                without_it="stations follow the rest of the run",
                used=False,
                finding_ids=() if ident is None else (ident,),
            )
        )
    return found
