"""Grades follow their table, rise with size, and say what the evidence leaves open."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from saltglaze.condition.grading import (
    ASPECTS,
    grade_finding,
    grade_line,
    grade_rules,
    seen_rules,
)
from saltglaze.model.appraisal import NotSeen
from saltglaze.model.base import Estimate
from saltglaze.model.finding import KINDS, Certainty, Edit, Facts, Feature, Grade
from saltglaze.model.line import Material


@pytest.mark.parametrize(
    ("share", "grade"), [(0.10, 2), (0.24, 2), (0.26, 3), (0.49, 3), (0.50, 4), (0.90, 4)]
)
def test_sag_bands(share, grade):
    """Under 25 % minor, 25 to 50 % moderate, from 50 % severe: Seattle Public Utilities."""
    facts = Facts(feature=Feature.SAG, water_share=Estimate.of(share, 0.001))
    assert grade_finding(facts).service == grade


@pytest.mark.parametrize(("width_mm", "grade"), [(12.0, 2), (13.0, 3), (30.0, 4)])
def test_open_joint_half_inch(width_mm, grade):
    """1/2 in is let pass in new pipe: Carmel Area Wastewater District code."""
    facts = Facts(feature=Feature.OPEN_JOINT, width_m=Estimate.of(width_mm / 1000.0, 0.0001))
    assert grade_finding(facts).tightness == grade


def test_a_void_behind_the_wall_is_the_worst():
    facts = Facts(feature=Feature.OPEN_JOINT, void_visible=True, width_m=Estimate.of(0.005, 0.001))
    grade = grade_finding(facts)
    assert (grade.structure, grade.tightness, grade.worst) == (5, 5, 5)


def test_soil_seen_at_a_joint_is_a_leak_but_not_a_broken_pipe():
    grade = grade_finding(Facts(feature=Feature.OPEN_JOINT, soil_visible=True))
    assert grade.tightness == 5
    assert grade.structure < 5


def test_an_uncertain_size_tells_how_far_the_grade_may_reach():
    facts = Facts(feature=Feature.SAG, water_share=Estimate.of(0.24, 0.03))
    grade = grade_finding(facts)
    assert grade.service == 2
    assert grade.could_be == {"service": (2, 3)}
    assert "could be 2 to 3" in grade.reasons[0].because


def test_an_unknown_size_takes_the_cautious_grade_and_says_so():
    grade = grade_finding(Facts(feature=Feature.OBSTRUCTION))
    assert grade.service == 4
    assert "cautious" in grade.reasons[0].because


def test_the_talk_outranks_the_kind_and_a_size_outranks_the_talk():
    mass = Facts(feature=Feature.ROOTS, kind="mass")
    said = mass.model_copy(update={"grade_word": Grade.SLIGHT})
    sized = said.model_copy(update={"section_share": Estimate.of(0.6, 0.01)})
    assert [grade_finding(f).service for f in (mass, said, sized)] == [4, 2, 5]


def test_rigid_and_plastic_pipe_differ():
    facts = Facts(feature=Feature.DEFORMATION, deformation_share=Estimate.of(0.06, 0.001))
    assert grade_finding(facts, 0.1, Material.CLAY).structure == 4
    assert grade_finding(facts, 0.1, Material.PVC).structure == 2
    assert grade_finding(facts, 0.1, None).structure == 4


def test_a_step_is_judged_against_the_bore():
    facts = Facts(feature=Feature.OFFSET_JOINT, width_m=Estimate.of(0.013, 0.0005))
    small, large = grade_finding(facts, 0.1016), grade_finding(facts, 0.30)
    assert small.service > large.service


def test_without_a_bore_a_step_is_graded_cautiously():
    facts = Facts(feature=Feature.OFFSET_JOINT, width_m=Estimate.of(0.013, 0.0005))
    assert "the bore it is measured against is not known" in " ".join(
        r.because for r in grade_finding(facts).reasons
    )


def test_supposed_findings_are_graded_but_said_to_be_supposed():
    sure = grade_finding(Facts(feature=Feature.BREAK))
    guess = grade_finding(Facts(feature=Feature.BREAK, certainty=Certainty.SUPPOSED))
    assert guess.worst == sure.worst
    assert "supposed" in guess.reasons[-1].because


@pytest.mark.parametrize("feature", [Feature.BEND, Feature.START, Feature.LENS_FOULED])
def test_what_is_no_fault_has_no_grade_but_a_reason(feature):
    grade = grade_finding(Facts(feature=feature))
    assert grade.worst is None
    assert grade.ungraded_because


_MEASURED = [rule for rule in grade_rules() if rule.measure]


@given(
    st.sampled_from(_MEASURED),
    st.floats(0.0, 1.0),
    st.floats(0.0, 1.0),
    st.sampled_from([Material.CLAY, Material.PVC, Material.BITUMINISED_FIBRE]),
)
def test_more_never_gives_a_lower_grade(rule, one, other, material):
    field = "width_m" if rule.measure == "width_over_bore" else rule.measure
    scale = {"width_m": 0.1, "angle_deg": 30.0}.get(field, 1.0)
    small, large = sorted((one, other))
    grades = [
        grade_finding(
            Facts(feature=rule.feature, **{field: Estimate.of(size * scale, 0.0)}), 0.1, material
        )
        for size in (small, large)
    ]
    for aspect in ASPECTS:
        low, high = (getattr(grade, aspect) for grade in grades)
        assert (low is None) == (high is None)
        assert low is None or low <= high


@given(st.sampled_from(list(Feature)), st.data())
def test_the_worst_is_the_worst_and_every_aspect_has_its_reason(feature, data):
    kind = data.draw(st.sampled_from((None, *KINDS.get(feature, ()))))
    word = data.draw(st.sampled_from((None, *Grade)))
    grade = grade_finding(Facts(feature=feature, kind=kind, grade_word=word), 0.1, Material.CLAY)
    known = {a: getattr(grade, a) for a in ASPECTS if getattr(grade, a) is not None}
    assert grade.worst == max(known.values(), default=None)
    assert all(1 <= value <= 5 for value in known.values())
    for aspect, value in known.items():
        low, high = grade.could_be.get(aspect, (value, value))
        assert low <= value <= high
        assert any(reason.rule.endswith(aspect) and reason.source for reason in grade.reasons)


def test_the_table_is_well_formed():
    for rule in grade_rules():
        assert len(rule.grades) == (len(rule.limits) + 1 if rule.measure else 0), rule
        assert list(rule.limits) == sorted(rule.limits), rule
        assert list(rule.grades) == sorted(rule.grades), rule
        assert set(rule.kinds) <= set(KINDS.get(rule.feature, ())), rule
        assert set(rule.words) in (set(), {"slight", "moderate", "heavy"}), rule
        assert rule.status in {"confirmed", "memory", "practice", "own"}, rule
        assert rule.source
    for rule in seen_rules():
        assert rule.field in Facts.model_fields
        assert rule.source


# ------------------------------------------------------------------ the line
def test_a_line_is_as_good_as_its_worst_finding(found):
    crack = found("a", 3.0, feature=Feature.CRACK, kind="hairline")
    broken = found("b", 9.0, feature=Feature.BREAK)
    line = grade_line([crack, broken])
    assert (line.structure, line.worst, line.scheme) == (4, 4, "saltglaze 1 to 5")
    assert "broken pipe" in line.plain
    assert "30 ft" in line.plain


def test_a_rejected_finding_does_not_count(found):
    broken = found("b", 9.0, feature=Feature.BREAK)
    rejected = broken.finding.model_copy(update={"edit": Edit(rejected=True, by="A. Person")})
    line = grade_line([broken.model_copy(update={"finding": rejected})])
    assert line.worst is None


def test_nothing_recorded_is_not_nothing_wrong(found):
    assert grade_line([]).worst is None
    assert "no grade" in grade_line([]).plain
    clean = grade_line([found("s", 0.0, feature=Feature.START)])
    assert "No fault was recorded in what was seen" in clean.plain


def test_what_was_not_seen_is_said(found):
    line = grade_line([found("b", 9.0, feature=Feature.BREAK)], [NotSeen(why="lens fouled")])
    assert "could not be judged" in line.plain
