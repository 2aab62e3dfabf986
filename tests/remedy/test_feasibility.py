"""The feasibility table covers every method and feature, each with its source."""

from __future__ import annotations

import itertools

import pytest

from saltglaze.condition.tables import read_table
from saltglaze.model.appraisal import RemedyKind
from saltglaze.model.base import Estimate
from saltglaze.model.finding import KINDS, Facts, Feature
from saltglaze.remedy.feasibility import Effect, effect, rules
from saltglaze.remedy.prices import DRAWS, default_prices, prices_for, settings


@pytest.mark.parametrize(("kind", "feature"), list(itertools.product(RemedyKind, Feature)))
def test_some_rule_always_fits(kind, feature):
    for sort in (None, *KINDS.get(feature, ())):
        rule = effect(kind, Facts(feature=feature, kind=sort), 0.1)
        assert rule.because
        assert rule.source
        assert rule.status in {"confirmed", "memory", "practice", "own"}


def test_items_of_the_rules_and_of_the_drafts_have_a_price():
    items = {price.item for price in default_prices().prices}
    named = {rule.item for rule in rules() if rule.item}
    depth = {
        f"{what}_{how}"
        for what in ("spot_dig", "pit", "open_cut")
        for how in ("shallow", "medium", "deep")
    }
    assert named | depth <= items


def test_a_rule_with_a_measure_names_a_field_or_the_bore():
    fields = {*Facts.model_fields, "width_over_bore"}
    assert {rule.measure for rule in rules() if rule.measure} <= fields
    assert {rule.seen for rule in rules() if rule.seen} <= fields


def test_a_void_behind_a_hole_stops_a_liner():
    hole = Facts(feature=Feature.HOLE, round_share=Estimate.of(0.1, 0.01))
    assert effect(RemedyKind.FULL_LINER, hole, 0.1).verdict is Effect.FIXES
    void = hole.model_copy(update={"void_visible": True})
    assert effect(RemedyKind.FULL_LINER, void, 0.1).verdict is Effect.BLOCKS


def test_more_out_of_round_than_a_tenth_is_not_lined():
    squashed = Facts(feature=Feature.DEFORMATION, deformation_share=Estimate.of(0.12, 0.01))
    assert effect(RemedyKind.FULL_LINER, squashed, 0.1).verdict is Effect.BLOCKS


def test_every_price_has_a_range_and_a_source():
    for price in default_prices().prices:
        assert 0 < price.low <= price.typical <= price.high
        assert price.source


def test_prices_are_drawn_the_same_each_time_and_inside_their_range():
    prices = prices_for(None)
    for item, price in prices.by_item.items():
        draws = prices.draws(item)
        assert len(draws) == DRAWS
        assert draws.min() >= price.low
        assert draws.max() <= price.high
        assert (draws == prices.draws(item)).all()


def test_failure_chances_rise_with_the_grade():
    chances = [settings()["failure"][str(grade)] for grade in range(1, 6)]
    assert chances == sorted(chances)


def test_tables_name_their_sources():
    table = read_table("saltglaze.remedy", "prices.toml")
    for block in ("lives", "failure"):
        assert table[block]["source"]
