"""Properties of the pipe that hold whatever the numbers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from saltglaze.errors import InputError
from saltglaze.flow.circular import area_share, depth_share_of_area, flow_shares
from saltglaze.flow.codebook import code_family, least_slope, meets_slope, most_units, roughness
from saltglaze.flow.deposits import capacity_left, composite_n, filled_bottom
from saltglaze.flow.load import peak_load
from saltglaze.flow.manning import (
    depth_shares_of_flow_shares,
    flow_at_depth,
    full_flow,
    normal_depth_share,
)
from saltglaze.model.line import FixtureCount, Material


@given(st.floats(0.0, 1.0))
def test_area_and_depth_are_inverse(share):
    assert area_share(depth_share_of_area(share)) == pytest.approx(share, abs=1e-9)


@given(st.floats(0.001, 1.07), st.floats(0.05, 0.4), st.floats(0.001, 0.1))
def test_the_depth_found_carries_the_flow(part, diameter_m, slope):
    flow = part * full_flow(diameter_m, slope, 0.013)
    share = normal_depth_share(flow, diameter_m, slope, 0.013)
    assert 0.0 < share < 0.9382
    assert flow_at_depth(share, diameter_m, slope, 0.013) == pytest.approx(flow, rel=1e-6)


@given(st.floats(0.01, 1.07))
def test_the_fast_table_agrees_with_the_solver(part):
    fast = float(depth_shares_of_flow_shares(np.array([part]))[0])
    exact = normal_depth_share(part * full_flow(0.1, 0.02, 0.013), 0.1, 0.02, 0.013)
    assert fast == pytest.approx(exact, abs=2e-4)


def test_a_surcharged_pipe_is_full():
    assert depth_shares_of_flow_shares(np.array([1.2]))[0] == 1.0


@pytest.mark.parametrize("slope", [0.0, -0.01])
def test_a_flat_or_rising_pipe_carries_nothing_at_normal_depth(slope):
    with pytest.raises(InputError):
        normal_depth_share(0.001, 0.1, slope, 0.013)
    assert normal_depth_share(0.0, 0.1, slope, 0.013) == 0.0


def test_flow_shares_end_at_nothing_and_full():
    assert flow_shares(np.array([0.0, 1.0])) == pytest.approx([0.0, 1.0])


@given(st.floats(0.0, 0.95), st.floats(0.0, 0.95))
def test_a_larger_blockage_never_leaves_more(one, other):
    small, large = sorted((one, other))
    assert capacity_left(large, 0.013) <= capacity_left(small, 0.013) + 1e-9


def test_a_clean_and_a_full_pipe():
    assert filled_bottom(0.0, 0.013).flow_share == pytest.approx(1.0)
    assert filled_bottom(1.0, 0.013).flow_share == pytest.approx(0.0, abs=1e-9)


def test_depth_area_and_capacity_are_three_numbers():
    """A quarter of the depth is a fifth of the area and more than a quarter of the flow."""
    left = filled_bottom(0.25, 0.013)
    assert 1.0 - left.area_share == pytest.approx(0.1955, abs=1e-4)
    assert 1.0 - left.flow_share == pytest.approx(0.276, abs=1e-3)


@given(st.floats(0.1, 5.0), st.floats(0.1, 5.0), st.floats(0.009, 0.03), st.floats(0.009, 0.03))
def test_composite_roughness_lies_between_its_parts(a, b, n_a, n_b):
    n = composite_n(((a, n_a), (b, n_b)))
    assert min(n_a, n_b) - 1e-12 <= n <= max(n_a, n_b) + 1e-12


@pytest.mark.parametrize(
    ("text", "family"),
    [
        ("IPC 2021", "ipc"),
        ("2018 International Residential Code", "ipc"),
        ("California Plumbing Code 2022", "upc"),
        ("UPC 2018", "upc"),
        ("EN 12056-2:2000", "en"),
        ("Town code", None),
        ("", None),
    ],
)
def test_the_code_in_force_is_recognised_or_not(text, family):
    assert code_family(text) == family


def test_unknown_tables_are_none():
    assert least_slope("nowhere", 0.1) is None
    assert most_units("ipc", 0.1016, 0.001) is None
    assert most_units("ipc", 1.0, 0.02) is None
    assert most_units("en", 0.1, 0.02) is None


def test_an_unknown_material_is_said_to_be_assumed():
    assert "assumed" in roughness(None)[1]
    assert roughness(Material.PVC)[0] < roughness(Material.CLAY)[0]


@given(st.floats(0.0, 0.05), st.floats(0.005, 0.03))
def test_rounding_of_code_prose_is_five_per_cent(slope, required):
    assert meets_slope(slope, required) == (slope >= 0.95 * required)


def test_no_fixture_and_unknown_fixtures_give_no_flow():
    assert not peak_load((), "ipc").flow_m3_s.known
    odd = peak_load((FixtureCount(kind="fish_tank", count=2),), "ipc")
    assert not odd.flow_m3_s.known
    assert odd.unknown_kinds == ("fish_tank",)


@given(st.integers(1, 8), st.integers(1, 8), st.sampled_from(["ipc", "upc", "en"]))
def test_more_fixtures_never_flow_less(few, more, family):
    few, more = sorted((few, more))
    flows = [
        peak_load((FixtureCount(kind="toilet", count=n),), family).flow_m3_s.value
        for n in (few, more)
    ]
    assert flows[0] <= flows[1]


def test_a_code_not_stated_is_said():
    assert "not at hand" in peak_load((FixtureCount(kind="toilet", count=1),), None).plain
