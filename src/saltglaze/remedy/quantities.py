"""What an option needs: so many units of each priced item."""

from __future__ import annotations

from collections.abc import Sequence

from saltglaze.model.base import Estimate, Record
from saltglaze.remedy.feasibility import Rule
from saltglaze.remedy.site import Site
from saltglaze.remedy.trench import BOTTOM_WIDTH_M

_EDGE_M = 0.15


class Quantity(Record):
    """So many units of a priced item, and why. ``sd`` is one standard deviation."""

    item: str
    quantity: float
    sd: float = 0.0
    because: str = ""


def merged(quantities: Sequence[Quantity]) -> tuple[Quantity, ...]:
    """Add up quantities of one item."""
    merged: dict[str, Quantity] = {}
    for each in quantities:
        if each.quantity <= 0.0:
            continue
        before = merged.get(each.item)
        total = each.quantity + (before.quantity if before else 0.0)
        merged[each.item] = each.model_copy(update={"quantity": total})
    return tuple(merged.values())


def extras(rules: Sequence[Rule]) -> list[Quantity]:
    """Return what must be paid for before the rules hold: cutting back, sealing."""
    return [Quantity(item=r.item, quantity=1.0, because=r.because) for r in rules if r.item]


def per_metre(item: str, length_m: Estimate) -> list[Quantity]:
    """Return a quantity over a length with its margin; none where the length is not known."""
    if length_m.value is None:
        return []
    return [Quantity(item=item, quantity=length_m.value, sd=length_m.spread)]


def open_taps(site: Site) -> int:
    """Return how many taps must be opened or joined again."""
    return sum(not tap.finding.facts.capped for tap in site.taps)


def way_in(site: Site) -> list[Quantity]:
    """Return a new clean-out where the accesses known give no way in."""
    kinds = " ".join(access.kind.casefold() for access in site.job.line.accesses)
    if any(word in kinds for word in ("clean", "manhole")) or not site.job.line.accesses:
        return []
    return [Quantity(item="new_clean_out", quantity=1.0, because="no clean-out to work from")]


def street_permit(site: Site) -> list[Quantity]:
    """Return a permit where part of the line lies under the street."""
    if site.street <= 0.5:
        return []
    return [Quantity(item="permit_street", quantity=1.0, because="part of it lies in the street")]


def surfaces(site: Site) -> list[Quantity]:
    """Return the surfaces to make good over an upright trench, a hand's width wider each side."""
    width_m = BOTTOM_WIDTH_M + 2.0 * _EDGE_M
    yard_m = (site.open_length_m.value or 0.0) - site.street
    return [
        Quantity(item=item, quantity=length_m * width_m, because="over the trench")
        for item, length_m in (("street_surface", site.street), ("make_good_yard", yard_m))
        if length_m > 0.5
    ]
