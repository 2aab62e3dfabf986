"""The peak flow that the fixtures of a house send down its line.

Two ways, by the code in force. North American codes count fixture units and give
no curve from units to flow; the flush-tank demand curve (Hunter) read at the
drainage units is a rule of thumb, and some halve the units first, which gives our
lower bound. EN 12056-2 gives Q = K sqrt(sum DU), not below the largest single DU
(that rule from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from saltglaze import units
from saltglaze.flow.codebook import tables
from saltglaze.model.appraisal import Reason
from saltglaze.model.base import Estimate, Record
from saltglaze.model.line import FixtureCount


class PeakLoad(Record):
    """Peak flow with its margin, and how it was come by."""

    flow_m3_s: Estimate
    fixture_units: float | None = None
    family: str = ""
    plain: str
    unknown_kinds: tuple[str, ...] = ()
    reasons: tuple[Reason, ...] = ()


def peak_load(fixtures: Sequence[FixtureCount], family: str | None) -> PeakLoad:
    """Return the peak flow of a list of fixtures under a code family (ipc, upc, en)."""
    fixtures = [fixture for fixture in fixtures if fixture.count > 0]
    if not fixtures:
        because = "which fixtures drain into the line was not listed"
        return PeakLoad(flow_m3_s=Estimate.unknown(because), plain=f"Peak flow unknown: {because}.")
    chosen = family or "ipc"
    table = tables()["fixture_units"][chosen]
    unknown = tuple(f.kind for f in fixtures if not isinstance(table.get(f.kind), (int, float)))
    known = [f for f in fixtures if f.kind not in unknown]
    if not known:
        because = f"none of the fixtures listed is in {table['name']}"
        return PeakLoad(
            flow_m3_s=Estimate.unknown(because),
            plain=f"Peak flow unknown: {because}.",
            unknown_kinds=unknown,
        )
    total = float(sum(table[f.kind] * f.count for f in known))
    load = _by_discharge(known, table) if chosen == "en" else _by_demand(total, table)
    assumed = (
        "" if family else " (by the IPC's tables: those of the code in force were not at hand)"
    )
    return load.model_copy(
        update={
            "fixture_units": total,
            "family": chosen,
            "plain": load.plain + assumed,
            "unknown_kinds": unknown,
        }
    )


def demand_gpm(fixture_units: float) -> float:
    """Return the flow in US gallons a minute on the flush-tank demand curve."""
    table = tables()["demand"]
    return float(np.interp(fixture_units, [0, *table["units"]], [0.0, *table["gpm"]]))


def discharge_m3_s(total_l_s: float, largest_l_s: float, frequency_factor: float) -> float:
    """Return Q = K sqrt(sum DU), not below the largest DU, in m3/s (EN 12056-2)."""
    return max(frequency_factor * math.sqrt(total_l_s), largest_l_s) / 1000.0


def _by_demand(total: float, table: dict[str, object]) -> PeakLoad:
    flow, low, high = (units.m3_s_from_gpm(demand_gpm(total * f)) for f in (1.0, 0.5, 1.5))
    return PeakLoad(
        flow_m3_s=Estimate.within(flow, low, high),
        plain=f"{total:.0f} drainage fixture units, about {demand_gpm(total):.0f} gpm at the peak",
        reasons=(
            Reason(
                because=f"fixtures add up to {total:.0f} units",
                rule=str(table["name"]),
                source=str(table["source"]),
            ),
            Reason(
                because="no code turns drainage units into flow: read from the demand curve, "
                "from half to one and a half times the units",
                rule=str(tables()["demand"]["name"]),
                source=str(tables()["demand"]["source"]),
            ),
        ),
    )


def _by_discharge(fixtures: Sequence[FixtureCount], table: dict[str, object]) -> PeakLoad:
    total = sum(float(str(table[f.kind])) * f.count for f in fixtures)
    largest = max(float(str(table[f.kind])) for f in fixtures)
    factor = float(str(table["frequency_factor"]))
    flow = discharge_m3_s(total, largest, factor)
    return PeakLoad(
        flow_m3_s=Estimate.of(flow, 0.2 * flow),
        plain=f"discharge units add up to {total:.1f} L/s, {flow * 1000.0:.2f} L/s at the peak",
        reasons=(
            Reason(
                because=f"sum of discharge units {total:.1f} L/s, K {factor}, "
                "not below the largest single fixture (rule from memory); margin 20 % is our own",
                rule=str(table["name"]),
                source=str(table["source"]),
            ),
        ),
    )
