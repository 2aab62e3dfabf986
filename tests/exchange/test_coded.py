"""EN 13508-2 exchange text: what is written is what is read.

No outside reader of the format is at hand; its shape is checked against the rules in
the module's docstring, which are from memory of the standard.
"""

import datetime as dt

import appraisals as made
import pytest
from exchange_kit import HOSTILE_TEXTS, told
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.condition.codes import companions
from saltglaze.errors import InputError
from saltglaze.exchange.coded import COLUMNS, OPEN_END, coded_text, parse_coded
from saltglaze.exchange.plain_text import one_line
from saltglaze.model.appraisal import Code
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Facts, Feature

RICH = made.rich()
TEXTS = st.text(max_size=40)
CODES = st.builds(
    Code,
    main=st.none() | st.sampled_from(["BBA", "BAB", "BAJ", "BDD"]),
    ch1=st.none() | st.sampled_from("ABCZ"),
    q1=st.none() | st.floats(0.0, 999.0).map(lambda v: round(v, 1)),
    clock1_h=st.none() | st.integers(1, 12),
    joint=st.booleans(),
    continuous=st.booleans(),
    remark=TEXTS,
)


def with_code(appraisal, code, *, end_m=None, beside=()):
    """Return the appraisal with one finding, at 7 m, of that code."""
    found = appraisal.findings[0]
    place = found.place.model_copy(
        update={
            "station_m": Estimate.of(7.0, 0.2),
            "end_station_m": None if end_m is None else Estimate.of(end_m, 0.2),
        }
    )
    found = found.model_copy(update={"code": code, "place": place, "beside": beside})
    return appraisal.model_copy(update={"findings": (found,)})


def only(appraisal):
    """Return the fields of each observation of the only inspection."""
    (inspection,) = parse_coded(coded_text(appraisal))
    return [observation.fields for observation in inspection.observations]


def test_every_placed_finding_is_an_observation_in_order_of_distance():
    fields = only(RICH)
    known = [f for f in RICH.findings if f.finding.stands and f.place.station_m.known]
    begun = [f for f in fields if not f["J"].startswith(("B", "C"))]
    assert sorted(f["I"] for f in begun) == sorted(
        f"{f.place.station_m.value:.2f}" for f in known for _ in (f, *f.beside)
    )
    distances = [float(f["I"]) for f in fields]
    assert distances == sorted(distances)


def test_the_header_tells_line_direction_standard_and_date():
    (inspection,) = parse_coded(coded_text(RICH))
    header = inspection.header
    assert (header["AAA"], header["AAK"]) == (RICH.job.line.id, "A")
    assert header["ABA"] == "EN 13508-2:2003+A1:2011"
    assert dt.date.fromisoformat(header["ABF"]) == RICH.job.date


def test_a_stretch_is_a_start_and_an_end_with_one_number_of_its_own():
    first = with_code(RICH, Code(main="BDD", q1=20.0, continuous=True), end_m=9.5).findings[0]
    second = first.model_copy(update={"finding": first.finding.model_copy(update={"id": "other"})})
    fields = only(RICH.model_copy(update={"findings": (first, second)}))
    assert [(f["I"], f["J"]) for f in fields] == [
        ("7.00", "A1"),
        ("7.00", "A2"),
        ("9.50", "B1"),
        ("9.50", "B2"),
    ]


def test_a_stretch_whose_end_is_unknown_says_so():
    (fields,) = only(with_code(RICH, Code(main="BDD", continuous=True, remark="low spot")))
    assert (fields["J"], fields["F"]) == ("", f"low spot; {OPEN_END}")


def test_a_low_spot_has_its_deepest_place_between_its_ends():
    sag = RICH.position.sags[0].model_copy(
        update={"lowest_m": Estimate.of(8.2, 0.3), "water_share": Estimate.of(0.45, 0.05)}
    )
    low = with_code(RICH, Code(main="BDD", q1=20.0, continuous=True), end_m=9.5)
    (found,) = low.findings
    finding = found.finding.model_copy(update={"draft": Facts(feature=Feature.SAG), "edit": None})
    position = RICH.position.model_copy(update={"sags": (sag,)})
    found = found.model_copy(update={"finding": finding})
    fields = only(low.model_copy(update={"findings": (found,), "position": position}))
    assert [(f["I"], f["J"], f["D"]) for f in fields] == [
        ("7.00", "A1", "20"),
        ("8.20", "C1", "45"),
        ("9.50", "B1", "20"),
    ]


def test_a_run_from_the_far_end_counts_from_its_own_start():
    run = RICH.job.runs[0].model_copy(
        update={"start_station_m": Estimate.of(25.0, 0.1), "reversed_stationing": True}
    )
    appraisal = with_code(RICH, Code(main="BDD", continuous=True), end_m=9.5)
    job = appraisal.job.model_copy(update={"runs": (run,)})
    fields = only(appraisal.model_copy(update={"job": job}))
    assert [(f["I"], f["J"]) for f in fields] == [("15.50", "A1"), ("18.00", "B1")]


def test_soil_and_a_void_seen_are_observations_of_their_own():
    seen = companions(Facts(feature=Feature.BREAK, soil_visible=True, void_visible=True))
    fields = only(with_code(RICH, Code(main="BAC"), beside=seen))
    assert [(f["I"], f["A"]) for f in fields] == [("7.00", "BAC"), ("7.00", "BAO"), ("7.00", "BAP")]


@pytest.mark.parametrize("main", [None, "BDB"])
def test_a_finding_with_no_code_of_its_own_is_a_general_remark_in_words(main):
    (fields,) = only(with_code(RICH, Code(main=main, remark="letters not known")))
    assert fields["A"] == "BDB"
    assert RICH.findings[0].plain in fields["F"]
    assert "letters not known" in fields["F"]


def test_findings_without_a_station_are_left_out_and_an_empty_job_is_still_a_file():
    assert only(made.unplaced(4)) == []
    assert only(made.bare()) == []


def test_300_findings_are_300_observations():
    assert len(only(made.many(300))) >= 300


@pytest.mark.parametrize("text", HOSTILE_TEXTS, ids=range(len(HOSTILE_TEXTS)))
def test_hostile_texts_stay_in_their_field(text):
    fields = only(told(RICH, text))
    assert {f["F"] for f in fields if f["A"] != "BDB"} == {one_line(text)}


@settings(max_examples=60, deadline=None)
@given(CODES, TEXTS, st.none() | st.floats(7.0, 300.0))
def test_what_is_written_is_what_is_read(code, address, end_m):
    job = RICH.job
    place = job.place.model_copy(update={"address": address, "town": ""})
    appraisal = with_code(RICH, code, end_m=end_m)
    appraisal = appraisal.model_copy(update={"job": job.model_copy(update={"place": place})})
    (inspection,) = parse_coded(coded_text(appraisal))
    assert inspection.header["AAJ"] == one_line(address)
    assert len(inspection.observations) == (1 if end_m is None else 2)
    for fields in (observation.fields for observation in inspection.observations):
        assert set(fields) == set(COLUMNS)
        assert fields["A"] == (code.main or "BDB")
        if code.main:
            assert fields["B"] == (code.ch1 or "")
            assert (float(fields["D"]) if fields["D"] else None) == code.q1
            assert fields["G"] == ("" if code.clock1_h is None else str(code.clock1_h))
            assert (fields["K"] == "A") is code.joint


def test_commas_single_quotes_and_a_missing_end_are_read():
    text = "#A1=ISO-8859-1\n#A3=,\n#A5='\n#B01=AAA,AAK\n'L,1',A\n#C=I,A,F\n1.5,BBA,'roots, fine'\n"
    (inspection,) = parse_coded("\ufeff" + text)
    assert inspection.header == {"AAA": "L,1", "AAK": "A"}
    assert inspection.observations[0].fields == {"I": "1.5", "A": "BBA", "F": "roots, fine"}


@pytest.mark.parametrize(
    "text",
    ["1.0;BBA\n", "#C=I;A\n1.0;BBA;more\n", "#C=I;A\n1.0;" + "x" * 200_000 + "\n"],
    ids=["no block", "too many fields", "an endless field"],
)
def test_a_line_that_fits_nowhere_is_an_error_with_its_number(text):
    with pytest.raises(InputError, match=r"line \d"):
        parse_coded(text)
