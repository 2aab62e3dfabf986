"""Whose stretch is whose: ground from the map, pipe from the cited local rule."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence

from saltglaze.condition.wording import US, UnitWords
from saltglaze.model.appraisal import (
    AppraisedFinding,
    FindingPlace,
    Ownership,
    Path,
    Position,
    Reason,
    Stretch,
)
from saltglaze.model.base import Estimate
from saltglaze.model.ground import Parcel, ParcelKind
from saltglaze.model.job import Job
from saltglaze.owners.crossings import along, crossings, placed
from saltglaze.owners.ground import Ground
from saltglaze.owners.ground import words as ground_words
from saltglaze.owners.rules import NO_RULE, pipe_owner
from saltglaze.owners.taps import tap_questions

_SURE = 0.9


def ownership(
    job: Job,
    position: Position,
    places: Sequence[FindingPlace],
    findings: Sequence[AppraisedFinding],
    *,
    words: UnitWords = US,
) -> Ownership:
    """Say whose ground and whose pipe each stretch is, and whose each finding.

    Without a plan, parcels or a cited rule the answer is unknown, with the reason.
    """
    ground = Ground(job.parcels)
    path = position.paths[0] if position.paths else None
    standing = [found for found in findings if found.finding.stands]
    stretches = _stretches(job, position, path, ground)
    return Ownership(
        stretches=stretches,
        taps=tap_questions(job, path, ground, standing, words),
        plain=_plain(job, stretches, words),
        by_finding={place.finding_id: _of_place(job, ground, place, stretches) for place in places},
        reasons=_reasons(job, path, ground),
    )


def _stretches(
    job: Job, position: Position, path: Path | None, ground: Ground
) -> tuple[Stretch, ...]:
    if path is None or not ground.parcels or len(placed(path)) < 2:
        return _unplaced(job, position)
    points = placed(path)
    cuts = crossings(path, ground)
    starts = [Estimate.of(points[0].station_m, 0.0), *(cut.station_m for cut in cuts)]
    ends = [*(cut.station_m for cut in cuts), Estimate.of(points[-1].station_m, 0.0)]
    return tuple(
        _stretch(job, position, ground, start, end) for start, end in zip(starts, ends, strict=True)
    )


def _unplaced(job: Job, position: Position) -> tuple[Stretch, ...]:
    length_m = position.length_m
    if not length_m.known:
        return ()
    owner, reason = pipe_owner(job, None, known_ground=False)
    return (
        Stretch(
            from_m=Estimate.of(0.0, 0.0),
            to_m=length_m,
            ground="not known: the line is not tied to a map of parcels",
            pipe_owner=owner,
            reasons=(reason,),
        ),
    )


def _stretch(
    job: Job, position: Position, ground: Ground, start: Estimate, end: Estimate
) -> Stretch:
    middle_m = ((start.value or 0.0) + (end.value or 0.0)) / 2.0
    chances = _chances_at(position.paths, ground, middle_m)
    here = along(placed(position.paths[0]), middle_m)
    parcel = ground.at(here.point) if here is not None else None
    owner, reason = pipe_owner(job, parcel, known_ground=True)
    return Stretch(
        from_m=start,
        to_m=end,
        ground_id=parcel.id if parcel else None,
        ground=ground_words(parcel),
        owner=parcel.owner or None if parcel else None,
        pipe_owner=owner,
        probability=round(chances.get(parcel.id if parcel else None, 0.0), 3),
        reasons=(reason, *_neighbour(job, parcel)),
    )


def _chances_at(paths: Sequence[Path], ground: Ground, station_m: float) -> Counter[str | None]:
    """Return the chance of each outline at a station, over every hypothesis of the path."""
    chances: Counter[str | None] = Counter()
    total = 0.0
    for path in paths:
        here = along(placed(path), station_m)
        if here is None:
            continue
        total += path.weight
        for name, chance in ground.chances(here.point, here.covariance).items():
            chances[name] += path.weight * chance  # type: ignore[assignment]
    return Counter({name: c / total for name, c in chances.items()}) if total else chances


def _neighbour(job: Job, parcel: Parcel | None) -> tuple[Reason, ...]:
    """Note where the line runs through ground of someone else."""
    if parcel is None or parcel.kind is not ParcelKind.PARCEL or job.owner is None:
        return ()
    if not parcel.owner or parcel.owner == job.owner.name:
        return ()
    because = f"the ground belongs to {parcel.owner}: ask for an easement and for leave to dig"
    return (Reason(because=because, source="common practice, no source"),)


def _of_place(job: Job, ground: Ground, place: FindingPlace, stretches: Sequence[Stretch]) -> str:
    if place.point is not None and ground.parcels:
        return _of_point(job, ground, place)
    at_m = place.station_m.value
    inside = [s for s in stretches if at_m is None or _holds(s, at_m)] or list(stretches)
    owners = {stretch.pipe_owner for stretch in inside}
    if len(owners) == 1 and None not in owners:
        return str(owners.pop())
    if len(owners) > 1:
        return "not known: its place along the line is not known, and the line changes hands"
    because = stretches[0].reasons[0].because if stretches else _why_unplaced(job)
    return f"not known: {because}"


def _why_unplaced(job: Job) -> str:
    if job.place.ownership is None:
        return NO_RULE
    return pipe_owner(job, None, known_ground=False)[1].because


def _of_point(job: Job, ground: Ground, place: FindingPlace) -> str:
    """Add up the chances of each owner over the grounds that a point may lie in."""
    if place.point is None:
        return "not known"
    owners: dict[str, float] = {}
    for ground_id, chance in ground.chances(place.point, place.covariance).items():
        owner, reason = pipe_owner(job, ground.by_id(ground_id), known_ground=True)
        name = owner or f"not known: {reason.because}"
        owners[name] = owners.get(name, 0.0) + chance
    likeliest = max(owners, key=lambda name: owners[name])
    if owners[likeliest] >= _SURE or likeliest.startswith("not known"):
        return likeliest
    return f"{likeliest} ({owners[likeliest] * 100.0:.0f} %; it lies near a boundary)"


def _holds(stretch: Stretch, station_m: float) -> bool:
    start = stretch.from_m.value if stretch.from_m.value is not None else 0.0
    end = stretch.to_m.value if stretch.to_m.value is not None else float("inf")
    return start <= station_m <= end


def _plain(job: Job, stretches: Sequence[Stretch], words: UnitWords) -> str:
    if not stretches:
        return "Whose line it is cannot be said: neither its course nor its length is known."
    if job.place.ownership is None:
        unsaid = f"Whose pipe it is cannot be said: {NO_RULE}."
        if not any(stretch.ground_id for stretch in stretches):
            return f"{unsaid} Nor is it known under whose ground it runs."
        grounds = "; ".join(_said(stretch, words) for stretch in stretches)
        return f"{unsaid} It runs under: {grounds}."
    parts = []
    for owner, group in itertools.groupby(stretches, key=lambda s: s.pipe_owner):
        run = list(group)
        start, end = run[0].from_m.value or 0.0, run[-1].to_m.value or 0.0
        who = owner or f"not known ({run[0].reasons[0].because})"
        parts.append(f"{words.length(start)} to {words.length(end)}: {who}")
    return "Who keeps the pipe, by the rule cited: " + "; ".join(parts) + "."


def _said(stretch: Stretch, words: UnitWords) -> str:
    start, end = stretch.from_m.value or 0.0, stretch.to_m.value or 0.0
    return f"{words.length(start)} to {words.length(end)}, {stretch.ground}"


def _reasons(job: Job, path: Path | None, ground: Ground) -> tuple[Reason, ...]:
    rule = job.place.ownership
    cited = Reason(because=NO_RULE, rule="no default is taken")
    if rule is not None:
        cited = Reason(because="the local rule as given", rule=rule.split, source=rule.citation)
    mapped = []
    if path is None:
        mapped.append(Reason(because="the line is not tied to the ground"))
    if not ground.parcels:
        mapped.append(Reason(because="no parcels were given"))
    mapped += [Reason(because=f"easement {e.id}", source=e.source) for e in ground.easements]
    return (cited, *mapped)
