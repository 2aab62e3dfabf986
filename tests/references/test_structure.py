"""Liner thickness, earth load, trench and present values against published answers."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path

import pytest

from saltglaze import units
from saltglaze.remedy import discount, earth, liner
from saltglaze.remedy.trench import trench

HERE = Path(__file__).parent
TABLE = tomllib.loads((HERE / "structure.toml").read_text())
LB_FT = units.N_PER_LBF / units.M_PER_FT
PSI = units.PA_PER_PSI


def discounts():
    text = (HERE / "discount.csv").read_text().splitlines()
    return list(csv.DictReader(line for line in text if not line.startswith("#")))


def test_earth_thickness_with_the_ovality_factor_inside_the_root():
    row = TABLE["liner"]["w1"]
    got = liner.earth_thickness(
        units.m_from_in(row["diameter_in"]),
        row["pressure_psi"] * PSI,
        row["ovality"],
        row["buoyancy"],
        row["support"],
        row["soil_modulus_psi"] * PSI,
    )
    assert units.inches(got) == pytest.approx(row["want_in"], abs=row["within"])
    assert abs(units.inches(got) - row["if_outside_root_in"]) > 0.05


def test_least_stiffness():
    row = TABLE["liner"]["w2"]
    got = liner.stiffness_thickness(units.m_from_in(row["diameter_in"]))
    assert units.inches(got) == pytest.approx(row["want_in"], abs=row["within"])


def test_bending():
    """The print uses (1+q) once, the standard (from memory) squared: 1.1 % apart."""
    row = TABLE["liner"]["w3"]
    got = units.inches(
        liner.bending_thickness(
            units.m_from_in(row["diameter_in"]), row["pressure_psi"] * PSI, row["ovality"]
        )
    )
    assert got == pytest.approx(row["squared_form_in"], abs=5e-5)
    assert got == pytest.approx(row["want_in"], rel=row["within_share"])


def test_buckling():
    row = TABLE["liner"]["w4"]
    got = liner.buckling_thickness(
        units.m_from_in(row["diameter_in"]), row["pressure_psi"] * PSI, row["ovality"]
    )
    assert units.inches(got) == pytest.approx(row["want_in"], abs=row["within"])


def test_deflection():
    row = TABLE["liner"]["w5"]
    got = liner.deflection_share(
        row["dimension_ratio"],
        row["load_psi"] * PSI,
        row["live_psi"] * PSI,
        soil_modulus_pa=row["soil_modulus_psi"] * PSI,
    )
    assert got * 100.0 == pytest.approx(row["want_percent"], abs=row["within"])


def test_liner_factors():
    table = TABLE["liner"]
    cover = table["support"]["cover_ft"] * units.M_PER_FT
    assert liner.elastic_support(cover) == pytest.approx(table["support"]["want"], abs=5e-4)
    row = table["buoyancy"]
    water = row["water_ft"] * units.M_PER_FT
    assert liner.buoyancy_factor(water, row["cover_ft"] * units.M_PER_FT) == pytest.approx(
        row["want"], abs=row["within"]
    )
    row = table["factor"]
    assert liner.ovality_factor(row["ovality"]) == pytest.approx(row["want"], abs=row["within"])
    assert liner.buoyancy_factor(4.0, 4.0) == pytest.approx(0.67)


@pytest.mark.parametrize(
    "row", TABLE["lateral"], ids=lambda r: f"{r['diameter_in']}in-{r['ovality']}"
)
def test_lateral_liners(row):
    diameter = units.m_from_in(row["diameter_in"])
    cover, water = 6.0 * units.M_PER_FT, 3.0 * units.M_PER_FT
    pressure = liner.external_pressure(cover, water, 1.39 * PSI)
    assert pressure / PSI == pytest.approx(6.864, abs=0.002)
    buoyancy, support = liner.buoyancy_factor(water, cover), liner.elastic_support(cover)
    earth_m = liner.earth_thickness(diameter, pressure, row["ovality"], buoyancy, support)
    head = liner.WATER_N_M3 * (water + diameter)
    assert units.inches(earth_m) == pytest.approx(row["earth_in"], abs=1e-4)
    assert units.inches(liner.stiffness_thickness(diameter)) == pytest.approx(
        row["stiffness_in"], abs=1e-4
    )
    assert units.inches(liner.buckling_thickness(diameter, head, row["ovality"])) == pytest.approx(
        row["buckling_in"], abs=1e-4
    )
    assert units.inches(liner.bending_thickness(diameter, head, row["ovality"])) == pytest.approx(
        row["bending_in"], abs=1e-4
    )


def test_the_design_takes_the_equation_that_governs():
    worn = liner.design(0.1016, 6 * 0.3048, deteriorated=True, water_over_top_m=0.9144)
    sound = liner.design(0.1016, 6 * 0.3048, deteriorated=False, water_over_top_m=0.9144)
    assert worn.thickness_m == max(worn.earth_m, worn.stiffness_m)
    assert sound.thickness_m == max(sound.buckling_m, sound.bending_m)
    assert sound.governs.startswith("X1.1")
    assert 0.0 < worn.deflection < 0.05


@pytest.mark.parametrize("row", TABLE["marston"], ids=lambda r: r["id"])
def test_trench_load(row):
    width, cover = row["width_ft"] * units.M_PER_FT, row["cover_ft"] * units.M_PER_FT
    coefficient = earth.load_coefficient(cover / width, row["friction"])
    load = earth.trench_load(cover, width, row["friction"], liner.SOIL_N_M3) / LB_FT
    assert coefficient == pytest.approx(row["want_coefficient"], rel=row["within_share"])
    assert load == pytest.approx(row["want_lb_ft"], rel=row["within_share"])


@pytest.mark.parametrize("row", TABLE["bedding"], ids=lambda r: r["id"])
def test_required_strength(row):
    for bedding, want in row["want"].items():
        got = earth.required_strength(row["load_lb_ft"] * LB_FT, bedding, row["safety"]) / LB_FT
        assert got == pytest.approx(want, abs=0.6)


@pytest.mark.parametrize("row", TABLE["clay"], ids=lambda r: r["source"][:9])
def test_clay_strength(row):
    for bore, want in row["want_lb_ft"].items():
        strength = earth.clay_strength(units.m_from_in(float(bore)))
        assert strength / LB_FT == pytest.approx(want)
    assert earth.clay_strength(units.m_from_in(21.0)) is None


def test_trench_volumes_and_the_five_foot_rule():
    table = TABLE["trench"]
    depth, bottom = 6.0 * units.M_PER_FT, 2.0 * units.M_PER_FT
    for soil, want in table["sloped_yd3_ft"].items():
        sized = trench(depth, soil, bottom)
        assert sized.volume_m3_per_m * units.M_PER_FT / 0.9144**3 == pytest.approx(want, abs=6e-4)
        assert units.ft(sized.top_width_m) == pytest.approx(table["top_ft"][soil])
    vertical = trench(depth, "C", bottom).vertical_m3_per_m * units.M_PER_FT / 0.9144**3
    assert vertical == pytest.approx(table["vertical_yd3_ft"], abs=6e-4)
    assert not trench(4.99 * units.M_PER_FT).protection
    assert trench(5.0 * units.M_PER_FT).protection
    assert not trench(3.0, "rock").protection


@pytest.mark.parametrize(
    "row", discounts(), ids=lambda r: f"{r['factor']}-{r['rate']}-{r['years']}"
)
def test_present_values(row):
    rate, years, want = float(row["rate"]), int(row["years"]), float(row["want"])
    extra = float(row["extra"] or 0.0)
    got = {
        "spv": lambda: discount.spv(rate, years),
        "upv": lambda: discount.upv(rate, years),
        "upv_growing": lambda: discount.upv_growing(rate, extra, years),
        "yearly": lambda: extra * discount.upv(rate, years),
        "once": lambda: extra * discount.spv(rate, years),
        "every_3": lambda: extra * discount.every(rate, 3, years),
        "every_2": lambda: extra * discount.every(rate, 2, years),
        "recover": lambda: extra * discount.capital_recovery(rate, years),
    }[row["factor"]]()
    assert got == pytest.approx(want, abs=float(row["within"]))
