"""The seven ways to deal with a line, each judged and sized for the line at hand."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from saltglaze.condition.plain import plain_name
from saltglaze.condition.wording import UnitWords
from saltglaze.model.appraisal import AppraisedFinding, Reason, RemedyKind
from saltglaze.model.base import Estimate, Record
from saltglaze.model.finding import Feature
from saltglaze.model.line import Material
from saltglaze.remedy.feasibility import Effect, Rule, effects
from saltglaze.remedy.liner_size import liner_note
from saltglaze.remedy.site import Site
from saltglaze.remedy.trench import BOTTOM_WIDTH_M, trench

TITLES = {
    RemedyKind.KEEP_MAINTAINING: "Keep cleaning it",
    RemedyKind.CLEAN_AND_TREAT_ROOTS: "Clean it and treat the roots",
    RemedyKind.SPOT_DIG: "Dig up and replace the bad spots",
    RemedyKind.SECTIONAL_LINER: "Line the bad spots",
    RemedyKind.FULL_LINER: "Line the whole run",
    RemedyKind.BURST_AND_REPLACE: "Burst the old pipe and pull in a new one",
    RemedyKind.OPEN_CUT: "Dig up and replace the whole run",
}

SPOT_REACH_M = 0.75
"""Faults within this of each other share a pit or a short liner (common practice)."""
SHORT_LINER_M = 0.9
"""Usual length of a short liner, 3 ft (from memory)."""
_MOST_SPOTS = 5
_EDGE_M = 0.15


class Quantity(Record):
    """So many units of a priced item, and why. ``sd`` is one standard deviation."""

    item: str
    quantity: float
    sd: float = 0.0
    because: str = ""


class Draft(Record):
    """An option judged and sized, not yet costed."""

    kind: RemedyKind
    feasible: bool | None
    why: tuple[Reason, ...] = ()
    obstacles: tuple[str, ...] = ()
    from_m: float | None = None
    to_m: float | None = None
    fixes: tuple[str, ...] = ()
    holds: tuple[str, ...] = ()
    leaves: tuple[str, ...] = ()
    size_note: str = ""
    quantities: tuple[Quantity, ...] = ()
    unsized_because: str = ""
    assumptions: tuple[str, ...] = ()


def drafts(site: Site, words: UnitWords) -> tuple[Draft, ...]:
    """Return all seven options, judged and sized."""
    return tuple(_MAKERS[kind](site, words) for kind in RemedyKind)


# ------------------------------------------------------------------ upkeep
def _keep(site: Site, words: UnitWords) -> Draft:
    kind = RemedyKind.KEEP_MAINTAINING
    rules = effects(kind, site.faults, site.diameters_of)
    failing = [f for f in site.faults if (f.grade.structure or 0) >= 5]
    why = [Reason(because="nothing is dug or lined; the cost of waiting is counted in")]
    if failing:
        why.append(_named("it cannot wait", failing, "grade 5 means act now", words))
    return _sorted_out(
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
    failing = [f for f in site.faults if (f.grade.structure or 0) >= 5]
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
    return _sorted_out(
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
        return _nothing(kind, site, "what it would mend lies under a building")
    if not targets:
        return _nothing(kind, site, "no fault of grade 3 or worse that a pit would mend")
    spots = clusters(targets)
    quantities = [
        Quantity(item=f"spot_dig_{site.depth_class(site.depth_at(spot[0]))}", quantity=1.0)
        for spot in spots
    ]
    obstacles = _dig_obstacles(site, words)
    if len(spots) > _MOST_SPOTS:
        obstacles.append(f"{len(spots)} pits: replacing the whole run is the better choice")
    reached = {f.finding.id for f in site.faults if _in_spots(f, spots)}
    return _sorted_out(
        Draft(
            kind=kind,
            feasible=True,
            why=(_many(len(spots), "pit"), *_safety(site)),
            obstacles=tuple(obstacles),
            size_note=f"{len(spots)} pit{'s' if len(spots) > 1 else ''}",
            quantities=_merged(quantities),
            assumptions=_depth_assumption(site),
        ),
        rules,
        only=reached,
    )


def _sectional(site: Site, words: UnitWords) -> Draft:
    kind = RemedyKind.SECTIONAL_LINER
    rules = effects(kind, site.faults, site.diameters_of)
    targets = [f for f in site.worth if rules[f.finding.id].verdict is Effect.FIXES]
    if not targets:
        return _nothing(kind, site, "no fault of grade 3 or worse that a short liner would mend")
    spots = clusters(targets)
    extras = _extras([rules[f.finding.id] for f in targets])
    feasible = None if any(_diameter_of(site, f) is None for f in targets) else True
    obstacles = [] if feasible else ["the bore there is not known"]
    if len(spots) > _MOST_SPOTS:
        obstacles.append(f"{len(spots)} short liners: a full liner is the better choice")
    reached = {f.finding.id for f in site.faults if _in_spots(f, spots)}
    each = words.depth(SHORT_LINER_M)
    note = f"{len(spots)} short liner{'s' if len(spots) > 1 else ''} of {each}"
    return _sorted_out(
        Draft(
            kind=kind,
            feasible=feasible,
            why=(_many(len(spots), "short liner"),),
            obstacles=tuple(obstacles),
            size_note=f"{note}; {liner_note(site, targets, words)}",
            quantities=_merged([Quantity(item="sectional_liner", quantity=len(spots)), *extras]),
        ),
        rules,
        only=reached,
    )


# ------------------------------------------------------------------ whole runs
def _full_liner(site: Site, words: UnitWords) -> Draft:
    kind = RemedyKind.FULL_LINER
    rules = effects(kind, site.faults, site.diameters_of)
    feasible, why, obstacles = _judged(site, rules, words)
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
        *_per_metre("full_liner", site.length_m),
        *_extras([rules[f.finding.id] for f in site.faults]),
        Quantity(item="tap_reopening", quantity=_open_taps(site)),
        *_way_in(site),
    ]
    return _whole(site, kind, feasible, why, obstacles, quantities, rules).model_copy(
        update={"size_note": liner_note(site, site.faults, words)}
    )


def _burst(site: Site, words: UnitWords) -> Draft:
    kind = RemedyKind.BURST_AND_REPLACE
    rules = effects(kind, site.faults, site.diameters_of)
    feasible, why, obstacles = _judged(site, rules, words)
    pits = 2 + _open_taps(site) + sum(_sharp(f) for f in site.bends)
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
        *_per_metre("burst", site.length_m),
        Quantity(item=f"pit_{depth}", quantity=float(pits)),
        *_street_permit(site),
    ]
    why = [*why, Reason(because=f"{pits} pits: two ends, live taps, sharp bends")]
    note = f"{pits} pits; the new pipe may be a size larger"
    draft = _whole(site, kind, feasible, why, obstacles, quantities, rules)
    return draft.model_copy(
        update={
            "size_note": note,
            "assumptions": (*draft.assumptions, *_depth_assumption(site)),
            "why": (*draft.why, *_safety(site)),
        }
    )


def _open_cut(site: Site, words: UnitWords) -> Draft:
    kind = RemedyKind.OPEN_CUT
    rules = effects(kind, site.faults, site.diameters_of)
    feasible, why, obstacles = _judged(site, rules, words)
    obstacles = [*obstacles, *_dig_obstacles(site, words)]
    if site.open_length_m.value is not None and site.open_length_m.value < 0.5:
        feasible = False
    depth_m = site.mean_depth_m
    quantities = [
        *_per_metre(f"open_cut_{site.depth_class(depth_m)}", site.open_length_m),
        *_street_permit(site),
    ]
    quantities += _surfaces(site)
    outside = {f.finding.id for f in site.faults if not site.is_under_building(f)}
    draft = _whole(site, kind, feasible, why, obstacles, quantities, rules, only=outside)
    return draft.model_copy(
        update={
            "size_note": _trench_note(site, words),
            "assumptions": (*draft.assumptions, *_depth_assumption(site)),
            "why": (*draft.why, *_safety(site)),
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


# ------------------------------------------------------------------ shared steps
def clusters(findings: Sequence[AppraisedFinding]) -> list[list[AppraisedFinding]]:
    """Group faults that lie close enough together for one pit or one short liner.

    A fault with no station is a spot of its own.
    """
    placed = sorted(
        (f for f in findings if f.place.station_m.known),
        key=lambda f: f.place.station_m.value or 0.0,
    )
    groups: list[list[AppraisedFinding]] = []
    for found in placed:
        at_m = found.place.station_m.value or 0.0
        if groups and at_m - (groups[-1][0].place.station_m.value or 0.0) <= 2.0 * SPOT_REACH_M:
            groups[-1].append(found)
        else:
            groups.append([found])
    return groups + [[found] for found in findings if not found.place.station_m.known]


def _in_spots(found: AppraisedFinding, spots: Sequence[Sequence[AppraisedFinding]]) -> bool:
    if any(found is target for spot in spots for target in spot):
        return True
    at_m = found.place.station_m.value
    ends = [(spot[0].place.station_m.value, spot[-1].place.station_m.value) for spot in spots]
    return at_m is not None and any(
        first is not None
        and last is not None
        and first - SPOT_REACH_M / 2.0 <= at_m <= last + SPOT_REACH_M / 2.0
        for first, last in ends
    )


def _sorted_out(draft: Draft, rules: dict[str, Rule], only: set[str] | None = None) -> Draft:
    """Fill in which faults are fixed, held off and left, with the rules as reasons."""
    reached = {i: r for i, r in rules.items() if only is None or i in only}
    by = {e: tuple(i for i, r in reached.items() if r.verdict is e) for e in Effect}
    unreached = tuple(i for i in rules if i not in reached)
    reasons = {rule.because: rule.reason for rule in reached.values()}
    return draft.model_copy(
        update={
            "fixes": by[Effect.FIXES],
            "holds": by[Effect.HOLDS],
            "leaves": (*by[Effect.LEAVES], *by[Effect.UNSURE], *by[Effect.BLOCKS], *unreached),
            "why": (*draft.why, *reasons.values()),
        }
    )


def _judged(
    site: Site, rules: dict[str, Rule], words: UnitWords
) -> tuple[bool | None, list[Reason], list[str]]:
    blocks = [f for f in site.faults if rules[f.finding.id].verdict is Effect.BLOCKS]
    unsure = [f for f in site.faults if rules[f.finding.id].verdict is Effect.UNSURE]
    obstacles = [
        f"{plain_name(f.finding.facts)}, {words.station(f.place.station_m)}: "
        f"{rules[f.finding.id].because}"
        for f in [*blocks, *unsure]
    ]
    if not site.faults:
        return True, [Reason(because="no fault was found that would call for it")], obstacles
    return (False if blocks else None if unsure else True), [], obstacles


def _whole(
    site: Site,
    kind: RemedyKind,
    feasible: bool | None,
    why: Sequence[Reason],
    obstacles: Sequence[str],
    quantities: Sequence[Quantity],
    rules: dict[str, Rule],
    only: set[str] | None = None,
) -> Draft:
    length = site.length_m
    draft = Draft(
        kind=kind,
        feasible=feasible,
        why=tuple(why),
        obstacles=tuple(obstacles),
        from_m=site.start_m if length.known else None,
        to_m=site.end_m.value,
        quantities=_merged([q for q in quantities if q.quantity > 0.0]),
        unsized_because="" if length.known else f"{length.unknown_because}",
    )
    return _sorted_out(draft, rules, only)


def _nothing(kind: RemedyKind, site: Site, because: str) -> Draft:
    leaves = tuple(f.finding.id for f in site.faults)
    return Draft(kind=kind, feasible=False, why=(Reason(because=because),), leaves=leaves)


def _merged(quantities: Sequence[Quantity]) -> tuple[Quantity, ...]:
    """Add up quantities of one item."""
    merged: dict[str, Quantity] = {}
    for each in quantities:
        if each.quantity <= 0.0:
            continue
        before = merged.get(each.item)
        total = each.quantity + (before.quantity if before else 0.0)
        merged[each.item] = each.model_copy(update={"quantity": total})
    return tuple(merged.values())


def _extras(rules: Sequence[Rule]) -> list[Quantity]:
    return [Quantity(item=r.item, quantity=1.0, because=r.because) for r in rules if r.item]


def _per_metre(item: str, length_m: Estimate) -> list[Quantity]:
    if length_m.value is None:
        return []
    return [Quantity(item=item, quantity=length_m.value, sd=length_m.spread)]


def _open_taps(site: Site) -> int:
    return sum(not tap.finding.facts.capped for tap in site.taps)


def _sharp(bend: AppraisedFinding) -> bool:
    return bend.finding.facts.kind in {"1/4", "1/6"}


def _way_in(site: Site) -> list[Quantity]:
    kinds = " ".join(access.kind.casefold() for access in site.job.line.accesses)
    if any(word in kinds for word in ("clean", "manhole")) or not site.job.line.accesses:
        return []
    return [Quantity(item="new_clean_out", quantity=1.0, because="no clean-out to work from")]


def _street_permit(site: Site) -> list[Quantity]:
    if site.street <= 0.5:
        return []
    return [Quantity(item="permit_street", quantity=1.0, because="part of it lies in the street")]


def _surfaces(site: Site) -> list[Quantity]:
    """Return the surfaces to make good over an upright trench, a hand's width wider each side."""
    width_m = BOTTOM_WIDTH_M + 2.0 * _EDGE_M
    yard_m = (site.open_length_m.value or 0.0) - site.street
    return [
        Quantity(item=item, quantity=length_m * width_m, because="over the trench")
        for item, length_m in (("street_surface", site.street), ("make_good_yard", yard_m))
        if length_m > 0.5
    ]


def _trench_note(site: Site, words: UnitWords) -> str:
    depth_m = site.mean_depth_m.value
    if depth_m is None:
        return "trench not sized: the depth is not known"
    sized = trench(depth_m, site.job.line.soil)
    guard = "with trench protection" if sized.protection else "no protection needed by depth alone"
    engineer = "; an engineer must design it" if sized.engineer else ""
    return (
        f"trench about {words.depth(depth_m)} deep, {words.depth(sized.bottom_width_m)} wide, "
        f"{guard}{engineer}; {words.volume_per_length(sized.vertical_m3_per_m)} with upright "
        f"sides, {words.volume_per_length(sized.volume_m3_per_m)} if sloped"
    )


def _safety(site: Site) -> tuple[Reason, ...]:
    call = site.job.place.one_call or "the one-call service"
    reasons = [
        Reason(
            because=f"before any digging call {call}; private lines are mostly not marked, "
            "dig by hand near marks",
            source="Common Ground Alliance and state one-call pages (confirmed)",
        )
    ]
    depth_m = site.mean_depth_m.value
    if depth_m is None or trench(depth_m, site.job.line.soil).protection:
        reasons.append(
            Reason(
                because="from 5 ft of depth a trench must be shored, shielded or sloped, in bad "
                "ground before that; nobody goes into an unprotected trench",
                source="29 CFR 1926.652(a)(1) (read); local law may ask more",
            )
        )
    return tuple(reasons)


def _depth_assumption(site: Site) -> tuple[str, ...]:
    if site.mean_depth_m.known:
        return ()
    return ("the depth is not known: priced for 1.5 to 2.4 m",)


def _dig_obstacles(site: Site, words: UnitWords) -> list[str]:
    if site.buildings <= 0.5:
        return []
    under = words.length(site.buildings)
    return [f"{under} of the line lies under a building and stays as it is"]


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
