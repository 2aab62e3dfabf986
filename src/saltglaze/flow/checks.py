"""The named checks of drainage, each with its verdict and reason."""

from __future__ import annotations

from collections.abc import Sequence

from saltglaze.condition.plain import plain_name
from saltglaze.condition.wording import UnitWords
from saltglaze.flow.codebook import least_slope, meets_slope, most_units, tables
from saltglaze.flow.load import PeakLoad
from saltglaze.flow.seen import IN_THE_WAY, STOPS, WATER, is_bad, is_seen
from saltglaze.flow.stretches import Reach
from saltglaze.model.appraisal import AppraisedFinding, Check, Position, StretchFlow, Verdict
from saltglaze.model.line import Line


def fall_checks(
    line: Line, parts: Sequence[Reach], family: str | None, words: UnitWords
) -> list[Check]:
    """Lay the fall of each stretch beside the fall that is asked for."""
    if not any(part.slope.known for part in parts):
        return [
            Check(
                name="fall",
                verdict=Verdict.SKIPPED,
                reason="no depths or levels were taken along the line, so its fall is not known",
                mend="take the depth and a ground level at two or more locates",
            )
        ]
    checks = [_fall_check(line, part, family, words) for part in _joined(line, parts, family)]
    return [check for check in checks if check is not None]


def _joined(line: Line, parts: Sequence[Reach], family: str | None) -> list[Reach]:
    """Join reaches that have one fall and are asked for one fall."""
    joined: list[Reach] = []
    for part in parts:
        before = joined[-1] if joined else None
        if (
            before is not None
            and before.slope == part.slope
            and _required(line, before, family) == _required(line, part, family)
        ):
            joined[-1] = before.model_copy(update={"to_m": part.to_m})
        else:
            joined.append(part)
    return joined


def _fall_check(line: Line, part: Reach, family: str | None, words: UnitWords) -> Check | None:
    if part.slope.value is None:
        return None
    where = f"{words.length(part.from_m)} to {words.length(part.to_m)}"
    low, high = part.slope.interval95
    bounds = f"{low * 100.0:.1f} and {high * 100.0:.1f} %"
    said = f"{words.slope(part.slope.value)}, with 95 % probability between {bounds}"
    if high < 0.0:
        return Check(name="fall", verdict=Verdict.DOUBT, reason=f"runs uphill: {said}", about=where)
    required = _required(line, part, family)
    if required is None:
        return Check(
            name="fall",
            verdict=Verdict.NOTE,
            reason=f"falls {said}; the code's least slope is not known",
            about=where,
        )
    need, source = required
    need_words = words.slope(need)
    if meets_slope(low, need):
        kind, reason = Verdict.GOOD, f"falls {said}; at least {need_words} is asked for ({source})"
    elif not meets_slope(high, need):
        kind, reason = (
            Verdict.DOUBT,
            f"falls {said}, less than the {need_words} asked for ({source})",
        )
    else:
        kind = Verdict.NOTE
        reason = f"falls {said}; whether it meets {need_words} cannot be told ({source})"
    return Check(name="fall", verdict=kind, reason=reason, about=where)


def _required(line: Line, part: Reach, family: str | None) -> tuple[float, str] | None:
    if line.slope_required is not None:
        return line.slope_required, "as stated for this line"
    diameter_m = part.segment.diameter_m if part.segment else None
    if family is None or diameter_m is None:
        return None
    return least_slope(family, diameter_m)


def fixture_checks(load: PeakLoad) -> list[Check]:
    """Name the fixtures that the peak flow leaves out."""
    if not load.unknown_kinds:
        return []
    return [
        Check(
            name="fixtures",
            verdict=Verdict.NOTE,
            reason=f"left out, as the table lacks them: {', '.join(load.unknown_kinds)}",
            mend="use the kinds that the manual lists",
        )
    ]


def capacity_check(solved: Sequence[StretchFlow], load: PeakLoad) -> Check:
    """Say whether the peak flow fits."""
    judged = [part.enough for part in solved if part.enough is not None]
    if not load.flow_m3_s.known:
        return Check(name="capacity", verdict=Verdict.SKIPPED, reason=load.plain)
    if any(enough is False for enough in judged):
        return Check(
            name="capacity",
            verdict=Verdict.DOUBT,
            reason="the peak flow of the fixtures is more than the line can carry as it is",
        )
    if solved and len(judged) == len(solved):
        return Check(
            name="capacity",
            verdict=Verdict.GOOD,
            reason="the line can carry the peak flow of the fixtures with what lies in it now",
        )
    return Check(
        name="capacity",
        verdict=Verdict.SKIPPED,
        reason="fall or bore is not known well enough to tell whether the peak flow fits",
    )


def units_check(solved: Sequence[StretchFlow], load: PeakLoad, words: UnitWords) -> Check:
    """Say whether the fixtures keep to the code's limit for the bore and fall."""
    skipped = Check(
        name="code load",
        verdict=Verdict.SKIPPED,
        reason="needs fixtures, bore, fall and a code whose table we have",
    )
    if load.fixture_units is None or load.family not in {"ipc", "upc"}:
        return skipped
    for part in solved:
        if part.diameter_m is None or part.slope.value is None:
            continue
        allowed = most_units(load.family, part.diameter_m, part.slope.value)
        if allowed is None:
            continue
        fits = load.fixture_units <= allowed[0]
        reason = (
            f"{load.fixture_units:.0f} fixture units on a {words.size(part.diameter_m)} drain; "
            f"{allowed[0]} are allowed at its slope ({allowed[1]})"
        )
        if not fits:
            return Check(name="code load", verdict=Verdict.DOUBT, reason=reason)
        skipped = Check(name="code load", verdict=Verdict.GOOD, reason=reason)
    return skipped


def cleansing_check(solved: Sequence[StretchFlow]) -> Check:
    """Say whether the line flows fast enough to carry solids off."""
    table = tables()["cleansing"]
    basis = f"{table['shear_source']}; {table['velocity_source']}"
    judged = [part.self_cleansing for part in solved]
    if not judged or all(clean is None for clean in judged):
        return Check(
            name="self-cleansing",
            verdict=Verdict.SKIPPED,
            reason="fall or bore is not known well enough to tell whether it cleans itself",
        )
    if any(clean is False for clean in judged):
        return Check(
            name="self-cleansing",
            verdict=Verdict.DOUBT,
            reason=f"part of the line flows too gently to carry solids off ({basis})",
        )
    return Check(
        name="self-cleansing",
        verdict=Verdict.GOOD,
        reason=f"it flows fast enough to carry solids off where that could be judged ({basis})",
    )


def seen_checks(
    findings: Sequence[AppraisedFinding], position: Position, words: UnitWords
) -> list[Check]:
    """List the water and the things in the way that were seen, and the low spots levels show."""
    water = [
        Check(
            name="standing water",
            verdict=Verdict.DOUBT if is_bad(found) else Verdict.NOTE,
            reason=f"{plain_name(found.finding.facts)}, {words.station(found.place.station_m)}",
            about=found.finding.id,
        )
        for found in findings
        if found.finding.facts.feature in WATER
    ]
    surveyed = [
        Check(
            name="standing water",
            verdict=Verdict.NOTE,
            reason=f"a low spot, {words.station(sag.lowest_m)}: {sag.because}",
            about=sag.id,
        )
        for sag in position.sags
        if not any(is_seen(sag, found) for found in findings)
    ]
    blocked = [
        Check(
            name="in the way",
            verdict=Verdict.DOUBT if is_bad(found) else Verdict.NOTE,
            reason=f"{plain_name(found.finding.facts)}, {words.station(found.place.station_m)}",
            about=found.finding.id,
        )
        for found in findings
        if found.finding.facts.feature in IN_THE_WAY | STOPS
    ]
    return [*water, *surveyed, *blocked]
