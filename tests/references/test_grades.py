"""Our grades beside what published practice gives the same find."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from saltglaze.condition.grading import grade_finding
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Facts, Feature
from saltglaze.model.line import Material

ROWS = list(
    csv.DictReader(
        line
        for line in (Path(__file__).parent / "grades.csv").read_text().splitlines()
        if not line.startswith("#")
    )
)


@pytest.mark.parametrize(
    "row", ROWS, ids=lambda row: f"{row['feature']}-{row['kind']}-{row['size']}"
)
def test_published_grade(row):
    size = {row["measure"]: Estimate.of(float(row["size"]), 0.0)} if row["measure"] else {}
    facts = Facts(feature=Feature(row["feature"]), kind=row["kind"] or None, **size)
    ours = getattr(grade_finding(facts, 0.1016, Material.CLAY), row["aspect"])
    assert abs(ours - int(row["want"])) <= int(row["apart"])
    assert (row["apart"] == "0") or row["why"]
