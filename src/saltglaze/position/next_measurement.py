"""Which one measurement would shrink the margin of a dig most, and when none is worth it.

A measurement that would observe ``H x`` with noise ``R`` shrinks the covariance ``S`` of
the spot (``S = J P J'``) to ``S - A (H P H' + R)^-1 A'`` with ``A = J P H'``, whatever it
will read: the gain is known before anyone walks out. Margins are the long half axis of
the 95 % ellipse. Where several answers still stand, the margin reaches to the furthest
of them until a measurement tells them apart. What the drawn ellipse has over the
covariance's (bends nobody mentioned, kinks) shrinks with the distance to the nearest point.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from saltglaze.model.appraisal import FindingPlace, LineSegment, NextMeasurement
from saltglaze.model.base import Z95, Estimate
from saltglaze.model.finding import Feature, Finding
from saltglaze.position import priors
from saltglaze.position.adjust import Floats
from saltglaze.position.depths import depth_sd_m
from saltglaze.position.dig import WORTH_DIGGING
from saltglaze.position.hypotheses import Hypothesis
from saltglaze.position.levels import GROUND_SHOT_SD_M
from saltglaze.position.naming import metres
from saltglaze.position.plan import PlanFit
from saltglaze.position.profile import Profile
from saltglaze.position.spread import Spot

REACH95: Final = math.sqrt(-2.0 * math.log(0.05))
"""Half axis of the 95 % ellipse per standard deviation: sqrt of chi-square, 2 degrees."""
WORST_FIRST: Final = (
    Feature.COLLAPSE,
    Feature.HOLE,
    Feature.BREAK,
    Feature.DEFORMATION,
    Feature.FRACTURE,
    Feature.OFFSET_JOINT,
    Feature.OBSTRUCTION,
    Feature.COULD_NOT_PASS,
    Feature.OPEN_JOINT,
    Feature.INTRUDING_TAP,
    Feature.ROOTS,
    Feature.INFILTRATION,
    Feature.CRACK,
)
"""Order in which digs matter before anything is graded (common practice, no source)."""
SAFE_M: Final = 0.05 / priors.UNSAID_BENDS_PER_M
"""On a stretch no longer than this an unmentioned bend has a chance under 5 %."""
MOST_TARGETS: Final = 3
MOST_OFFERED: Final = 3
GOOD_ENOUGH_M: Final = 0.5
"""Half of the least trench a person can work in: a smaller margin saves no digging."""
WORTH_M: Final = 0.2
"""A gain below this is not worth a trip (common practice, no source)."""
NEW_POINT_M: Final = 0.12
"""A good new surface point, per axis: marking and tape or RTK (no source)."""
TAPED_M: Final = 0.05
"""A mark on the ground taped again from three marks, per axis (no source)."""
RIVAL: Final = 0.05
GRID: Final = 25
DEFECT: Final = "the defect itself"
DEPTH_ENOUGH_M: Final = 0.3
"""A depth margin that no longer changes how a trench is shored or dug (no source)."""
WORTH_DEPTH_M: Final = 0.1


@dataclass(frozen=True)
class Offer:
    """A measurement that could be taken: what, where, the rows it observes and its noise."""

    kind: str
    action: str
    station_m: float
    rows: Floats
    noise: Floats
    tells_apart: bool
    because: str


def next_measurements(
    findings: Sequence[Finding],
    places: Sequence[FindingPlace],
    hypotheses: Sequence[Hypothesis],
    segments: Sequence[LineSegment],
    length_m: Estimate,
    profile: Profile | None = None,
    spots: Mapping[str, Spot] | None = None,
) -> tuple[NextMeasurement, ...]:
    """Rank the measurements for the digs that matter most, best first for each.

    ``spots`` are where draws from all answers put the findings, by id.
    """
    by_id = {place.finding_id: place for place in places}
    told: list[NextMeasurement] = []
    for finding in _targets(findings):
        place = by_id.get(finding.id)
        if place is None or not place.station_m.known:
            continue
        if hypotheses:
            spot = (spots or {}).get(finding.id)
            told += _ranked(finding, hypotheses, findings, segments, spot)
        else:
            told.append(_first_locate(finding, place, length_m))
        told += _depth(finding, place, profile)
    return tuple(told)


def _targets(findings: Sequence[Finding]) -> list[Finding]:
    order = {feature: rank for rank, feature in enumerate(WORST_FIRST)}
    worth = [one for one in findings if one.facts.feature in WORTH_DIGGING]
    worth = [one for one in worth if one.facts.feature in order]
    return sorted(worth, key=lambda one: order[one.facts.feature])[:MOST_TARGETS]


def _first_locate(finding: Finding, place: FindingPlace, length_m: Estimate) -> NextMeasurement:
    """Nothing ties the line down yet: the spot may be anywhere the line can reach."""
    reach = max(length_m.value or 0.0, place.station_m.value or 0.0, 1.0)
    return NextMeasurement(
        finding_id=finding.id,
        action="locate the head on the ground with the lens at the defect, and at one more place",
        station_m=place.station_m.value,
        margin_before_m=reach,
        margin_after_m=REACH95 * math.hypot(NEW_POINT_M, priors.MOMENT_M),
        worth_it=True,
        because="nothing ties the line to the ground yet",
    )


def _ranked(
    finding: Finding,
    hypotheses: Sequence[Hypothesis],
    findings: Sequence[Finding],
    segments: Sequence[LineSegment],
    drawn: Spot | None,
) -> list[NextMeasurement]:
    best = hypotheses[0].fit
    key = best.keys.index(f"finding:{finding.id}")
    if key is None:
        return []
    _, spot = best.key_rows([key])
    rivals = _rivals(hypotheses, key)
    plain = _margin(spot[0] @ best.covariance @ spot[0].T)
    wide = plain if drawn is None else drawn.ellipse(0.95).semi_major_m
    hidden = math.sqrt(max(wide**2 - plain**2, 0.0))
    before = max(wide, rivals)
    named = {one.id: one.facts.feature.value.replace("_", " ") for one in findings}
    offers = [*_offers(best, hypotheses, key, named), *_joint_count(best, key, segments)]
    judged = []
    for offer in offers:
        after = _margin(_shrunk(best.covariance, spot[0], offer))
        after = math.hypot(after, hidden * _still_hidden(best, key, offer))
        after = after if offer.tells_apart else max(after, rivals)
        judged.append((after, offer))
    judged.sort(key=lambda one: one[0])
    return _told(finding, before, judged)


def _still_hidden(best: PlanFit, key: int, offer: Offer) -> float:
    """Share of the drawn margin's surplus that a new point would leave.

    It goes with the distance to the nearest point, and is gone where a bend on that
    stretch that nobody mentioned is too unlikely for a 95 % margin.
    """
    if offer.kind in ("tape", "joints"):
        return 1.0
    mean = best.keys.mean_m
    at = float(mean[key])
    held = mean[[anchor.key for anchor in best.problem.anchors if not anchor.weak]]
    if not held.size:
        return 0.0
    now = float(held[int(np.argmin(np.abs(held - at)))]) - at
    then = offer.station_m - at
    beyond = at < held.min() or held.max() < at
    if (beyond and now * then < 0.0) or abs(then) < SAFE_M:
        return 0.0
    return min((abs(then) - SAFE_M) / max(abs(now) - SAFE_M, 1e-6), 1.0)


def _told(
    finding: Finding, before: float, judged: Sequence[tuple[float, Offer]]
) -> list[NextMeasurement]:
    told = []
    for after, offer in _distinct(judged):
        worth = before > GOOD_ENOUGH_M and before - after > WORTH_M
        told.append(
            NextMeasurement(
                finding_id=finding.id,
                action=offer.action,
                station_m=offer.station_m,
                margin_before_m=before,
                margin_after_m=min(after, before),
                worth_it=worth,
                because=offer.because if worth else _not_worth(before, after),
            )
        )
    if told and not told[0].worth_it:
        return told[:1]
    return [one for one in told if one.worth_it]


def _not_worth(before: float, after: float) -> str:
    if before <= GOOD_ENOUGH_M:
        return f"the spot is known to {metres(before)}: the least trench holds it, dig"
    return f"even this would only bring {metres(before)} down to {metres(after)}"


def _distinct(judged: Sequence[tuple[float, Offer]]) -> list[tuple[float, Offer]]:
    """The best offer of each kind, best first."""
    kept: dict[str, tuple[float, Offer]] = {}
    for after, offer in judged:
        kept.setdefault(offer.kind, (after, offer))
    return list(kept.values())[:MOST_OFFERED]


def _margin(covariance: Floats) -> float:
    return REACH95 * math.sqrt(max(float(np.linalg.eigvalsh(covariance)[-1]), 0.0))


def _shrunk(covariance: Floats, spot: Floats, offer: Offer) -> Floats:
    seen = offer.rows @ covariance
    shared = seen @ spot.T
    inner = seen @ offer.rows.T + offer.noise
    return np.asarray(spot @ covariance @ spot.T - shared.T @ np.linalg.solve(inner, shared))


def _rivals(hypotheses: Sequence[Hypothesis], key: int) -> float:
    """How far the furthest answer that still stands lies from the likeliest, at a key."""
    first = hypotheses[0].fit.at_keys([key])[0][0]
    away = [
        float(np.hypot(*(one.fit.at_keys([key])[0][0] - first)))
        for one in hypotheses[1:]
        if one.weight >= RIVAL
    ]
    return max(away, default=0.0)


def _offers(
    best: PlanFit, hypotheses: Sequence[Hypothesis], key: int, named: Mapping[str, str]
) -> list[Offer]:
    offers = [_at_key(best, hypotheses, key, DEFECT)]
    for number, other in enumerate(best.keys.keys):
        name = other.name.removeprefix("finding:")
        if number != key and other.name.startswith("finding:") and name in named:
            offers.append(_at_key(best, hypotheses, number, f"the {named[name]}"))
    offers += _on_grid(best, hypotheses)
    offers += [
        _taped_again(best, n)
        for n, anchor in enumerate(best.problem.anchors)
        if best.good[n] > 0.5 and not anchor.weak
    ]
    return offers


def _at_key(best: PlanFit, hypotheses: Sequence[Hypothesis], key: int, where: str) -> Offer:
    """Put the head where the picture shows a known thing, and locate it."""
    station = float(best.keys.mean_m[key])
    _, rows = best.key_rows([key])
    along = best.rows(np.array([station]))[2][0]
    noise = np.eye(2) * NEW_POINT_M**2 + np.outer(along, along) * priors.MOMENT_M**2
    positions = [one.fit.at_keys([key])[0][0] for one in hypotheses if one.weight >= RIVAL]
    return Offer(
        "defect" if where == DEFECT else "landmark",
        f"locate the head with the lens at {where}",
        station,
        rows[0],
        noise,
        _apart(positions),
        f"the picture shows when the head is there, station {metres(station)}",
    )


def _on_grid(best: PlanFit, hypotheses: Sequence[Hypothesis]) -> list[Offer]:
    """Put the head at a counter distance, and locate it."""
    low, high = float(best.problem.grid_m[0]), float(best.problem.grid_m[-1])
    stations = np.linspace(max(low, 0.0), high, GRID)
    _, rows, along = best.rows(stations)
    order = np.argsort(best.keys.mean_m)
    loose = np.interp(stations, best.keys.mean_m[order], best.keys.sd_m()[order])
    each = [one.fit.at(stations)[0] for one in hypotheses if one.weight >= RIVAL]
    return [
        Offer(
            "station",
            "locate the head at this station",
            float(station),
            rows[n],
            np.eye(2) * NEW_POINT_M**2 + np.outer(along[n], along[n]) * loose[n] ** 2,
            _apart([positions[n] for positions in each]),
            "it lies where the line is least tied down for this spot",
        )
        for n, station in enumerate(stations)
    ]


def _apart(positions: Sequence[Floats]) -> bool:
    """Whether a point there would tell all answers apart."""
    if len(positions) < 2:
        return True
    least = min(float(np.hypot(*(other - positions[0]))) for other in positions[1:])
    return least > 6.0 * NEW_POINT_M


def _taped_again(best: PlanFit, number: int) -> Offer:
    """Tape a painted mark again from three known marks: sharper, and no mirror left."""
    anchor = best.problem.anchors[number]
    _, rows = best.key_rows([anchor.key])
    spot = np.eye(2) * (priors.SONDE_SPOT_M**2 + TAPED_M**2)
    old = np.linalg.inv(anchor.covariances[best.start.choice[number]])
    gain = np.linalg.inv(spot) - old
    size, axes = np.linalg.eigh(gain)
    noise = axes @ np.diag(1.0 / np.maximum(size, 1e-6)) @ axes.T
    return Offer(
        "tape",
        f"tape the mark of {anchor.name} from three known marks",
        float(best.keys.mean_m[anchor.key]),
        rows[0],
        noise,
        len(anchor.points) > 1,
        "its fix is coarse or has two solutions",
    )


def _joint_count(best: PlanFit, key: int, segments: Sequence[LineSegment]) -> list[Offer]:
    """Count joints on the film between the spot and the nearest located place."""
    station = float(best.keys.mean_m[key])
    section = next(
        (
            one.section_length_m
            for one in segments
            if one.section_length_m
            and (one.start_m.value or 0.0) <= station <= (one.end_m.value or math.inf)
        ),
        None,
    )
    if section is None:
        return []
    offers = []
    for anchor in best.problem.anchors:
        if anchor.weak:
            continue
        away = abs(float(best.keys.mean_m[anchor.key]) - station)
        count = round(away / section)
        if count < 1:
            continue
        row = best.station_row(key) - best.station_row(anchor.key)
        single = (priors.SECTION_SHARE * section) ** 2 * count
        sd = math.sqrt(single + (priors.LAYING_SHARE * away) ** 2 + 2.0 * priors.MOMENT_M**2)
        offers.append(
            Offer(
                "joints",
                f"count the joints on the film from {anchor.name} to the defect",
                station,
                row[None, :],
                np.array([[sd**2]]),
                False,
                f"about {count} sections of {metres(section)}; no one need go out",
            )
        )
    return offers


def _depth(finding: Finding, place: FindingPlace, profile: Profile | None) -> list[NextMeasurement]:
    """A depth read or a ground level shot at the defect, where its depth is loose.

    Their gain follows from the long section's covariance as it does in plan.
    """
    depth, station = place.depth_m, place.station_m.value
    if profile is None or station is None or depth is None or depth.value is None:
        return []
    before = Z95 * depth.spread
    if before <= DEPTH_ENOUGH_M:
        return []
    at = np.array([station])
    rows = np.vstack([profile.rows(at, invert=-1.0, ground=1.0), profile.rows(at, ground=1.0)])
    cov = profile.solution.covariance(rows)
    gains = (
        (
            cov[0, 0] ** 2 / (cov[0, 0] + depth_sd_m(depth.value) ** 2),
            "read the depth with the head at the defect",
            "the depth there is only carried over from its neighbours",
        ),
        (
            cov[0, 1] ** 2 / (cov[1, 1] + GROUND_SHOT_SD_M**2),
            "shoot the ground level at the defect",
            "the ground between the levels shot is only guessed at",
        ),
    )
    told = []
    for gain, action, because in sorted(gains, key=lambda one: -one[0]):
        after = Z95 * math.sqrt(max(depth.spread**2 - float(gain), 0.0))
        if before - after >= WORTH_DEPTH_M:
            told.append(
                NextMeasurement(
                    finding_id=finding.id,
                    action=action,
                    station_m=station,
                    margin_before_m=before,
                    margin_after_m=after,
                    worth_it=True,
                    because=because,
                )
            )
    return told
