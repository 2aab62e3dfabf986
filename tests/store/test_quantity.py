"""Quantities as people write them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from saltglaze.store.quantity import (
    UNITS,
    QuantityError,
    parse,
    parse_estimate,
    split_column,
    write,
)

# Exact factors: NIST Handbook 44, Appendix C (from memory; exact by definition),
# psi from 4.4482216152605 N per square inch.
KNOWN = [
    ("4 in", "length", 0.1016),
    ('4"', "length", 0.1016),
    ("12.5 ft", "length", 3.81),
    ("12.5 feet", "length", 3.81),
    ("100 mm", "length", 0.1),
    ("1/8 in", "length", 0.003175),
    ("2000 psi", "pressure", 13789514.586),
    ("140 bar", "pressure", 14e6),
    ("12 gpm", "flow", 7.5708236e-4),
    ("1/4 in/ft", "slope", 0.0208333333),
    ("2 %", "slope", 0.02),
]


@pytest.mark.parametrize(("text", "dimension", "expected"), KNOWN)
def test_reads_trade_units(text, dimension, expected):
    assert parse(text, dimension) == pytest.approx(expected, rel=1e-8)


@given(
    st.floats(-1e6, 1e6, allow_nan=False).filter(lambda v: v == 0 or abs(v) > 1e-6),
    st.sampled_from([(d, u) for d, units in UNITS.items() for u in units]),
)
def test_what_is_written_reads_back(value, unit):
    dimension, name = unit
    assert parse(write(value, dimension, name), dimension) == pytest.approx(value, rel=1e-5)


@pytest.mark.parametrize("text", ["42 ft ± 0.5 ft", "42 ft +/- 6 in", "42 ft +- 0.5"])
def test_margin_stands_after_plus_minus(text):
    estimate = parse_estimate(text, "length", 9.0)
    assert estimate.value == pytest.approx(42 * 0.3048)
    assert estimate.sd == pytest.approx(0.5 * 0.3048)


def test_margin_defaults_where_none_is_written():
    assert parse_estimate("1 m", "length", 0.15).sd == 0.15


@pytest.mark.parametrize(
    ("text", "dimension", "says"),
    [
        ("12", "length", "no unit"),
        ("12 psi", "length", "no length"),
        ("wide", "length", "not a number"),
        ("1/0 in", "length", "zero"),
        ("1e999 m", "length", "finite"),
        ("", "length", "not a number"),
    ],
)
def test_a_fault_says_what_was_expected(text, dimension, says):
    with pytest.raises(QuantityError, match=says):
        parse(text, dimension)


def test_column_names_carry_the_unit():
    assert split_column("depth_ft", "length") == ("depth", 0.3048)
    assert split_column("water_percent", "share") == ("water", 0.01)
    assert split_column("flow_l_min", "flow") == ("flow", 1e-3 / 60.0)
    assert split_column("depth", "length") is None
