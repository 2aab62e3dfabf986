"""An option judged and sized, before it is costed."""

from __future__ import annotations

from collections.abc import Sequence

from saltglaze.condition.plain import plain_name
from saltglaze.condition.wording import UnitWords
from saltglaze.model.appraisal import Reason, RemedyKind
from saltglaze.model.base import Record
from saltglaze.remedy.feasibility import Effect, Rule
from saltglaze.remedy.quantities import Quantity, merged
from saltglaze.remedy.site import Site
from saltglaze.remedy.spots import clusters

_MOST_PITS_FIRST = 2


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


def sorted_out(draft: Draft, rules: dict[str, Rule], only: set[str] | None = None) -> Draft:
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


def with_pits(site: Site, rules: dict[str, Rule]) -> tuple[dict[str, Rule], list[Quantity]]:
    """Turn obstacles that a pit takes away into fixes with a pit to pay for.

    Only while they are few and lie in the open; else the obstacle stands.
    """
    stuck = [f for f in site.faults if rules[f.finding.id].dig_first]
    spots = clusters(stuck)
    if not spots or len(spots) > _MOST_PITS_FIRST or any(map(site.is_under_building, stuck)):
        return rules, []
    dug = {
        f.finding.id: rules[f.finding.id].model_copy(update={"verdict": Effect.FIXES})
        for f in stuck
    }
    pits = [
        Quantity(
            item=f"spot_dig_{site.depth_class(site.depth_at(spot[0]))}",
            quantity=1.0,
            because="dug first, before the rest can be done",
        )
        for spot in spots
    ]
    return {**rules, **dug}, pits


def judged(
    site: Site, rules: dict[str, Rule], words: UnitWords
) -> tuple[bool | None, list[Reason], list[str]]:
    """Return whether a run can be done with these rules, the reasons, and the obstacles."""
    blocks = [f for f in site.faults if rules[f.finding.id].verdict is Effect.BLOCKS]
    unsure = [f for f in site.faults if rules[f.finding.id].verdict is Effect.UNSURE]
    obstacles = [
        f"{plain_name(f.finding.facts)}, {words.station(f.place.station_m)}: "
        f"{rules[f.finding.id].because}"
        for f in [*blocks, *unsure]
    ]
    if not site.faults:
        return True, [Reason(because="no fault was found that would call for it")], obstacles
    if not site.end_seen and not blocks:
        return None, [], [*obstacles, "the far end of the line was not seen"]
    return (False if blocks else None if unsure else True), [], obstacles


def whole(
    site: Site,
    kind: RemedyKind,
    feasible: bool | None,
    why: Sequence[Reason],
    obstacles: Sequence[str],
    quantities: Sequence[Quantity],
    rules: dict[str, Rule],
    only: set[str] | None = None,
) -> Draft:
    """Return an option that takes the owner's whole part of the line."""
    length = site.length_m
    draft = Draft(
        kind=kind,
        feasible=feasible,
        why=tuple(why),
        obstacles=tuple(obstacles),
        from_m=site.start_m if length.known else None,
        to_m=site.end_m.value,
        quantities=merged([q for q in quantities if q.quantity > 0.0]),
        unsized_because="" if length.known else f"{length.unknown_because}",
        assumptions=_length_assumption(site),
    )
    return sorted_out(draft, rules, only)


def _length_assumption(site: Site) -> tuple[str, ...]:
    if site.end_seen or not site.length_m.known:
        return ()
    return ("the far end was not seen: priced only as far as the line was seen",)


def nothing(kind: RemedyKind, site: Site, because: str) -> Draft:
    """Return an option that does not come into question."""
    leaves = tuple(f.finding.id for f in site.faults)
    return Draft(kind=kind, feasible=False, why=(Reason(because=because),), leaves=leaves)
