"""Partly full pipe against EPA SWMM's tables, published examples and other libraries."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path

import fluids
import numpy as np
import pytest

from saltglaze import units
from saltglaze.errors import InputError
from saltglaze.flow import manning
from saltglaze.flow.circular import area_share, section
from saltglaze.flow.codebook import least_slope, most_units
from saltglaze.flow.deposits import capacity_left, filled_bottom
from saltglaze.flow.load import demand_gpm, discharge_m3_s

HERE = Path(__file__).parent
CFS = units.M_PER_FT**3


def rows(name):
    lines = [li for li in (HERE / name).read_text().splitlines() if not li.startswith("#")]
    return list(csv.DictReader(lines))


def examples(solve):
    table = tomllib.loads((HERE / "pipe_examples.toml").read_text())["example"]
    chosen = [row for row in table if row["solve"] == solve]
    assert chosen
    return pytest.mark.parametrize("row", chosen, ids=[row["id"] for row in chosen])


@pytest.mark.parametrize("row", rows("hydraulic_elements.csv"), ids=lambda r: r["depth_share"])
def test_hydraulic_elements(row):
    share = float(row["depth_share"])
    wet = section(share, 1.0)
    assert area_share(share) == pytest.approx(float(row["area_exact"]), abs=6e-5)
    assert wet.radius_m / 0.25 == pytest.approx(float(row["radius_exact"]), abs=6e-5)
    flow = manning.flow_at_depth(share, 1.0, 0.01, 0.013) / manning.full_flow(1.0, 0.01, 0.013)
    velocity = manning.velocity_at_depth(share, 1.0, 0.01, 0.013)
    ratio = velocity / manning.full_velocity(1.0, 0.01, 0.013)
    assert flow == pytest.approx(float(row["flow_exact"]), abs=6e-5)
    assert ratio == pytest.approx(float(row["velocity_exact"]), abs=6e-5)
    if row["area_swmm"]:
        assert area_share(share) == pytest.approx(float(row["area_swmm"]), abs=5e-4)
        assert wet.radius_m / 0.25 == pytest.approx(float(row["radius_swmm"]), abs=1.5e-3)


def test_turning_points():
    """Largest flow 1.076 Qf at y/D 0.938, largest velocity 1.14 at 0.81 (Chow, from memory)."""
    shares = np.linspace(0.5, 1.0, 50001)
    flow = np.array([manning.flow_at_depth(float(s), 1.0, 1.0, 1.0) for s in shares[::50]])
    full = manning.full_flow(1.0, 1.0, 1.0)
    assert flow.max() / full == pytest.approx(1.07571, abs=1e-5)
    assert shares[::50][flow.argmax()] == pytest.approx(0.938, abs=1e-3)
    assert manning.flow_at_depth(0.81963, 1.0, 1.0, 1.0) / full == pytest.approx(1.0, abs=1e-5)
    assert full * manning.MOST_FLOW_SHARE == pytest.approx(flow.max(), rel=1e-5)


@examples("flow_us")
def test_published_flow_us(row):
    diameter_m = row["diameter_ft"] * units.M_PER_FT
    flow = manning.flow_at_depth(row["depth_share"], diameter_m, row["slope"], row["n"])
    velocity = manning.velocity_at_depth(row["depth_share"], diameter_m, row["slope"], row["n"])
    assert flow / CFS == pytest.approx(row["want_cfs"], rel=row["within"])
    assert units.ft(velocity) == pytest.approx(row["want_ft_s"], rel=row["within"])


@examples("depth")
def test_published_depth(row):
    given = (row["flow_m3_s"], row["diameter_m"], row["slope"], row["n"])
    depth = manning.normal_depth_share(*given) * row["diameter_m"]
    assert depth == pytest.approx(row["want_depth_m"], abs=row["within"])
    share = row["flow_m3_s"] / manning.full_flow(row["diameter_m"], row["slope"], row["n"])
    fast = float(manning.depth_shares_of_flow_shares(np.array([share]))[0])
    assert fast * row["diameter_m"] == pytest.approx(row["want_depth_m"], abs=row["within"])


@examples("flow")
def test_published_flow(row):
    share = row["depth_m"] / row["diameter_m"]
    flow = manning.flow_at_depth(share, row["diameter_m"], row["slope"], row["n"])
    full = manning.full_flow(row["diameter_m"], row["slope"], row["n"])
    assert flow == pytest.approx(row["want_m3_s"], abs=row["within"])
    assert full == pytest.approx(row["want_full_m3_s"], abs=row["within"])


@examples("slope")
def test_published_slope(row):
    share = row["depth_m"] / row["diameter_m"]
    slope = manning.slope_for(row["flow_m3_s"], share, row["diameter_m"], row["n"])
    assert slope == pytest.approx(row["want_slope"], abs=row["within"])


@examples("diameter")
def test_published_diameter(row):
    flow = row["flow_cfs"] * CFS
    diameter = manning.diameter_for(flow, row["depth_share"], row["slope"], row["n"])
    assert units.ft(diameter) == pytest.approx(row["want_ft"], abs=row["within"])


@pytest.mark.parametrize("row", rows("lateral_grid.csv"), ids=lambda r: "-".join(r.values()))
def test_lateral_grid(row):
    diameter_m, slope = units.m_from_in(float(row["bore_in"])), float(row["slope_in_ft"]) / 12.0
    flow = units.m3_s_from_gpm(float(row["flow_gpm"]))
    share = manning.normal_depth_share(flow, diameter_m, slope, 0.013)
    velocity = units.ft(manning.velocity_at_depth(share, diameter_m, slope, 0.013))
    assert share == pytest.approx(float(row["depth_share"]), abs=2e-4)
    assert velocity == pytest.approx(float(row["velocity_ft_s"]), abs=2e-3)
    shear = manning.shear_pa(share, diameter_m, slope)
    assert shear == pytest.approx(float(row["shear_pa"]), abs=6e-3)


def test_two_roots_give_the_lower_and_more_is_refused():
    full = manning.full_flow(0.1, 0.02, 0.013)
    assert manning.normal_depth_share(1.03 * full, 0.1, 0.02, 0.013) < 0.93818
    with pytest.raises(InputError, match="free surface"):
        manning.normal_depth_share(1.08 * full, 0.1, 0.02, 0.013)


@pytest.mark.parametrize("share", [0.1, 0.3, 0.5, 0.9, 1.0])
def test_velocity_agrees_with_the_fluids_library(share):
    """The PyPI package fluids, open_flow.V_Manning."""
    wet = section(share, 0.15)
    theirs = fluids.V_Manning(wet.radius_m, 0.015, 0.012)
    ours = manning.velocity_at_depth(share, 0.15, 0.015, 0.012)
    assert ours == pytest.approx(theirs, rel=1e-9)


@pytest.mark.parametrize("row", rows("deposits.csv"), ids=lambda r: r["bed_share"])
def test_flat_bed(row):
    bed = float(row["bed_share"])
    same, rough = filled_bottom(bed, 0.013), filled_bottom(bed, 0.013, 0.025)
    assert same.area_share == pytest.approx(float(row["area_share"]), abs=6e-5)
    assert same.radius_share == pytest.approx(float(row["radius_share"]), abs=6e-5)
    assert same.flow_share == pytest.approx(float(row["flow_same_n"]), abs=6e-5)
    assert rough.n == pytest.approx(float(row["n_composite"]), abs=6e-6)
    assert rough.flow_share == pytest.approx(float(row["flow_composite"]), abs=1e-4)
    blocked = 1.0 - float(row["area_share"])
    assert capacity_left(blocked, 0.013, 0.025) == pytest.approx(rough.flow_share, abs=5e-4)


@pytest.mark.parametrize(
    "row", rows("code_tables.csv"), ids=lambda r: f"{r['table']}-{r['bore_in']}-{r['slope_in_ft']}"
)
def test_code_tables(row):
    family, what = row["table"].split("_")
    diameter_m = units.m_from_in(float(row["bore_in"]))
    if what == "slope":
        found = least_slope(family, diameter_m)
        assert found is not None and found[0] * 12.0 == pytest.approx(float(row["want"]))
    else:
        allowed = most_units(family, diameter_m, float(row["slope_in_ft"]) / 12.0)
        assert allowed is not None and allowed[0] == int(row["want"])


def test_more_slope_and_more_bore_never_allow_fewer_units():
    for bore in (3, 4, 5, 6, 8):
        allowed = [most_units("ipc", units.m_from_in(bore), s / 12.0) for s in (0.125, 0.25, 0.5)]
        counts = [a[0] for a in allowed if a is not None]
        assert len(counts) == 3
        assert counts == sorted(counts)


@pytest.mark.parametrize(
    ("units_", "gpm"), [(1, 3.0), (10, 14.6), (20, 19.6), (100, 43.5), (200, 65.0), (1000, 208.0)]
)
def test_demand_curve_points(units_, gpm):
    """IPC table E103.3(3), flush tanks, three independent files (secondary)."""
    assert demand_gpm(units_) == pytest.approx(gpm)


def test_en_12056_house():
    """EN 12056-2 system I: WC, basin, shower, bath, sink, dishwasher, washer (secondary).

    The sum is 6.3 and K 0.5 gives 1.255 L/s (computed), but the largest single unit,
    2.0, governs (rule from memory).
    """
    units_l_s = [2.0, 0.5, 0.6, 0.8, 0.8, 0.8, 0.8]
    assert sum(units_l_s) == pytest.approx(6.3)
    assert discharge_m3_s(sum(units_l_s), 0.0, 0.5) == pytest.approx(0.001255, abs=5e-7)
    assert discharge_m3_s(sum(units_l_s), max(units_l_s), 0.5) == pytest.approx(0.0020)
