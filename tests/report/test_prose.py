from __future__ import annotations

import pytest
from appraisals import rich
from hypothesis import given
from hypothesis import strategies as st

from saltglaze.condition.plain import plain_sentence
from saltglaze.condition.wording import US
from saltglaze.model.base import Estimate
from saltglaze.report.prose import in_reader_units, lengths_told, without_name, without_place


@pytest.mark.parametrize(
    ("said", "us", "metric"),
    [
        ("0.8 m (2.6 ft) off the line", "2.6 ft off the line", "0.8 m off the line"),
        ("within 18 in (46 cm) of a mark", "within 18 in of a mark", "within 46 cm of a mark"),
        ("may be 1.7 m deep", "may be 5.6 ft deep", "may be 1.7 m deep"),
        ("a ladder within 25 ft of the people", None, "a ladder within 7.6 m of the people"),
        ("1.5 to 2.4 m, with protection", "4.9 to 7.9 ft, with protection", None),
        ("a 6 in bore of clay", None, "a 152 mm bore of clay"),
        ("falls 1 in 50, 3 in the lot", None, None),
        ("0.7 m3 of spoil, 12 m² of lawn, 5 men", None, None),
        ("34 ft (give or take 1 ft) on", None, "10.4 m (give or take 0.3 m) on"),
        ("at 9.6 m (give or take 0.4 m)", "at 31 ft (give or take 1 ft)", None),
        ("about 20 gpm at the peak, 0 ft to 91 ft", None, "about 1.3 L/s at the peak, 0 m to 28 m"),
        ("by August 12, 2026", None, "by 12 August 2026"),
        ("moved faster than 30 ft (9.1 m) a minute", None, "moved faster than 9.1 m a minute"),
    ],
)
def test_lengths_in_a_sentence(said, us, metric):
    # 1 ft = 0.3048 m, 1 in = 25.4 mm exactly (International yard and pound, 1959)
    us = us or ("moved faster than 30 ft a minute" if "(9.1 m)" in said else said)
    assert lengths_told(said, "us") == us
    assert lengths_told(said, "metric") == (metric or said)


@given(st.text())
def test_any_text_is_told_and_told_once(text):
    for system in ("us", "metric"):
        once = lengths_told(text, system)
        assert lengths_told(once, system) == once


@given(st.floats(0.1, 500.0), st.integers(0, 2))
def test_a_converted_length_is_the_same_length(length_m, decimals):
    said = f"{length_m:.{decimals}f} m"
    feet = float(lengths_told(said, "us").removesuffix(" ft").replace(",", ""))
    # as many figures as it came with, two at least: within a twentieth, or half the last
    assert feet * 0.3048 == pytest.approx(float(said.removesuffix(" m")), rel=0.05, abs=0.02)


def test_a_sentence_beside_its_place_does_not_tell_it_again():
    """The openings are those that the grading writes, read back here from its own words."""
    found = rich().findings[0]
    station = US.station(Estimate.of(10.0, 0.2))
    for place in (station, US.station(Estimate.of(10.0, 0.01)), US.station(Estimate.unknown("x"))):
        opened = f"{place[0].upper()}{place[1:]}: roots: fine. They hang in."
        assert without_place(opened) == "Roots: fine. They hang in."
        assert without_name(f"Fine roots, {place}: worse since May.") == "Worse since May."
    untouched = plain_sentence(found.finding).partition(": ")[2]
    assert without_place(untouched) == untouched[0].upper() + untouched[1:]
    assert without_name("Seen last time: gone now.") == "Seen last time: gone now."


def test_only_sentences_change():
    appraisal = rich()
    told = in_reader_units(appraisal, "metric")
    assert told.job == appraisal.job
    assert [f.finding for f in told.findings] == [f.finding for f in appraisal.findings]
    assert [p.points for p in told.position.paths] == [p.points for p in appraisal.position.paths]
    assert told != appraisal


def test_a_caution_for_the_crew_shows_one_system():
    appraisal = rich()
    caution = "May be 1.7 m deep: from 5 ft (1.5 m) a trench needs a protective system."
    dig = appraisal.position.digs[0].model_copy(update={"cautions": (caution,)})
    position = appraisal.position.model_copy(update={"digs": (dig,)})
    appraisal = appraisal.model_copy(update={"position": position})
    shown = (("us", "5.6 ft deep: from 5 ft a", "1.7 m"), ("metric", "from 1.5 m a", "5 ft"))
    for system, there, gone in shown:
        told = in_reader_units(appraisal, system).position.digs[0].cautions[0]
        assert there in told and gone not in told
