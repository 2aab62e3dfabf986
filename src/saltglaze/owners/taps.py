"""A tap of unknown origin: whom it may serve, and what test would settle it.

Candidates are the buildings and parcels near it. A candidate on the side to which
the tap points, and nearer, is likelier; a share is kept for "dead or unknown". The
weights are our own judgement: belief falls by a factor e every ten metres, and to a
quarter on the wrong side.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from shapely.geometry import Point

from saltglaze.condition.plain import plain_name
from saltglaze.condition.wording import UnitWords
from saltglaze.model.appraisal import AppraisedFinding, Path, Reason, TapQuestion
from saltglaze.model.finding import Clock, Feature
from saltglaze.model.ground import Parcel, ParcelKind, PlanPoint
from saltglaze.model.job import Job
from saltglaze.owners.crossings import Along, along, placed
from saltglaze.owners.ground import Ground, polygon
from saltglaze.owners.ground import words as ground_words

_FADE_M = 10.0
_WRONG_SIDE = 0.25
_FURTHEST_M = 60.0
_DEAD_OR_UNKNOWN = 0.15
_TAPS = {Feature.TAP, Feature.INTRUDING_TAP}


def tap_questions(
    job: Job,
    path: Path | None,
    ground: Ground,
    findings: Sequence[AppraisedFinding],
    words: UnitWords,
) -> tuple[TapQuestion, ...]:
    """Return one question for each tap that is not known to be capped."""
    taps = [f for f in findings if f.finding.facts.feature in _TAPS]
    return tuple(_question(job, path, ground, tap, words) for tap in taps)


def _question(
    job: Job, path: Path | None, ground: Ground, tap: AppraisedFinding, words: UnitWords
) -> TapQuestion:
    here = _where(path, tap)
    side = tap_side(job, tap, here)
    chances = _chances(ground, here, side) if here is not None else ()
    name = plain_name(tap.finding.facts)
    where = words.station(tap.place.station_m)
    return TapQuestion(
        finding_id=tap.finding.id,
        plain=f"{name[0].upper()}{name[1:]}, {where}: {_state(tap)} {_guess(chances)}",
        may_serve=chances,
        test=_test(tap, chances),
        reasons=_reasons(here, side, chances),
    )


def tap_side(job: Job, tap: AppraisedFinding, here: Along | None) -> tuple[float, float] | None:
    """Return the plan direction to which a tap points, or ``None`` where not known.

    3 o'clock is right and 9 o'clock left, looking in the clock's direction of view;
    taps near the soffit or the invert point nowhere.
    """
    clock = tap.place.clock
    if clock is None or clock.all_round or here is None:
        return None
    sideways = math.sin(math.radians(30.0 * _middle(clock)))
    if abs(sideways) < 0.35:
        return None
    forwards = _looks_along_stationing(job, tap, clock)
    if forwards is None:
        return None
    right = 1.0 if (sideways > 0.0) == forwards else -1.0
    east, north = here.direction
    return (right * north, -right * east)


def _middle(clock: Clock) -> float:
    span = 0.0 if clock.to_h is None else (clock.to_h - clock.from_h) % 12.0
    return clock.from_h + span / 2.0


def _looks_along_stationing(job: Job, tap: AppraisedFinding, clock: Clock) -> bool | None:
    """Tell whether the view runs towards growing stations."""
    run_id = tap.finding.evidence.run_id
    run = next((r for r in job.runs if r.id == run_id), job.runs[0] if job.runs else None)
    if run is None:
        return None
    ahead = not run.reversed_stationing
    same_view = clock.view is None or run.direction is None or clock.view is run.direction
    return ahead if same_view else not ahead


def _where(path: Path | None, tap: AppraisedFinding) -> Along | None:
    at_m = tap.place.station_m.value
    if path is None or at_m is None:
        return None
    return along(placed(path), at_m)


def _chances(
    ground: Ground, here: Along, side: tuple[float, float] | None
) -> tuple[tuple[str, float], ...]:
    weights = [
        (_called(parcel), weight)
        for parcel in _candidates(ground)
        if (weight := _weight(parcel, here.point, side)) > 0.0
    ]
    total = sum(weight for _, weight in weights)
    if total <= 0.0:
        return ()
    live = 1.0 - _DEAD_OR_UNKNOWN
    chances = [(name, round(live * weight / total, 3)) for name, weight in weights]
    ranked = sorted(chances, key=lambda pair: -pair[1])[:5]
    rest = round(1.0 - sum(chance for _, chance in ranked), 3)
    return (*ranked, ("dead, or none of these", rest))


def _candidates(ground: Ground) -> list[Parcel]:
    buildings = [p for p in ground.parcels if p.kind is ParcelKind.BUILDING]
    return buildings or [p for p in ground.parcels if p.kind is ParcelKind.PARCEL]


def _called(parcel: Parcel) -> str:
    return ground_words(parcel)


def _weight(parcel: Parcel, at: PlanPoint, side: tuple[float, float] | None) -> float:
    shape, where = polygon(parcel), Point(at.east_m, at.north_m)
    distance = float(shape.distance(where))
    if distance > _FURTHEST_M:
        return 0.0
    weight = math.exp(-distance / _FADE_M)
    if side is None or shape.covers(where):
        return weight
    centre = shape.centroid
    towards = (centre.x - at.east_m) * side[0] + (centre.y - at.north_m) * side[1]
    return weight if towards > 0.0 else weight * _WRONG_SIDE


def _state(tap: AppraisedFinding) -> str:
    facts = tap.finding.facts
    if facts.capped:
        return "it is capped."
    if facts.active:
        return "water was seen to come from it."
    return "whether it is in use is not known."


def _guess(chances: Sequence[tuple[str, float]]) -> str:
    if len(chances) < 2:
        return "Whom it serves is not known."
    name, chance = chances[0]
    return f"Likeliest it serves {name} ({chance * 100.0:.0f} %), which a test must confirm."


def _test(tap: AppraisedFinding, chances: Sequence[tuple[str, float]]) -> str:
    if tap.finding.facts.capped:
        return "none needed while it stays capped; see that the cap holds water"
    first = f" Begin at {chances[0][0]}." if len(chances) > 1 else ""
    return (
        "Dye test: with the occupants' consent and the sewer authority told, put non-toxic dye "
        "and plenty of water in at each candidate's fixtures in turn, and watch the tap by "
        f"camera.{first} Use another colour or flush clear between houses; wait several times as "
        "long as the water needs. Dye seen proves a connection; dye not seen proves little: "
        "repeat. A transmitter sent up the branch, or smoke in dry weather with notice given, "
        "can tell more."
    )


def _reasons(
    here: Along | None, side: tuple[float, float] | None, chances: Sequence[tuple[str, float]]
) -> tuple[Reason, ...]:
    if here is None:
        return (Reason(because="the tap has no place on the map, so no house can be named"),)
    if not chances:
        return (Reason(because="no parcel or building is on the map near it"),)
    pointing = "the side it points to is known" if side else "the side it points to is not known"
    return (
        Reason(
            because=f"candidates by distance; {pointing}",
            rule="belief falls by e every 10 m, to a quarter on the wrong side; "
            "15 % kept for others",
            source="our own judgement",
        ),
        Reason(
            because="if another house drains through here, all owners served may have to share "
            "the cost and agree to the work",
            source="Lancaster PA, city page on shared laterals (confirmed there)",
        ),
        Reason(
            because="what a dye test proves and does not",
            source="City of Solon OH (confirmed); limits of a negative from memory",
        ),
    )
