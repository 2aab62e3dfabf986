from __future__ import annotations

import math

import pytest
from section_kit import bowl, film, segments

from saltglaze.model.appraisal import FindingPlace
from saltglaze.model.base import Estimate
from saltglaze.model.finding import DraftedBy, Evidence, Facts, Feature, Finding
from saltglaze.model.track import ViewState, ViewStretch, WaterState
from saltglaze.position.water import bore_at, standing_water
from saltglaze.position.waterline import DROWNED, looked_at


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
    assert stretch.id == "water-r-1"
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


def test_water_on_both_sides_of_blind_film_is_one_sag():
    # the head dives: no water line can be read in the middle
    track, stationing = film(bowl())
    blind = tuple(
        sample.model_copy(
            update={
                "depth_share": Estimate.unknown("the lens is under water"),
                "state": WaterState.UNKNOWN,
            }
        )
        if 115.0 < sample.time_s < 135.0
        else sample
        for sample in track.water
    )
    (stretch,) = standing_water([track.model_copy(update={"water": blind})], [stationing])
    assert (stretch.start_m.value, stretch.end_m.value) == (10.0, 15.0)


def test_a_drowned_lens_is_deep_water_with_one_wide_doubt():
    track, stationing = film(bowl())
    under = ViewStretch(start_s=110.0, end_s=140.0, state=ViewState.UNDER_WATER)
    dry = tuple(s for s in track.water if not 110.0 <= s.time_s <= 140.0)
    track = track.model_copy(update={"water": dry, "view": (under,)})
    (stretch,) = standing_water([track], [stationing])
    deep = [s for s in stretch.samples if s.share > 0.6]
    assert len(deep) >= 10
    together = 1.0 / math.sqrt(sum(1.0 / s.sd**2 for s in deep))
    assert together == pytest.approx(DROWNED.spread, rel=0.05)


def test_flowing_water_between_parts_two_sags():
    first, stationing = film(bowl())
    between, _ = film([0.04] * 8, state=WaterState.FLOWING, from_m=15.25)
    second, _ = film(bowl(), from_m=17.5)
    water = (*first.water, *between.water, *second.water)
    track = first.model_copy(update={"water": water})
    assert len(standing_water([track], [stationing])) == 2


def test_a_word_over_two_seen_stretches_makes_them_one():
    first, stationing = film(bowl())
    second, _ = film(bowl(), from_m=17.5)
    track = first.model_copy(update={"water": (*first.water, *second.water)})
    finding, place = spoken(12.0, 19.0, 0.5)
    (stretch,) = standing_water([track], [stationing], [finding], [place])
    assert (stretch.start_m.value, stretch.end_m.value) == (10.0, 22.5)


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
