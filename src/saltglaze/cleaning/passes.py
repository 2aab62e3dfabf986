"""Each jetting pass looked at: pressure at the nozzle, thrust, reach, limit, dwell."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from saltglaze import units
from saltglaze.cleaning.jet import (
    HOSE_FACTOR_RANGE,
    flow_from_pump,
    hose_loss,
    nozzle_constant,
    reaction,
    rear_pull,
)
from saltglaze.cleaning.limits import JetLimit
from saltglaze.cleaning.reach import reach
from saltglaze.condition.tables import read_table
from saltglaze.condition.wording import UnitWords
from saltglaze.model.appraisal import PassReview, Reason
from saltglaze.model.base import Z95, Estimate
from saltglaze.model.run import JetPass

_LEAST = {
    "pump_pressure_pa": 1.0e4,
    "flow_m3_s": 1.0e-6,
    "hose_bore_m": 0.002,
    "hose_length_m": 0.1,
}
_GAUGE_SD_SHARE = 0.03
_FACTOR_SD_SHARE = (HOSE_FACTOR_RANGE[1] / HOSE_FACTOR_RANGE[0] - 1.0) / (2.0 * Z95)


def review(
    jet: JetPass,
    limit: JetLimit,
    bends: Sequence[tuple[float, float]],
    *,
    plastic: bool,
    words: UnitWords,
) -> PassReview:
    """Review one pass against the strictest limit on the stretch it covered.

    A pressure, flow or hose size too small to be meant counts as not noted.
    """
    jet = _noted(jet)
    pressure = nozzle_pressure(jet)
    thrust = _thrust(jet, pressure)
    within = _within(pressure, limit)
    reasons = (*_how(jet, pressure), *limit.reasons, *_dwell(jet, plastic=plastic))
    return PassReview(
        pass_id=jet.id,
        nozzle_pressure_pa=pressure,
        reaction_n=thrust,
        within_limit=within,
        limit_pa=limit.pressure_pa,
        reach_m=_reach(jet, pressure, bends),
        plain=_plain(jet, pressure, limit, within, words, plastic=plastic),
        reasons=reasons,
    )


def with_flows(passes: Sequence[JetPass]) -> tuple[JetPass, ...]:
    """Fill in the flow of passes that used a nozzle whose flow another pass noted.

    A nozzle passes Q = K sqrt(P): its K from the pass that has flow and pressure gives
    the flow of one that has pressure and hose only.
    """
    noted = [_noted(jet) for jet in passes]
    constants = {jet.nozzle: k for jet in noted if (k := _constant(jet)) is not None}
    return tuple(_with_flow(jet, constants.get(jet.nozzle)) for jet in noted)


def _constant(jet: JetPass) -> float | None:
    pressure = nozzle_pressure(jet).value
    if not jet.nozzle or jet.flow_m3_s is None or jet.hose_bore_m is None or not pressure:
        return None
    return nozzle_constant(jet.flow_m3_s, pressure)


def _with_flow(jet: JetPass, constant: float | None) -> JetPass:
    if constant is None or jet.flow_m3_s is not None or jet.pump_pressure_pa is None:
        return jet
    if jet.hose_bore_m is None or jet.hose_length_m is None:
        return jet
    flow = flow_from_pump(constant, jet.pump_pressure_pa, jet.hose_bore_m, jet.hose_length_m)
    return jet.model_copy(update={"flow_m3_s": flow})


def _noted(jet: JetPass) -> JetPass:
    odd = {name: None for name, least in _LEAST.items() if (getattr(jet, name) or 0.0) < least}
    return jet.model_copy(update=odd)


def nozzle_pressure(jet: JetPass) -> Estimate:
    """Return the pressure at the nozzle: pump less the loss in the hose.

    Margins: 3 % for the gauge (our own), the spread of the charted hose loss.
    """
    if jet.pump_pressure_pa is None:
        return Estimate.unknown("the pump pressure was not noted")
    gauge_sd = _GAUGE_SD_SHARE * jet.pump_pressure_pa
    if jet.flow_m3_s is None or jet.hose_bore_m is None or jet.hose_length_m is None:
        low = 0.5 * jet.pump_pressure_pa
        return Estimate.within(
            0.85 * jet.pump_pressure_pa, low, jet.pump_pressure_pa + Z95 * gauge_sd
        )
    loss = hose_loss(jet.flow_m3_s, jet.hose_bore_m, jet.hose_length_m)
    value = max(0.0, jet.pump_pressure_pa - loss)
    return Estimate.of(value, math.hypot(gauge_sd, _FACTOR_SD_SHARE * loss))


def _thrust(jet: JetPass, pressure: Estimate) -> Estimate:
    if jet.flow_m3_s is None or pressure.value is None:
        return Estimate.unknown("needs flow and pressure")
    value = reaction(jet.flow_m3_s, pressure.value)
    share = 0.5 * pressure.spread / pressure.value if pressure.value else 0.0
    return Estimate.of(value, value * math.hypot(share, 0.05))


def _reach(jet: JetPass, pressure: Estimate, bends: Sequence[tuple[float, float]]) -> Estimate:
    if jet.flow_m3_s is None or pressure.value is None or jet.hose_bore_m is None:
        return Estimate.unknown("needs flow, pressure and hose bore")
    hose, kind = _table()["hose"], _nozzle(jet)
    pull = rear_pull(jet.flow_m3_s, pressure.value, kind["angle_deg"], kind["forward"])
    weight = _hose_weight(jet.hose_bore_m)
    rng = np.random.default_rng(7)
    weights = weight * np.exp(rng.normal(0.0, hose["weight_sd_share"], 400))
    frictions = np.maximum(rng.normal(hose["friction"], hose["friction_sd"], 400), 0.1)
    drawn = [
        reach(pull, float(w), float(m), bends) for w, m in zip(weights, frictions, strict=True)
    ]
    low, value, high = np.percentile(drawn, [2.5, 50.0, 97.5])
    return Estimate.within(float(value), float(low), float(high))


def _nozzle(jet: JetPass) -> dict[str, float]:
    table = _table()["nozzles"]
    found = table["kind"].get(jet.nozzle_kind or "", table["unknown"])
    return dict(found)


def _hose_weight(bore_m: float) -> float:
    """Return the weight of a full hose in newtons per metre, by its bore."""
    hose = _table()["hose"]
    pounds = float(np.interp(units.inches(bore_m), hose["bore_in"], hose["lb_per_ft"]))
    return pounds * units.N_PER_LBF / units.M_PER_FT


def _within(pressure: Estimate, limit: JetLimit) -> bool | None:
    if limit.pressure_pa is None or pressure.value is None:
        return None
    low, high = pressure.interval95
    if high <= limit.pressure_pa:
        return True
    return False if low > limit.pressure_pa else None


def _plain(
    jet: JetPass,
    pressure: Estimate,
    limit: JetLimit,
    within: bool | None,
    words: UnitWords,
    *,
    plastic: bool,
) -> str:
    if pressure.value is None:
        text = "What the nozzle did is not known: the pump pressure was not noted."
    elif limit.pressure_pa is None:
        text = (
            f"About {words.pressure(pressure.value)} at the nozzle; "
            "no limit is known for this pipe."
        )
    else:
        judged = {True: "within", False: "above", None: "close to"}[within]
        named = f"the limit of {words.pressure(limit.pressure_pa)} for this pipe in its condition"
        if limit.assumed:
            line = words.pressure(limit.pressure_pa)
            named = f"{line}, a cautious line of ours: no limit is published for this pipe"
        text = f"About {words.pressure(pressure.value)} at the nozzle, {judged} {named}."
    still = _dwell(jet, plastic=plastic)
    return f"{text} {still[0].because[0].upper()}{still[0].because[1:]}." if still else text


def _how(jet: JetPass, pressure: Estimate) -> tuple[Reason, ...]:
    if pressure.value is None:
        return ()
    if jet.flow_m3_s is None or jet.hose_bore_m is None or jet.hose_length_m is None:
        because = "flow or hose was not noted, so the loss in the hose is taken as 0 to 50 %"
        return (Reason(because=because, source="our own judgement"),)
    return (
        Reason(
            because="pump pressure less the loss in the hose",
            rule="smooth-bore Darcy-Weisbach times 1.35 (hoses to 1/2 in) or 1.20",
            source="fitted to the loss chart of a plunger-pump manual (confirmed)",
        ),
    )


def _dwell(jet: JetPass, *, plastic: bool) -> tuple[Reason, ...]:
    table = _table()["dwell"]
    limit_s = table["plastic_warn_s"] if plastic else table["any_warn_s"]
    if jet.dwell_s is None or jet.dwell_s <= limit_s:
        return ()
    because = f"the nozzle stood in one place for {jet.dwell_s:.0f} s; look there for damage"
    return (Reason(because=because, source=table["source"]),)


def _table() -> dict[str, Any]:
    return read_table("saltglaze.cleaning", "tables.toml")
