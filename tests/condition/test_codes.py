"""Codes are given from the table, and nothing is guessed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from saltglaze.condition.codes import clock_hours, code, code_book, companions
from saltglaze.model.base import Estimate
from saltglaze.model.finding import KINDS, Certainty, Clock, Facts, Feature, Turn


@pytest.mark.parametrize("feature", list(Feature))
def test_every_feature_and_kind_has_a_row(feature):
    for kind in (None, *KINDS.get(feature, ())):
        got = code(Facts(feature=feature, kind=kind))
        assert got.status in {"confirmed", "memory", "unknown"}
        assert got.main is not None or got.remark


def test_a_code_we_do_not_know_is_none_with_a_remark():
    got = code(Facts(feature=Feature.CLEAN_OUT))
    assert got.main is None
    assert got.status == "unknown"
    assert "no code that we could confirm" in got.remark


def test_letters_from_memory_are_said_to_be():
    got = code(Facts(feature=Feature.ROOTS, kind="fine", section_share=Estimate.of(0.15, 0.05)))
    assert (got.main, got.ch1, got.q1, got.q1_unit) == ("BBA", "B", 15.0, "%")
    assert "letters from memory" in got.remark


@pytest.mark.parametrize(
    ("kind", "capped", "letters"),
    [
        ("factory_fitting", None, ("A", None)),
        ("broken_in", False, ("E", "A")),
        (None, True, ("G", "B")),
    ],
)
def test_connection_letters(kind, capped, letters):
    """BCA letters: German federal guideline, annex codes (confirmed)."""
    got = code(Facts(feature=Feature.TAP, kind=kind, capped=capped))
    assert got.main == "BCA"
    assert (got.ch1, got.ch2) == letters
    assert got.status == "confirmed"


def test_fissure_is_measured_in_millimetres_and_an_angle_in_degrees():
    """BAB in mm and BAJ C in degrees: Stichting RIONED (confirmed)."""
    crack = Facts(feature=Feature.CRACK, kind="longitudinal", width_m=Estimate.of(0.002, 0.001))
    bent = Facts(feature=Feature.ANGLED_JOINT, angle_deg=Estimate.of(7.0, 2.0))
    assert (code(crack).q1, code(crack).q1_unit) == (2.0, "mm")
    assert (code(bent).q1, code(bent).q1_unit) == (7.0, "deg")


def test_water_level_is_a_share_of_the_height():
    """BDD in per cent of the clear height: German association's catalogue (confirmed)."""
    got = code(Facts(feature=Feature.SAG, water_share=Estimate.of(0.45, 0.05)))
    assert (got.main, got.q1, got.q1_unit, got.continuous) == ("BDD", 45.0, "%", True)


def test_no_size_said_gives_no_quantity():
    got = code(Facts(feature=Feature.ROOTS, kind="mass"))
    assert got.q1 is None
    assert "size not stated" in got.remark


def test_an_unknown_size_is_no_size():
    facts = Facts(feature=Feature.ROOTS, section_share=Estimate.unknown("hidden by water"))
    assert code(facts).q1 is None


def test_a_supposed_finding_says_so():
    facts = Facts(feature=Feature.CRACK, certainty=Certainty.SUPPOSED)
    assert "supposed" in code(facts).remark


@pytest.mark.parametrize(
    ("turn", "letters"), [(Turn.LEFT, ("A", None)), (Turn.UP, (None, "A")), (None, (None, None))]
)
def test_a_bend_turns_only_where_it_was_seen_to(turn, letters):
    got = code(Facts(feature=Feature.BEND, kind="1/8", turn=turn))
    assert (got.ch1, got.ch2) == letters
    assert (got.q1, got.q1_unit) == (45.0, "deg")


def test_soil_and_void_are_observations_of_their_own():
    facts = Facts(feature=Feature.HOLE, soil_visible=True, void_visible=True)
    assert [c.main for c in companions(facts, Clock(from_h=4.0))] == ["BAO", "BAP"]
    assert companions(Facts(feature=Feature.HOLE, soil_visible=False)) == ()


@given(st.floats(0.0, 12.0, exclude_max=True))
def test_hours_are_whole_from_one_to_twelve(hours):
    first, second = clock_hours(Clock(from_h=hours))
    assert first in range(1, 13)
    assert second is None
    assert min(abs(first - hours), 12.0 - abs(first - hours)) <= 0.5 + 1e-9


def test_the_whole_round_is_twelve_to_twelve():
    assert clock_hours(Clock(from_h=3.0, all_round=True)) == (12, 12)
    assert clock_hours(Clock(from_h=9.0, to_h=3.0)) == (9, 3)
    assert clock_hours(None) == (None, None)


def test_rows_carry_a_known_status_and_unit():
    for row in code_book().values():
        assert row.status in {"confirmed", "memory", "unknown"}
        assert row.q1_unit in {"", "mm", "%", "deg", "count"}
        assert row.q1 is None or row.q1 in {*Facts.model_fields}
