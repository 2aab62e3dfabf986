"""Fixtures shared by the rooms behind the findings."""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

from saltglaze.condition.codes import code
from saltglaze.condition.grading import grade_finding
from saltglaze.condition.plain import plain_sentence
from saltglaze.model.appraisal import AppraisedFinding, FindingPlace
from saltglaze.model.base import Estimate
from saltglaze.model.finding import DraftedBy, Evidence, Facts, Finding
from saltglaze.model.line import Material

# At a desk every run draws new examples; CI draws the same ones, so that a change is judged
# and not the draw.
settings.register_profile("same-draws", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("same-draws")


@pytest.fixture
def found():
    """Make an appraised finding: id, station in metres (or None), then its facts."""

    def make(name, station_m, *, sd_m=0.2, diameter_m=0.1016, material=Material.CLAY, **facts):
        finding = Finding(
            id=name, draft=Facts(**facts), evidence=Evidence(drafted_by=DraftedBy.TYPED)
        )
        station = (
            Estimate.unknown("not given") if station_m is None else Estimate.of(station_m, sd_m)
        )
        place = FindingPlace(finding_id=name, station_m=station, clock=finding.facts.clock)
        return AppraisedFinding(
            finding=finding,
            place=place,
            code=code(finding.facts, place.clock),
            grade=grade_finding(finding.facts, diameter_m, material),
            plain=plain_sentence(finding, place),
        )

    return make
