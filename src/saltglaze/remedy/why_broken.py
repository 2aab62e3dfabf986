"""Whether the ground's weight alone explains a broken clay pipe."""

from __future__ import annotations

from saltglaze.condition.plain import plain_name
from saltglaze.condition.stretch import segment_at
from saltglaze.condition.wording import UnitWords
from saltglaze.model.appraisal import AppraisedFinding, Reason
from saltglaze.model.finding import Feature
from saltglaze.model.line import Material
from saltglaze.remedy.earth import FRICTION, clay_safety
from saltglaze.remedy.liner import SOIL_N_M3
from saltglaze.remedy.site import Site
from saltglaze.remedy.trench import BOTTOM_WIDTH_M

_BROKEN = {Feature.CRACK, Feature.FRACTURE, Feature.BREAK, Feature.HOLE, Feature.COLLAPSE}
_EXPLAINS_BELOW = 1.0
_LEAST_COVER_M = 0.3


def why_broken(site: Site, words: UnitWords) -> tuple[Reason, ...]:
    """Return a reason for each broken place in clay whose bore and depth are known."""
    reasons = [_reason(site, found, words) for found in site.must if _is_broken(found)]
    return tuple(reason for reason in reasons if reason is not None)


def _is_broken(found: AppraisedFinding) -> bool:
    return found.finding.facts.feature in _BROKEN


def _reason(site: Site, found: AppraisedFinding, words: UnitWords) -> Reason | None:
    segment = segment_at(site.segments, found.place.station_m.value)
    depth_m = site.depth_at(found).value
    if segment is None or segment.material is not Material.CLAY or depth_m is None:
        return None
    bore_m = segment.diameter_m
    if bore_m is None:
        return None
    cover_m = max(_LEAST_COVER_M, depth_m - bore_m)
    safety = clay_safety(bore_m, cover_m, BOTTOM_WIDTH_M, FRICTION["clay"], SOIL_N_M3)
    if safety is None:
        return None
    meaning = (
        "so the ground's weight may be what broke it"
        if safety < _EXPLAINS_BELOW
        else "so the ground's weight alone did not break it: think of roots, settling, traffic, "
        "a stone under the pipe or digging near by"
    )
    name, where = plain_name(found.finding.facts), words.station(found.place.station_m)
    return Reason(
        because=f"{name}, {where}: sound clay pipe on a bare trench bottom under "
        f"{words.depth(cover_m)} of cover holds {safety:.1f} times that ground, {meaning}",
        rule="Marston trench load, extra strength clay, bedding class D",
        source="Moser, Buried Pipe Design; ASTM C700 as quoted there (read)",
    )
