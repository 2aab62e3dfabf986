"""Nozzles, hose, reach and pressure limits against published figures."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path

import fluids
import pytest

from saltglaze import units
from saltglaze.cleaning import jet, reach
from saltglaze.cleaning.limits import jet_limit
from saltglaze.model.line import Material

HERE = Path(__file__).parent
TABLE = tomllib.loads((HERE / "jets.toml").read_text())
LB_FT = units.N_PER_LBF / units.M_PER_FT


def each(name):
    return pytest.mark.parametrize("row", TABLE[name], ids=lambda row: row["source"][:40])


def hoses():
    lines = [line for line in (HERE / "hose_loss.csv").read_text().splitlines() if line[0] != "#"]
    return [{k: float(v) for k, v in row.items()} for row in csv.DictReader(lines)]


def test_a_tip_passes_flow_with_the_root_of_pressure():
    row = TABLE["tip"]
    constant = jet.nozzle_constant(
        units.m3_s_from_gpm(row["known_gpm"]), units.pa_from_psi(row["known_psi"])
    )
    for psi, gpm in zip(row["psi"], row["gpm"], strict=True):
        got = units.gpm(jet.nozzle_flow(constant, units.pa_from_psi(psi)))
        assert got == pytest.approx(gpm, abs=row["within"])


@each("jet")
def test_reaction_and_velocity(row):
    flow, pressure = units.m3_s_from_gpm(row["flow_gpm"]), units.pa_from_psi(row["pressure_psi"])
    force = jet.reaction(flow, pressure) / units.N_PER_LBF
    assert force == pytest.approx(row["want_lbf"], abs=row["within"])
    if "want_ft_s" in row:
        assert units.ft(jet.jet_velocity(pressure)) == pytest.approx(row["want_ft_s"], rel=1e-3)


@pytest.mark.parametrize("row", hoses(), ids=lambda r: f"{r['bore_in']}in-{r['flow_gpm']:.0f}gpm")
def test_hose_loss(row):
    flow, bore = units.m3_s_from_gpm(row["flow_gpm"]), units.m_from_in(row["bore_in"])
    length = 100.0 * units.M_PER_FT
    smooth = units.psi(jet.smooth_loss(flow, bore, length))
    assert smooth == pytest.approx(row["smooth"], rel=4e-3)
    assert 1.10 <= row["published"] / smooth <= 1.45
    ours = units.psi(jet.hose_loss(flow, bore, length))
    assert ours == pytest.approx(row["published"], rel=0.08)


def test_smooth_friction_agrees_with_the_fluids_library():
    """The PyPI package fluids, friction.Colebrook with no roughness."""
    for reynolds in (5e3, 5e4, 5e5):
        theirs = fluids.friction.Colebrook(reynolds, 0.0)
        assert jet.smooth_friction(reynolds) == pytest.approx(theirs, rel=3e-3)


@each("capstan")
def test_capstan(row):
    got = reach.capstan(row["tension"], row["friction"], row["angle_deg"])
    assert got == pytest.approx(row["want"], abs=row["within"])


@each("drag")
def test_straight_drag(row):
    got = reach.needed_pull(row["length_m"], row["weight_n_m"], row["friction"])
    assert got == pytest.approx(row["want_n"], rel=1e-6)


@each("reach")
def test_reach(row):
    flow, pressure = units.m3_s_from_gpm(row["flow_gpm"]), units.pa_from_psi(row["pressure_psi"])
    pull = jet.rear_pull(flow, pressure, row["angle_deg"], 0.0)
    weight = row["weight_lb_ft"] * LB_FT
    assert pull / units.N_PER_LBF == pytest.approx(row["want_pull_lbf"], rel=1e-3)
    straight = units.ft(reach.reach(pull, weight, row["friction"]))
    assert straight == pytest.approx(row["want_ft"], rel=1e-3)
    behind_a_bend = pull / reach.capstan(1.0, row["friction"], 90.0)
    bent = units.ft(reach.reach(behind_a_bend, weight, row["friction"]))
    assert bent == pytest.approx(row["want_ft_after_bend"], rel=1e-3)


def test_rod_buckling():
    row = TABLE["rod"]
    given = (row["stiffness_n_m2"], row["weight_n_m"], row["clearance_m"])
    assert reach.sinusoidal_force(*given) == pytest.approx(row["want_sinusoidal_n"], rel=1e-3)
    assert reach.helical_force(*given) == pytest.approx(row["want_helical_n"], rel=1e-3)
    assert reach.lock_up_m(*given, row["friction"]) == pytest.approx(
        row["want_lock_up_m"], rel=1e-3
    )


@each("limit")
def test_pressure_limits(row):
    limit = jet_limit(Material(row["material"]), row.get("grade"))
    assert limit.pressure_pa is not None
    assert units.psi(limit.pressure_pa) == pytest.approx(row["want_psi"])
