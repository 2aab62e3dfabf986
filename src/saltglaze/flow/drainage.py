"""Does it drain, and why.

Each stretch is solved for the fall and bore it has; what stands or lies in it takes
capacity away; the code's least slope and fixture limit are checked. The answer is
yes, no, or not known, with the reason.
"""

from __future__ import annotations

from collections.abc import Sequence

from saltglaze.condition.plain import plain_name
from saltglaze.condition.stretch import segment_at
from saltglaze.condition.wording import US, UnitWords
from saltglaze.flow.codebook import (
    code_family,
    least_slope,
    meets_slope,
    most_units,
    roughness,
    tables,
)
from saltglaze.flow.deposits import capacity_left
from saltglaze.flow.load import PeakLoad, peak_load
from saltglaze.flow.stretches import Reach, reaches, solve
from saltglaze.model.appraisal import (
    AppraisedFinding,
    Check,
    Drainage,
    LineSegment,
    Position,
    Reason,
    Sag,
    StretchFlow,
    Verdict,
)
from saltglaze.model.base import Z95, Estimate
from saltglaze.model.finding import Feature
from saltglaze.model.line import Line

_WATER = {Feature.SAG, Feature.STANDING_WATER, Feature.CAMERA_UNDER_WATER}
_STOPS = {Feature.COLLAPSE}
_IN_THE_WAY = {
    Feature.ROOTS,
    Feature.ATTACHED_DEPOSITS,
    Feature.SETTLED_DEPOSITS,
    Feature.OBSTRUCTION,
    Feature.INTRUDING_TAP,
    Feature.INTRUDING_SEAL,
    Feature.COULD_NOT_PASS,
}
_BAD_SERVICE = 4
_DEEP_SHARE = 0.5
"""Severe from half of the diameter: Seattle Public Utilities (confirmed)."""


def drainage(
    line: Line,
    segments: Sequence[LineSegment],
    position: Position,
    findings: Sequence[AppraisedFinding],
    place_code: str = "",
    *,
    words: UnitWords = US,
) -> Drainage:
    """Say whether the line drains.

    ``place_code`` names the plumbing code in force as the job gives it. Unknown
    slope, bore or fixtures leave the answer open unless what was seen decides it.
    """
    standing = [found for found in findings if found.finding.stands]
    family = code_family(place_code)
    load = peak_load(line.fixtures, family)
    parts = reaches(segments, position.falls, position.length_m.value)
    solved = tuple(solve(part, load.flow_m3_s, _left(part, standing), words) for part in parts)
    checks = (
        *_fall_checks(line, parts, family, words),
        *_fixture_checks(load),
        _capacity_check(solved, load),
        _units_check(solved, load, words),
        _cleansing_check(solved),
        *_seen_checks(standing, position, words),
    )
    deep = [sag for sag in position.sags if _is_deep(sag, segments)]
    drains, plain = _answer(solved, standing, deep, words)
    return Drainage(
        drains=drains,
        plain=plain,
        stretches=solved,
        peak_load=load.plain,
        checks=checks,
        reasons=(*load.reasons, *_blocked_reasons(parts, standing)),
    )


def _left(part: Reach, findings: Sequence[AppraisedFinding]) -> float:
    """Return the share of capacity that the worst blockage in a reach leaves."""
    n, _ = roughness(part.segment.material if part.segment else None)
    blocked = [share for found in findings if (share := _blocked(found)) and _inside(found, part)]
    return capacity_left(max(blocked), n, tables()["bed"]["n"]) if blocked else 1.0


def _blocked(found: AppraisedFinding) -> float | None:
    facts = found.finding.facts
    if facts.feature not in _IN_THE_WAY or facts.section_share is None:
        return None
    return facts.section_share.value


def _inside(found: AppraisedFinding, part: Reach) -> bool:
    at_m = found.place.station_m.value
    return at_m is not None and part.from_m <= at_m <= part.to_m


def _blocked_reasons(
    parts: Sequence[Reach], findings: Sequence[AppraisedFinding]
) -> tuple[Reason, ...]:
    reasons = []
    for part in parts:
        for found in findings:
            share = _blocked(found)
            if share is None or not _inside(found, part):
                continue
            left = _left(part, [found])
            reasons.append(
                Reason(
                    because=f"{plain_name(found.finding.facts)} take {share * 100.0:.0f} % of the "
                    f"section, which leaves about {left * 100.0:.0f} % of the capacity there",
                    rule="filled-bottom section; for roots and objects an assumption",
                    source="EPA SWMM and USACE SAM eq. 2-26 (confirmed); "
                    f"{tables()['bed']['source']}",
                )
            )
    return tuple(reasons)


# ------------------------------------------------------------------ checks
def _fall_checks(
    line: Line, parts: Sequence[Reach], family: str | None, words: UnitWords
) -> list[Check]:
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
    said = f"{words.slope(part.slope.value)}, 95 % {low * 100.0:.1f} to {high * 100.0:.1f} %"
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


def _fixture_checks(load: PeakLoad) -> list[Check]:
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


def _capacity_check(solved: Sequence[StretchFlow], load: PeakLoad) -> Check:
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


def _units_check(solved: Sequence[StretchFlow], load: PeakLoad, words: UnitWords) -> Check:
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


def _cleansing_check(solved: Sequence[StretchFlow]) -> Check:
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


def _seen_checks(
    findings: Sequence[AppraisedFinding], position: Position, words: UnitWords
) -> list[Check]:
    water = [
        Check(
            name="standing water",
            verdict=Verdict.DOUBT if _bad(found) else Verdict.NOTE,
            reason=f"{plain_name(found.finding.facts)}, {words.station(found.place.station_m)}",
            about=found.finding.id,
        )
        for found in findings
        if found.finding.facts.feature in _WATER
    ]
    surveyed = [
        Check(
            name="standing water",
            verdict=Verdict.NOTE,
            reason=f"a low spot, {words.station(sag.lowest_m)}: {sag.because}",
            about=sag.id,
        )
        for sag in position.sags
        if not any(_is_seen(sag, found) for found in findings)
    ]
    blocked = [
        Check(
            name="in the way",
            verdict=Verdict.DOUBT if _bad(found) else Verdict.NOTE,
            reason=f"{plain_name(found.finding.facts)}, {words.station(found.place.station_m)}",
            about=found.finding.id,
        )
        for found in findings
        if found.finding.facts.feature in _IN_THE_WAY | _STOPS
    ]
    return [*water, *surveyed, *blocked]


def _is_seen(sag: Sag, found: AppraisedFinding) -> bool:
    """Tell whether a low spot is one that a finding of water already tells of."""
    at_m = found.place.station_m
    if found.finding.facts.feature not in _WATER or at_m.value is None:
        return False
    start, end = sag.start_m.interval95[0], sag.end_m.interval95[1]
    low, high = at_m.interval95
    return start <= high and low <= end


def _is_deep(sag: Sag, segments: Sequence[LineSegment]) -> bool:
    """Tell whether water surely stands to half of the bore or more by the levels."""
    if sag.water_share is not None and sag.water_share.value is not None:
        return sag.water_share.interval95[0] >= _DEEP_SHARE
    segment = segment_at(segments, sag.lowest_m.value)
    if segment is None or not segment.diameter_m or sag.depth_m.value is None:
        return False
    return sag.depth_m.interval95[0] / segment.diameter_m >= _DEEP_SHARE


def _bad(found: AppraisedFinding) -> bool:
    return (found.grade.service or 0) >= _BAD_SERVICE


# ------------------------------------------------------------------ the answer
def _answer(
    solved: Sequence[StretchFlow],
    findings: Sequence[AppraisedFinding],
    deep: Sequence[Sag],
    words: UnitWords,
) -> tuple[bool | None, str]:
    stoppers = [f for f in findings if _bad(f) and f.finding.facts.feature in _IN_THE_WAY | _STOPS]
    ponds = [f for f in findings if _bad(f) and f.finding.facts.feature in _WATER]
    uphill = [part for part in solved if part.slope.known and part.slope.interval95[1] < 0.0]
    if stoppers:
        return False, f"It does not drain freely: {_first(stoppers, words)}."
    if uphill:
        return False, f"It does not drain freely: it runs uphill {_span(uphill[0], words)}."
    if ponds:
        return False, f"It does not drain fully: {_first(ponds, words)}."
    if deep:
        at = words.station(deep[0].lowest_m)
        return False, f"It does not drain fully: there is a deep low spot, {at}."
    if any(part.enough is False for part in solved):
        return False, "It drains, but not the peak flow of the house."
    return _open_or_yes(solved, findings, words)


def _open_or_yes(
    solved: Sequence[StretchFlow],
    findings: Sequence[AppraisedFinding],
    words: UnitWords,
) -> tuple[bool | None, str]:
    minor = [f for f in findings if f.finding.facts.feature in _WATER | _IN_THE_WAY]
    but = f" It is held back by {_first(minor, words)}." if minor else ""
    slopes = [part.slope for part in solved]
    sure = slopes and all(_surely_falls(slope) for slope in slopes)
    if sure and all(part.enough is not False for part in solved):
        room = "" if all(part.enough for part in solved) else _no_peak(solved)
        return True, f"It drains: it falls all the way.{room}{but}"
    if any(slope.known for slope in slopes):
        return (
            None,
            f"Whether it drains all the way is not known: part of its fall is not known.{but}",
        )
    seen = but or " No standing water and nothing in the way was recorded."
    return None, f"Whether it drains well is not known, because its fall was not measured.{seen}"


def _no_peak(solved: Sequence[StretchFlow]) -> str:
    if any(not part.peak_flow_m3_s.known for part in solved):
        return " Whether it carries the peak flow is not known."
    return " Whether it carries the peak flow lies within the margins."


def _surely_falls(slope: Estimate) -> bool:
    return slope.value is not None and slope.value - Z95 * slope.spread > 0.0


def _first(findings: Sequence[AppraisedFinding], words: UnitWords) -> str:
    worst = max(findings, key=lambda found: found.grade.service or 0)
    more = f", and {len(findings) - 1} more" if len(findings) > 1 else ""
    name = plain_name(worst.finding.facts)
    return f"{name}, {words.station(worst.place.station_m)}{more}"


def _span(part: StretchFlow, words: UnitWords) -> str:
    return f"from {words.length(part.from_m)} to {words.length(part.to_m)}"
