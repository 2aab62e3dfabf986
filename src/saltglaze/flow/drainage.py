"""Does it drain, and why.

Each stretch is solved for the fall and bore it has; what stands or lies in it takes
capacity away; the code's least slope and fixture limit are checked. The answer is
yes, no, or not known, with the reason.
"""

from __future__ import annotations

from collections.abc import Sequence

from saltglaze.condition.plain import plain_name
from saltglaze.condition.wording import US, UnitWords
from saltglaze.flow.checks import (
    capacity_check,
    cleansing_check,
    fall_checks,
    fixture_checks,
    seen_checks,
    units_check,
)
from saltglaze.flow.codebook import code_family
from saltglaze.flow.load import peak_load
from saltglaze.flow.seen import (
    IN_THE_WAY,
    STOPS,
    WATER,
    blocked_reasons,
    is_bad,
    is_deep,
    left_over,
)
from saltglaze.flow.stretches import reaches, solve
from saltglaze.model.appraisal import (
    AppraisedFinding,
    Drainage,
    LineSegment,
    Position,
    Sag,
    StretchFlow,
)
from saltglaze.model.base import Z95, Estimate
from saltglaze.model.line import Line


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
    solved = tuple(solve(part, load.flow_m3_s, left_over(part, standing), words) for part in parts)
    checks = (
        *fall_checks(line, parts, family, words),
        *fixture_checks(load),
        capacity_check(solved, load),
        units_check(solved, load, words),
        cleansing_check(solved),
        *seen_checks(standing, position, words),
    )
    deep = [sag for sag in position.sags if is_deep(sag, segments)]
    drains, plain = _answer(solved, standing, deep, words)
    return Drainage(
        drains=drains,
        plain=plain,
        stretches=solved,
        peak_load=load.plain,
        checks=checks,
        reasons=(*load.reasons, *blocked_reasons(parts, standing)),
    )


def _answer(
    solved: Sequence[StretchFlow],
    findings: Sequence[AppraisedFinding],
    deep: Sequence[Sag],
    words: UnitWords,
) -> tuple[bool | None, str]:
    stoppers = [f for f in findings if is_bad(f) and f.finding.facts.feature in IN_THE_WAY | STOPS]
    ponds = [f for f in findings if is_bad(f) and f.finding.facts.feature in WATER]
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
    minor = [f for f in findings if f.finding.facts.feature in WATER | IN_THE_WAY]
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
