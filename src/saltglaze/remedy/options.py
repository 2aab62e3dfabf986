"""The seven ways to deal with a line, each judged and sized for the line at hand."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from saltglaze.condition.plain import plain_name
from saltglaze.condition.wording import UnitWords
from saltglaze.model.appraisal import AppraisedFinding, Reason, RemedyKind
from saltglaze.model.finding import Feature
from saltglaze.model.line import Material
from saltglaze.remedy.digging import depth_assumption, dig_obstacles, safety, trench_note
from saltglaze.remedy.draft import Draft, judged, nothing, sorted_out, whole, with_pits
from saltglaze.remedy.feasibility import Effect, effects
from saltglaze.remedy.liner_size import liner_note
from saltglaze.remedy.quantities import (
    Quantity,
    extras,
    merged,
    open_taps,
    per_metre,
    street_permit,
    surfaces,
    way_in,
)
from saltglaze.remedy.site import Site
from saltglaze.remedy.spots import SPOT_REACH_M, clusters, in_spots, lost

TITLES = {
    RemedyKind.KEEP_MAINTAINING: "Keep cleaning it",
    RemedyKind.CLEAN_AND_TREAT_ROOTS: "Clean it and treat the roots",
    RemedyKind.SPOT_DIG: "Dig up and replace the bad spots",
    RemedyKind.SECTIONAL_LINER: "Line the bad spots",
    RemedyKind.FULL_LINER: "Line the whole run",
    RemedyKind.BURST_AND_REPLACE: "Burst the old pipe and pull in a new one",
    RemedyKind.OPEN_CUT: "Dig up and replace the whole run",
}
SHORT_LINER_M = 0.9
"""Usual length of a short liner, 3 ft (from memory)."""
_MOST_SPOTS = 5
_PIT_AREA_M2 = 3.0


def drafts(site: Site, words: UnitWords) -> tuple[Draft, ...]:
    """Return all seven options, judged and sized."""
    return tuple(_MAKERS[kind](site, words) for kind in RemedyKind)


# ------------------------------------------------------------------ upkeep
def _failing(site: Site) -> list[AppraisedFinding]:
    """What has structure of grade 5: upkeep cannot wait for it."""
    return [f for f in site.faults if (f.grade.structure or 0) >= 5]


def _keep(site: Site, words: UnitWords) -> Draft:
    kind = RemedyKind.KEEP_MAINTAINING
    rules = effects(kind, site.faults, site.diameters_of)
    failing = _failing(site)
    why = [Reason(because="nothing is dug or lined; the cost of waiting is counted in")]
    if failing:
        why.append(_named("it cannot wait", failing, "grade 5 means act now", words))
    return sorted_out(
        Draft(
            kind=kind,
            feasible=not failing,
            why=tuple(why),
            obstacles=tuple(f"{plain_name(f.finding.facts)} cannot wait" for f in failing),
            size_note="no building work",
        ),
        rules,
    )


def _treat(site: Site, words: UnitWords) -> Draft:
    kind = RemedyKind.CLEAN_AND_TREAT_ROOTS
    rules = effects(kind, site.faults, site.diameters_of)
    roots = [f for f in site.faults if f.finding.facts.feature is Feature.ROOTS]
    failing = _failing(site)
    if not roots:
        return Draft(
            kind=kind,
            feasible=False,
            why=(Reason(because="no roots were found on the owner's part"),),
            leaves=tuple(f.finding.id for f in site.faults),
        )
    why = [Reason(because=f"roots at {len(roots)} place{'s' if len(roots) > 1 else ''}")]
    if failing:
        why.append(_named("it cannot wait", failing, "grade 5 means act now", words))
    return sorted_out(
        Draft(
            kind=kind,
            feasible=not failing,
            why=tuple(why),
            size_note="cutting and treating, again and again",
        ),
        rules,
    )


# ------------------------------------------------------------------ spots
def _spot_dig(site: Site, words: UnitWords) -> Draft:
    kind = RemedyKind.SPOT_DIG
    rules = effects(kind, site.faults, site.diameters_of)
    mended = [f for f in site.worth if rules[f.finding.id].verdict is Effect.FIXES]
    targets = [f for f in mended if not site.is_under_building(f)]
    if mended and not targets:
        return nothing(kind, site, "what it would mend lies under a building")
    if not targets:
        return nothing(kind, site, "no fault of grade 3 or worse that a pit would mend")
    spots = clusters(targets)
    quantities = [
        Quantity(item=f"spot_dig_{site.depth_class(site.depth_at(spot[0]))}", quantity=1.0)
        for spot in spots
    ]
    in_street = sum(site.is_under_street(spot[0]) for spot in spots)
    if in_street:
        area = in_street * _PIT_AREA_M2
        quantities.append(Quantity(item="street_surface", quantity=area, because="over the pits"))
        quantities += street_permit(site)
    obstacles = dig_obstacles(site, words)
    if len(spots) > _MOST_SPOTS:
        obstacles.append(f"{len(spots)} pits: replacing the whole run is the better choice")
    reached = {f.finding.id for f in site.faults if in_spots(f, spots)}
    return sorted_out(
        Draft(
            kind=kind,
            feasible=None if lost(targets) else True,
            why=(_many(len(spots), "pit"), *safety(site)),
            obstacles=(*lost(targets), *obstacles),
            size_note=f"{len(spots)} pit{'s' if len(spots) > 1 else ''}",
            quantities=merged(quantities),
            assumptions=depth_assumption(site),
        ),
        rules,
        only=reached,
    )


def _sectional(site: Site, words: UnitWords) -> Draft:
    kind = RemedyKind.SECTIONAL_LINER
    rules = effects(kind, site.faults, site.diameters_of)
    targets = [f for f in site.worth if rules[f.finding.id].verdict is Effect.FIXES]
    if not targets:
        return nothing(kind, site, "no fault of grade 3 or worse that a short liner would mend")
    spots = clusters(targets)
    first = extras([rules[f.finding.id] for f in targets])
    feasible = None if any(_diameter_of(site, f) is None for f in targets) else True
    obstacles = lost(targets) if feasible else ["the bore there is not known", *lost(targets)]
    feasible = None if lost(targets) else feasible
    if len(spots) > _MOST_SPOTS:
        obstacles.append(f"{len(spots)} short liners: a full liner is the better choice")
    reached = {f.finding.id for f in site.faults if in_spots(f, spots)}
    each = words.depth(SHORT_LINER_M)
    note = f"{len(spots)} short liner{'s' if len(spots) > 1 else ''} of {each}"
    return sorted_out(
        Draft(
            kind=kind,
            feasible=feasible,
            why=(_many(len(spots), "short liner"),),
            obstacles=tuple(obstacles),
            size_note=f"{note}; {liner_note(site, targets, words)}",
            quantities=merged([Quantity(item="sectional_liner", quantity=len(spots)), *first]),
        ),
        rules,
        only=reached,
    )


# ------------------------------------------------------------------ whole runs
def _full_liner(site: Site, words: UnitWords) -> Draft:
    kind = RemedyKind.FULL_LINER
    rules, pits = with_pits(site, effects(kind, site.faults, site.diameters_of))
    feasible, why, obstacles = judged(site, rules, words)
    if len(site.bores_m) > 2:
        feasible, obstacles = False, [*obstacles, "more than one change of bore"]
    elif len(site.bores_m) == 2:
        feasible = None if feasible else feasible
        obstacles = [*obstacles, "a change of bore: only a tapered or stretching tube spans it"]
    if any(f.finding.facts.kind == "1/4" for f in site.bends):
        feasible = None if feasible else feasible
        obstacles = [*obstacles, "a 90 degree bend: only the most flexible tubes turn it"]
    quantities = [
        Quantity(item="liner_set_up", quantity=1.0),
        *per_metre("full_liner", site.length_m),
        *extras([rules[f.finding.id] for f in site.faults]),
        Quantity(item="tap_reopening", quantity=open_taps(site)),
        *way_in(site),
        *pits,
    ]
    return whole(site, kind, feasible, why, obstacles, quantities, rules).model_copy(
        update={"size_note": liner_note(site, site.faults, words)}
    )


def _burst(site: Site, words: UnitWords) -> Draft:
    kind = RemedyKind.BURST_AND_REPLACE
    rules, digs = with_pits(site, effects(kind, site.faults, site.diameters_of))
    feasible, why, obstacles = judged(site, rules, words)
    pits = 2 + open_taps(site) + sum(_sharp(f) for f in site.bends)
    depth = site.depth_class(site.mean_depth_m)
    if site.job.utilities:
        names = ", ".join(sorted({utility.kind for utility in site.job.utilities}))
        obstacles = [
            *obstacles,
            f"other lines near ({names}): keep 0.6 to 0.9 m off, see them first",
        ]
    if Material.DUCTILE_IRON in site.materials or Material.STEEL in site.materials:
        feasible = None if feasible else feasible
        obstacles = [*obstacles, "ductile iron or steel must be cut, not burst"]
    quantities = [
        *per_metre("burst", site.length_m),
        Quantity(item=f"pit_{depth}", quantity=float(pits)),
        *digs,
        *street_permit(site),
    ]
    why = [*why, Reason(because=f"{pits} pits: two ends, live taps, sharp bends")]
    note = f"{pits} pits; the new pipe may be a size larger"
    draft = whole(site, kind, feasible, why, obstacles, quantities, rules)
    return draft.model_copy(
        update={
            "size_note": note,
            "assumptions": (*draft.assumptions, *depth_assumption(site)),
            "why": (*draft.why, *safety(site)),
        }
    )


def _open_cut(site: Site, words: UnitWords) -> Draft:
    kind = RemedyKind.OPEN_CUT
    rules = effects(kind, site.faults, site.diameters_of)
    feasible, why, obstacles = judged(site, rules, words)
    obstacles = [*obstacles, *dig_obstacles(site, words)]
    if site.open_length_m.value is not None and site.open_length_m.value < 0.5:
        feasible = False
    depth_m = site.mean_depth_m
    quantities = [
        *per_metre(f"open_cut_{site.depth_class(depth_m)}", site.open_length_m),
        *street_permit(site),
    ]
    quantities += surfaces(site)
    outside = {f.finding.id for f in site.faults if not site.is_under_building(f)}
    draft = whole(site, kind, feasible, why, obstacles, quantities, rules, only=outside)
    return draft.model_copy(
        update={
            "size_note": trench_note(site, words),
            "assumptions": (*draft.assumptions, *depth_assumption(site)),
            "why": (*draft.why, *safety(site)),
        }
    )


_MAKERS: dict[RemedyKind, Callable[[Site, UnitWords], Draft]] = {
    RemedyKind.KEEP_MAINTAINING: _keep,
    RemedyKind.CLEAN_AND_TREAT_ROOTS: _treat,
    RemedyKind.SPOT_DIG: _spot_dig,
    RemedyKind.SECTIONAL_LINER: _sectional,
    RemedyKind.FULL_LINER: _full_liner,
    RemedyKind.BURST_AND_REPLACE: _burst,
    RemedyKind.OPEN_CUT: _open_cut,
}


def _sharp(bend: AppraisedFinding) -> bool:
    return bend.finding.facts.kind in {"1/4", "1/6"}


def _diameter_of(site: Site, found: AppraisedFinding) -> float | None:
    own = found.finding.facts.diameter_m
    if own is not None and own.value is not None:
        return own.value
    return site.diameter_at(found.place.station_m.value)


def _many(count: int, what: str) -> Reason:
    return Reason(
        because=f"{count} spot{'s' if count > 1 else ''} of grade 3 or worse, one {what} each",
        rule=f"faults within {2 * SPOT_REACH_M:.1f} m share one",
        source="common practice, no source",
    )


def _named(what: str, findings: Sequence[AppraisedFinding], rule: str, words: UnitWords) -> Reason:
    first = findings[0]
    named = f"{plain_name(first.finding.facts)}, {words.station(first.place.station_m)}"
    return Reason(because=f"{what}: {named}", rule=rule, source="our own rule")
