"""The course: exact derivatives, and a circle's chord and sagitta."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.position.course import Course


def random_course(seed, reference):
    rng = np.random.default_rng(seed)
    jumps = np.sort(rng.uniform(0.0, 30.0, 12))
    course = Course(reference, np.array([1.0, 2.0]), 0.7, jumps, rng.normal(0.0, 0.5, 12))
    return course, rng.uniform(-3.0, 35.0, 9)


@given(seed=st.integers(0, 10**6), reference=st.sampled_from([-1.0, 7.3, 40.0]))
@settings(max_examples=30, deadline=None)
def test_derivatives_are_those_of_small_changes(seed, reference):
    course, stations = random_course(seed, reference)
    small = 1e-6
    if np.min(np.abs(course.jump_m[:, None] - [*stations, reference])) < 1e-4:
        return
    positions, step = course.at(stations)
    by_jump = course.by_jump(stations, positions)
    by_place = course.by_jump_station(stations, np.arange(12))
    for which in range(12):
        bumped = course.jump.copy()
        bumped[which] += small
        moved, _ = Course(reference, course.point, 0.7, course.jump_m, bumped).at(stations)
        assert (moved - positions) / small == pytest.approx(by_jump[:, :, which], abs=1e-3)
        bumped = course.jump_m.copy()
        bumped[which] += small
        moved, _ = Course(reference, course.point, 0.7, bumped, course.jump).at(stations)
        assert (moved - positions) / small == pytest.approx(by_place[:, :, which], abs=1e-3)
    turned, _ = Course(reference, course.point, 0.7 + small, course.jump_m, course.jump).at(
        stations
    )
    assert (turned - positions) / small == pytest.approx(course.by_heading(positions), abs=1e-3)
    ahead, _ = course.at(stations + small)
    assert (ahead - positions) / small == pytest.approx(step, abs=1e-3)


@given(seed=st.integers(0, 10**6))
@settings(max_examples=30, deadline=None)
def test_length_along_the_course_is_the_station(seed):
    course, _ = random_course(seed, 7.3)
    stations = np.linspace(-2.0, 34.0, 20001)
    positions, _ = course.at(stations)
    length = np.sum(np.hypot(*np.diff(positions, axis=0).T))
    assert length == pytest.approx(36.0, abs=0.01)
    chord = np.hypot(*(positions[-1] - positions[0]))
    assert chord <= 36.0


@pytest.mark.parametrize(
    ("radius", "chord", "offset"),
    # Computed in the field dossier for an arc of 5: chord and mid offset.
    [(10.0, 4.94808, 0.31088), (5.0, 4.79426, 0.61209)],
)
def test_an_arc_has_its_chord_and_mid_offset(radius, chord, offset):
    count = 2000
    jumps = (np.arange(count) + 0.5) * 5.0 / count
    course = Course(0.0, np.zeros(2), 0.0, jumps, np.full(count, 5.0 / count / radius))
    points, _ = course.at(np.array([0.0, 2.5, 5.0]))
    across = points[2] - points[0]
    assert np.hypot(*across) == pytest.approx(chord, abs=2e-4)
    unit = across / np.hypot(*across)
    middle = points[1] - points[0]
    assert abs(middle[0] * unit[1] - middle[1] * unit[0]) == pytest.approx(offset, abs=2e-4)
