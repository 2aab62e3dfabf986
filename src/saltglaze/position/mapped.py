"""What the map says of the line: the house it leaves, the main it reaches, where it was drawn.

These are weak facts: none is a survey of the pipe. Each enters the plan as a point with the
margin that the outline itself has (anywhere in the house, anywhere along the main), may be
a gross error, and is named like any other item when the rest contradicts it. They settle
what a few surface points leave open: which way a bend turns, which crossing of two tapes
holds, where a line with a single locate runs.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np
import shapely

from saltglaze.model.finding import Feature, Finding
from saltglaze.model.ground import KnownMain, Parcel, ParcelKind
from saltglaze.model.job import Job
from saltglaze.model.run import Direction
from saltglaze.position.adjust import Floats
from saltglaze.position.keys import Key, Keys
from saltglaze.position.plan import Anchor

HOUSE: Final = "house outline"
MAIN: Final = "main as mapped"
FORMER: Final = "former path"
OUTSIDE_M: Final = 1.5
"""A clean-out stands outside the wall by about so much (no source)."""
START_M: Final = 0.3
HOUSE_GROSS: Final = (0.1, 15.0)
MAIN_GROSS: Final = (0.2, 15.0)
"""Share of runs that end elsewhere than at the mapped main, and by how much (no source)."""
FORMER_M: Final = (1.5, 0.5)
"""A former path, across and along: its points err together, so each weighs little (no source)."""
FORMER_GROSS: Final = (0.1, 5.0)
MOST_FORMER: Final = 6
LEAST_FORMER_APART_M: Final = 3.0
NOT_AT_THE_HOUSE: Final = frozenset({"manhole", "main", "open pipe"})
"""Accesses that say nothing of the house."""


def map_keys(job: Job) -> tuple[Key, ...]:
    """Keys for what the map ties down: the start, and stations of a former path."""
    keys = []
    if _house(job) is not None:
        keys.append(Key(HOUSE, None, None, 0.0, START_M))
    for station, _ in _former(job):
        keys.append(Key(_former_name(station), None, None, station, FORMER_M[1]))
    return tuple(keys)


def map_anchors(job: Job, keys: Keys, findings: Sequence[Finding]) -> tuple[Anchor, ...]:
    """Return the map's weak anchors, those whose stations have keys."""
    found = []
    house, at = _house(job), keys.index(HOUSE)
    if house is not None and at is not None:
        middle, spread = _moments(house)
        spread += np.eye(2) * (OUTSIDE_M**2 + house.sd_m**2)
        found.append(Anchor(HOUSE, at, middle[None], spread[None], *HOUSE_GROSS, weak=True))
    end = _end_key(job, keys, findings)
    for main in job.mains:
        if end is not None and main.tap is None and len(main.points) >= 2:
            middles, spreads = _stretches(main)
            found.append(Anchor(MAIN, end, middles, spreads, *MAIN_GROSS, weak=True))
            break
    for station, point in _former(job):
        at = keys.index(_former_name(station))
        if at is not None:
            spread = np.eye(2) * FORMER_M[0] ** 2
            name = _former_name(station)
            found.append(Anchor(name, at, point[None], spread[None], *FORMER_GROSS, weak=True))
    return tuple(found)


def _former_name(station_m: float) -> str:
    return f"{FORMER} at {station_m:.1f} m"


def _house(job: Job) -> Parcel | None:
    """The house that the line leaves, where the map shows just one that it can be."""
    if job.start_point is not None or not _starts_at_the_house(job):
        return None
    buildings = [one for one in job.parcels if one.kind is ParcelKind.BUILDING]
    owner = job.owner.name if job.owner is not None else None
    mine = [one for one in buildings if owner and one.owner == owner]
    fit = [one for one in (mine or buildings) if _sound(one)]
    return fit[0] if len(fit) == 1 else None


def _sound(parcel: Parcel) -> bool:
    return len(parcel.ring) >= 3 and _polygon(parcel).is_valid and _polygon(parcel).area > 1.0


def _polygon(parcel: Parcel) -> shapely.Polygon:
    return shapely.Polygon([(p.east_m, p.north_m) for p in parcel.ring])


def _starts_at_the_house(job: Job) -> bool:
    kinds = {access.name: access.kind for access in job.line.accesses}
    told = [run.start_access for run in job.runs if not run.reversed_stationing]
    named = [kinds.get(name, name).lower() for name in told if name]
    with_flow = all(run.direction is Direction.WITH_FLOW for run in job.runs if run.direction)
    return bool(named) and with_flow and not any(_elsewhere(one) for one in named)


def _elsewhere(kind: str) -> bool:
    return any(word in kind for word in NOT_AT_THE_HOUSE)


def _moments(parcel: Parcel) -> tuple[Floats, Floats]:
    """Mean and covariance of a point that may be anywhere in an outline.

    By triangles from the first corner, signed: a triangle's second moment about its
    corner o is ``area / 12 * (a a' + b b' + (a + b)(a + b)')`` (textbook, from memory).
    """
    ring = np.array([(p.east_m, p.north_m) for p in parcel.ring])
    first = ring[0]
    total, mean, square = 0.0, np.zeros(2), np.zeros((2, 2))
    for a, b in zip(ring[1:-1] - first, ring[2:] - first, strict=True):
        area = 0.5 * float(a[0] * b[1] - a[1] * b[0])
        total += area
        mean += area * (a + b) / 3.0
        square += area / 12.0 * (np.outer(a, a) + np.outer(b, b) + np.outer(a + b, a + b))
    mean /= total
    return first + mean, square / total - np.outer(mean, mean)


def _stretches(main: KnownMain) -> tuple[Floats, Floats]:
    """Middles of the main's straight stretches, and how far from them the end may be."""
    points = np.array([(p.east_m, p.north_m) for p in main.points])
    step = np.diff(points, axis=0)
    step = step[np.hypot(*step.T) > 1e-6]
    middles = points[:-1][np.hypot(*np.diff(points, axis=0).T) > 1e-6] + 0.5 * step
    along = np.einsum("si,sj->sij", step, step) / 12.0
    return middles, along + np.eye(2) * main.sd_m**2


def _end_key(job: Job, keys: Keys, findings: Sequence[Finding]) -> int | None:
    """The key of the end of a run with the flow: where it ends, the main is."""
    with_flow = {run.id for run in job.runs if run.direction is Direction.WITH_FLOW}
    ends = [
        one
        for one in findings
        if one.facts.feature is Feature.END and one.evidence.run_id in with_flow
    ]
    return keys.index(f"finding:{ends[0].id}") if len(ends) == 1 else None


def _former(job: Job) -> Iterable[tuple[float, Floats]]:
    """A few points of the latest former path, well apart."""
    drawn = [visit for visit in job.history.visits if len(visit.path) >= 2]
    if not drawn:
        return []
    path = sorted(max(drawn, key=lambda visit: visit.date).path, key=lambda one: one[0])
    stations = np.array([station for station, _ in path])
    ground = np.array([(point.east_m, point.north_m) for _, point in path])
    length = float(stations[-1] - stations[0])
    count = int(np.clip(length / LEAST_FORMER_APART_M + 1, 2, MOST_FORMER))
    chosen = np.linspace(stations[0], stations[-1], count)
    at = [np.interp(chosen, stations, ground[:, axis]) for axis in (0, 1)]
    return list(zip(chosen.tolist(), np.column_stack(at), strict=True))
