"""Size the liner for the line at hand, with stated assumptions where facts are missing."""

from __future__ import annotations

from collections.abc import Sequence

from saltglaze import units
from saltglaze.condition.wording import UnitWords
from saltglaze.model.appraisal import AppraisedFinding
from saltglaze.model.finding import Feature
from saltglaze.remedy.liner import ACCEPTED_DEFLECTION, USUAL_SUPPLY_M, design
from saltglaze.remedy.site import MUST_FIX_FROM, Site

_WATER_BELOW_GRADE_M = 3.0 * units.M_PER_FT
"""Public bids design for ground water 3 ft below grade (read)."""
_OVALITY = 0.02


def liner_note(site: Site, findings: Sequence[AppraisedFinding], words: UnitWords) -> str:
    """Say how thick the liner must be by ASTM F1216, and on what that rests."""
    bores = site.bores_m
    depth_m = site.mean_depth_m.value
    if not bores:
        return "thickness not worked out: the bore is not known"
    if depth_m is None:
        return "thickness not worked out: the depth is not known"
    bore_m = bores[-1]
    cover_m = max(0.3, depth_m - bore_m)
    ovality = _ovality(findings)
    sized = design(
        bore_m,
        cover_m,
        deteriorated=_deteriorated(findings),
        water_over_top_m=max(0.0, cover_m - _WATER_BELOW_GRADE_M),
        ovality=ovality,
        under_traffic=site.street > 0.5,
    )
    state = "no longer carries the ground" if sized.deteriorated else "still carries the ground"
    text = (
        f"liner at least {_thick(sized.thickness_m, words)} by ASTM F1216 ({sized.governs}): "
        f"{words.size(bore_m)} bore, {words.depth(cover_m)} of cover, ground water "
        f"{words.depth(_WATER_BELOW_GRADE_M)} below grade, {ovality * 100.0:.0f} % out of round, "
        f"the old pipe {state}"
    )
    if sized.deflection is not None and sized.deflection > ACCEPTED_DEFLECTION:
        text += f"; it would give {sized.deflection * 100.0:.0f} %, more than the 5 % accepted"
    if sized.thickness_m < USUAL_SUPPLY_M:
        text += f"; seldom supplied under {_thick(USUAL_SUPPLY_M, words)} (from memory)"
    return text


def _thick(thickness_m: float, words: UnitWords) -> str:
    if words.metric:
        return f"{thickness_m * 1000.0:.1f} mm"
    return f"{units.inches(thickness_m):.2f} in ({thickness_m * 1000.0:.1f} mm)"


def _deteriorated(findings: Sequence[AppraisedFinding]) -> bool:
    return any((found.grade.structure or 0) >= MUST_FIX_FROM for found in findings)


def _ovality(findings: Sequence[AppraisedFinding]) -> float:
    """Return the worst deformation measured, not less than the usual 2 % of bids (read)."""
    measured = [
        found.finding.facts.deformation_share.value or 0.0
        for found in findings
        if found.finding.facts.feature is Feature.DEFORMATION
        and found.finding.facts.deformation_share is not None
    ]
    return max([_OVALITY, *measured])
