"""The pipe's eye on films of our own, and on openly licensed pictures of real pipes."""

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from saltglaze.demo.laws import KnotLaw, WaterLaw
from saltglaze.demo.renderer import render
from saltglaze.demo.truth import truth
from saltglaze.demo.varied import varied_script
from saltglaze.model.frame import Frame
from saltglaze.model.track import CounterTrack, ViewState
from saltglaze.sight.drafting import draft_findings
from saltglaze.sight.pipe_eye import NOTHING, PipeEye
from saltglaze.sight.stills import best_moment

PICTURES = Path(__file__).parents[3] / "shared" / "pictures"
SEEDS = (5003, 5004)
"""Films not among those the benchmark measures on, as are the next."""

EDGES = {
    "water": 5014,
    "water under a tide mark": 5029,
    "a settled bed in a dry pipe": 5010,
    "a tide mark in a dry pipe": 5023,
}


def looked_at(script):
    eye = PipeEye()
    step = max(round(script.fps / 5), 1)
    for number, (time_s, picture) in enumerate(render(script)):
        if number % step == 0:
            eye.feed(Frame(time_s, cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), number))
    return eye.finish(CounterTrack())


@pytest.mark.parametrize("edge", EDGES)
def test_roll_and_water_hold_to_the_truth_by_any_level_edge(edge):
    script = varied_script(EDGES[edge], 10.0)
    seen = looked_at(script)
    told = truth(script, np.array([sample.time_s for sample in seen.roll]))
    roll, water = [], []
    for k, (r, w) in enumerate(zip(seen.roll, seen.water, strict=True)):
        if r.roll_deg.known:
            roll.append(abs((r.roll_deg.value - told.roll_deg[k] + 180) % 360 - 180))
        if w.depth_share.known and told.view[k] is ViewState.CLEAR:
            water.append(abs(w.depth_share.value - told.water_share[k]))
    assert len(roll) > 20
    assert np.quantile(roll, 0.95) < 6.0
    assert len(water) > 15
    assert np.quantile(water, 0.95) < 0.05


@pytest.mark.parametrize("seed", SEEDS)
def test_joints_are_passed_when_they_are_passed_and_nothing_else_is(seed):
    still = KnotLaw.constant(0.0)
    script = replace(
        varied_script(seed, 16.0),
        station=KnotLaw(((0.0, 1.0), (11.0, 3.2), (13.0, 3.2), (16.0, 2.6))),
        yaw_deg=still,
        pitch_deg=still,
        water=WaterLaw(),
        defects=(),
        events=(),
    )
    told = truth(script).joints
    seen = looked_at(script).joints
    assert [p.forwards for p in told] == [True, True, False]
    assert [p.forwards for p in seen] == [True, True, False]
    assert [p.time_s for p in seen] == pytest.approx([p.time_s for p in told], abs=0.75)


def test_a_film_without_frames_says_nothing():
    assert PipeEye().finish(CounterTrack()) == NOTHING


def still_film(path):
    grey = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
    eye = PipeEye()
    for k in range(15):
        eye.feed(Frame(k * 0.2, grey, k))
    return eye.finish(CounterTrack())


real = sorted(PICTURES.glob("lab_*.png")) + sorted(PICTURES.glob("coudlabs_frame*.png"))
"""Real pipe interiors, Apache-2.0 and a permissive project licence: see SOURCES.md there."""


@pytest.mark.skipif(not real, reason="../shared/pictures is not here")
def test_real_pictures_give_unknown_rather_than_nonsense():
    for path in real:
        seen = still_film(path)
        assert not any(sample.roll_deg.known for sample in seen.roll), path.name
        assert seen.joints == (), path.name
        drowned = [v for v in seen.view if v.state is ViewState.UNDER_WATER]
        assert drowned == [], path.name


@pytest.mark.skipif(not real, reason="../shared/pictures is not here")
def test_real_dark_pictures_are_called_dark():
    for path in PICTURES.glob("lab_*nolight*.png"):
        seen = still_film(path)
        assert {v.state for v in seen.view} == {ViewState.DARK}
        assert not any(sample.depth_share.known for sample in seen.water)


def test_best_moment_and_drafts_take_a_track_of_the_eye():
    from saltglaze.model.frame import FilmFacts
    from saltglaze.model.track import SightTrack

    script = varied_script(SEEDS[1], 6.0)
    seen = looked_at(script)
    facts = FilmFacts(width_px=script.width_px, height_px=script.height_px)
    track = SightTrack(run_id="r", film=facts, counter=CounterTrack(), **seen._asdict())
    assert abs(best_moment(track, 3.0) - 3.0) <= 2.0
    for finding in draft_findings(track):
        assert finding.id.endswith("-seen")
        assert finding.draft.kind is None


@pytest.mark.parametrize("count", [1, 2, 3])
@pytest.mark.parametrize("shape", [(16, 16), (240, 320)])
def test_a_film_of_a_few_pictures_is_seen_through(count, shape):
    draw = np.random.default_rng(0)
    eye = PipeEye()
    for k in range(count):
        eye.feed(Frame(k * 0.2, draw.integers(0, 255, shape).astype(np.uint8), k))
    seen = eye.finish(CounterTrack())
    assert len(seen.roll) == len(seen.water) == count
    assert not seen.candidates
