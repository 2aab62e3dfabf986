"""The findings as CSV, read back by the standard library."""

import csv
import io

import appraisals as made
import pytest
from exchange_kit import HOSTILE_TEXTS, told, without_origin

from saltglaze.exchange.plain_text import clean
from saltglaze.exchange.table import findings_csv
from saltglaze.position.frame import LocalFrame


def rows(appraisal):
    return list(csv.DictReader(io.StringIO(findings_csv(appraisal), newline="")))


def as_number(cell):
    return float(cell) if cell else None


def test_every_finding_is_a_row_with_its_numbers():
    rich = made.rich()
    frame = LocalFrame(rich.job.origin)
    assert [row["id"] for row in rows(rich)] == [f.finding.id for f in rich.findings]
    for row, found in zip(rows(rich), rich.findings, strict=True):
        assert as_number(row["station_m"]) == pytest.approx(found.place.station_m.value, abs=5e-4)
        assert as_number(row["structure"]) == found.grade.structure
        assert row["plain"] == found.plain
        if found.place.point is not None:
            lon, lat = frame.to_lonlat(found.place.point)
            assert float(row["lon_deg"]) == pytest.approx(lon, abs=1e-8)
            assert float(row["lat_deg"]) == pytest.approx(lat, abs=1e-8)


def test_what_is_not_known_is_empty_and_says_why():
    for row in rows(made.unplaced(3)):
        assert (row["station_m"], row["east_m"], row["lon_deg"], row["depth_m"]) == ("",) * 4
        assert row["unknown_because"]


def test_a_rejected_finding_is_marked_and_kept():
    assert [row["rejected"] for row in rows(made.edited(made.rich()))].count("yes") == 1


def test_with_no_origin_there_are_metres_but_no_degrees():
    filled = [row for row in rows(without_origin(made.rich())) if row["east_m"]]
    assert filled
    assert {row["lon_deg"] for row in filled} == {""}


@pytest.mark.parametrize("text", HOSTILE_TEXTS, ids=range(len(HOSTILE_TEXTS)))
def test_hostile_texts_stay_in_their_cell_and_are_no_formula(text):
    said = {row["plain"] for row in rows(told(made.rich(), text))}
    assert said in ({clean(text)}, {"'" + clean(text)})
    assert not any(cell[:1] in "=+-@\t\r" for cell in said)


def test_none_and_300_findings():
    assert rows(made.bare()) == []
    assert len(rows(made.many(300))) == 300


def test_a_place_on_the_wall_is_told_from_both_sides():
    told_both = 0
    for row in rows(made.rich()):
        if row["clock_view"] and row["clock_from_h"] and not row["clock_to_h"]:
            here, behind = float(row["clock_from_h"]), float(row["other_view_from_h"])
            assert (here + behind) % 12.0 == 0.0
            told_both += 1
        elif not row["clock_view"]:
            assert not row["other_view_from_h"]
    assert told_both >= 2
