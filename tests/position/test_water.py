from __future__ import annotations

import pytest
from section_kit import bowl, film, segments

from saltglaze.model.appraisal import FindingPlace
from saltglaze.model.base import Estimate
from saltglaze.model.finding import DraftedBy, Evidence, Facts, Feature, Finding
from saltglaze.model.track import WaterState
from saltglaze.position.water import bore_at, looked_at, standing_water


def spoken(start, end, share=None):
    facts = Facts(
        feature=Feature.STANDING_WATER,
        water_share=None if share is None else Estimate.of(share, 0.08),
    )
    finding = Finding(id="w", draft=facts, evidence=Evidence(drafted_by=DraftedBy.NARRATION))
    place = FindingPlace(
        finding_id="w", station_m=Estimate.of(start, 0.2), end_station_m=Estimate.of(end, 0.2)
    )
    return finding, place


def test_a_run_of_standing_samples_is_one_stretch():
    track, stationing = film(bowl())
    (stretch,) = standing_water([track], [stationing])
    assert stretch.start_m.value == pytest.approx(10.0)
    assert stretch.end_m.value == pytest.approx(15.0)
    assert max(sample.share for sample in stretch.samples) == pytest.approx(0.5, abs=0.01)
    assert stretch.source == "seen"


def test_flowing_water_does_not_stand():
    track, stationing = film(bowl(), state=WaterState.FLOWING)
    assert standing_water([track], [stationing]) == ()


def test_a_puddle_is_no_stretch():
    track, stationing = film([0.2, 0.2])
    assert standing_water([track], [stationing]) == ()


def test_spoken_water_joins_what_was_seen_there():
    track, stationing = film(bowl())
    finding, place = spoken(9.0, 14.0, 0.5)
    (stretch,) = standing_water([track], [stationing], [finding], [place])
    assert stretch.source == "seen and spoken"
    assert stretch.finding_ids == ("w",)
    assert stretch.start_m.value == pytest.approx(9.0)
    assert len(stretch.samples) > 10


def test_spoken_water_alone_takes_the_film_within_it():
    track, stationing = film(bowl(), state=WaterState.UNKNOWN)
    finding, place = spoken(11.0, 14.0, 0.5)
    (stretch,) = standing_water([track], [stationing], [finding], [place])
    assert stretch.source == "spoken"
    assert all(11.0 <= sample.station_m <= 14.0 for sample in stretch.samples)


def test_spoken_backwards_is_turned_round_and_a_rejected_one_is_left_out():
    finding, place = spoken(14.0, 11.0)
    (stretch,) = standing_water(findings=[finding], places=[place])
    assert (stretch.start_m.value, stretch.end_m.value) == (11.0, 14.0)
    assert standing_water(findings=[finding], places=[]) == ()


def test_film_without_a_station_tells_nothing():
    track, _ = film(bowl())
    assert standing_water([track], []) == ()
    assert looked_at([track], []) == ()


def test_what_the_film_looked_at():
    track, stationing = film([0.05] * 21, state=WaterState.FLOWING)
    ((low, high),) = looked_at([track], [stationing])
    assert (low, high) == (pytest.approx(10.0), pytest.approx(15.0))


@pytest.mark.parametrize(("station", "bore"), [(0.0, 0.1), (39.9, 0.1), (55.0, None)])
def test_bore_by_station(station, bore):
    assert bore_at(segments(), station) == bore
