"""Rings seen at their rows become places, and places become passings."""

import numpy as np
import pytest

from saltglaze.sight.joints import joint_passages, joint_places
from saltglaze.sight.rings import ahead_of_rows
from saltglaze.sight.travel import Travel

TIMES = np.arange(200) * 0.2
WAY = np.concatenate([np.linspace(0.0, 9.0, 120), np.linspace(9.0, 6.5, 80)])
"""Out to nine distances of the rim and back by two and a half."""
RINGS_AT = (3.0, 5.5, 8.0)
CLEAR = np.ones(200, dtype=bool)


def gone(way, known=CLEAR):
    return Travel(way * 0.8, way, known, np.gradient(way, TIMES) * 0.8, 0.02, None)


def heat_of(way, rings=RINGS_AT, height=0.9):
    ahead = ahead_of_rows()
    heat = np.full((len(way), len(ahead)), 0.02)
    for ring in rings:
        off = way[:, None] + ahead[None, :] - ring
        heat = np.maximum(heat, height * np.exp(-0.5 * (off / 0.08) ** 2))
    return heat.astype(np.float32)


def test_each_ring_is_a_place_where_it_lies():
    places = joint_places(heat_of(WAY), gone(WAY))
    assert [p.at for p in places] == pytest.approx(RINGS_AT, abs=0.05)


def test_the_lens_passes_going_out_and_again_coming_back():
    way = gone(WAY)
    passages = joint_passages(joint_places(heat_of(WAY), way), TIMES, way)
    assert [p.forwards for p in passages] == [True, True, True, False]
    out = [np.interp(ring, WAY[:120], TIMES[:120]) for ring in RINGS_AT]
    back = np.interp(-8.0, -WAY[120:], TIMES[120:])
    assert [p.time_s for p in passages] == pytest.approx([*out, back], abs=0.3)


def test_what_shows_in_a_few_pictures_only_is_no_ring():
    heat = heat_of(WAY, ())
    heat[50:54, 20] = 0.95
    assert joint_places(heat, gone(WAY)) == ()


def test_a_lens_that_trembles_at_a_ring_passes_it_once():
    draw = np.random.default_rng(1)
    way = np.concatenate([np.linspace(0, 3, 60), 3 + draw.normal(0, 0.02, 80), np.full(60, 3.6)])
    passages = joint_passages(joint_places(heat_of(way, (3.0,)), gone(way)), TIMES, gone(way))
    assert [p.forwards for p in passages] == [True]


def test_a_ring_seen_before_the_film_went_blind_is_not_passed_after_it():
    known = CLEAR.copy()
    known[20:40] = False
    way = gone(WAY, known)
    passages = joint_passages(joint_places(heat_of(WAY, (3.0,)), way), TIMES, way)
    assert passages == ()


def test_a_passing_out_of_sight_is_not_told():
    known = CLEAR.copy()
    known[27:31] = known[32:36] = known[37:41] = False  # never blind long enough to part the film
    way = gone(WAY, known)
    assert joint_passages(joint_places(heat_of(WAY, (3.0,)), way), TIMES, way) == ()


def test_a_camera_that_stands_sees_a_ring_and_passes_none():
    way = gone(np.zeros(200))
    passages = joint_passages(joint_places(heat_of(np.zeros(200), (2.0,)), way), TIMES, way)
    assert passages == ()
