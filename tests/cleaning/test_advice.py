"""When to come back, and what was done by the jet."""

from __future__ import annotations

import datetime as dt

import pytest

from saltglaze import units
from saltglaze.cleaning.advice import appraise_cleaning
from saltglaze.model.appraisal import LineSegment
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature
from saltglaze.model.job import History, Job, Service
from saltglaze.model.line import FactSource, Line, Material
from saltglaze.model.run import JetPass, Run

TODAY = dt.date(2026, 5, 14)


RUNS = (Run(id="r"),)


def job(*services, passes=(), date=TODAY, runs=RUNS):
    return Job(
        id="j",
        date=date,
        line=Line(id="L"),
        runs=runs,
        passes=passes,
        history=History(services=services),
    )


def stop(year, month=1):
    return Service(date=dt.date(year, month, 1), kind="stoppage")


def segments(material=Material.CLAY):
    return (
        LineSegment(
            start_m=Estimate.of(0.0, 0.1),
            end_m=Estimate.of(30.0, 0.2),
            material=material,
            diameter_m=0.1016,
            source=FactSource.RECORD,
        ),
    )


def a_pass(**facts):
    base = {
        "id": "p",
        "pump_pressure_pa": units.pa_from_psi(2500.0),
        "flow_m3_s": units.m3_s_from_gpm(12.0),
        "hose_bore_m": units.m_from_in(0.5),
        "hose_length_m": units.m_from_ft(200.0),
        "nozzle_kind": "flushing",
    }
    return JetPass(**{**base, **facts})


def test_neither_roots_nor_history_gives_no_date_but_a_reason():
    advice = appraise_cleaning(job(), segments(), ()).advice
    assert not advice.interval_years.known
    assert advice.due is None
    assert "no roots were seen" in advice.interval_years.unknown_because


def test_roots_alone_give_the_habit_with_a_wide_interval(found):
    """Every year or every other year: Randrup et al. 2001."""
    roots = found("r", 9.0, feature=Feature.ROOTS)
    advice = appraise_cleaning(job(), segments(), [roots]).advice
    low, high = advice.interval_years.interval95
    assert advice.interval_years.value == pytest.approx(1.5, abs=0.01)
    assert low < 1.0
    assert high > 2.0
    assert "habit" in advice.plain


def test_more_stoppages_bring_the_visit_nearer_and_the_interval_closer(found):
    roots = found("r", 9.0, feature=Feature.ROOTS)
    few = appraise_cleaning(job(stop(2023), stop(2024)), segments(), [roots]).advice
    many = appraise_cleaning(
        job(*(stop(2020 + i // 2, 1 + 6 * (i % 2)) for i in range(12))), segments(), [roots]
    ).advice
    assert many.interval_years.value < few.interval_years.value
    spreads = [a.interval_years.interval95[1] / a.interval_years.interval95[0] for a in (few, many)]
    assert spreads[1] < spreads[0]


def test_it_is_due_from_today_if_it_was_jetted_today(found):
    roots = found("r", 9.0, feature=Feature.ROOTS)
    jetted = appraise_cleaning(job(stop(2024), passes=(a_pass(),)), segments(), [roots]).advice
    looked = appraise_cleaning(job(stop(2024)), segments(), [roots]).advice
    assert jetted.due > looked.due
    assert looked.due >= TODAY


def test_without_a_date_the_interval_stands_but_nothing_is_due(found):
    roots = found("r", 9.0, feature=Feature.ROOTS)
    advice = appraise_cleaning(job(date=None), segments(), [roots]).advice
    assert advice.interval_years.known
    assert advice.due is None


def test_stoppages_that_come_faster_are_told(found):
    roots = found("r", 9.0, feature=Feature.ROOTS)
    days = [0, 2200, 3200, 3900, 4400, 4750, 5000, 5180, 5300, 5380, 5440]
    start = dt.date(2011, 6, 1)
    services = [Service(date=start + dt.timedelta(days=d), kind="stoppage") for d in days]
    advice = appraise_cleaning(job(*services), segments(), [roots]).advice
    assert "faster and faster" in advice.plain
    assert any("growth exponent" in reason.because for reason in advice.reasons)


def test_services_after_the_job_are_not_history(found):
    roots = found("r", 9.0, feature=Feature.ROOTS)
    past = appraise_cleaning(job(stop(2023), stop(2024)), segments(), [roots]).advice
    odd = appraise_cleaning(job(stop(2023), stop(2024), stop(2030)), segments(), [roots]).advice
    assert odd.interval_years == past.interval_years


def test_a_moderate_sag_is_looked_at_again_in_two_to_five_years(found):
    """Seattle Public Utilities: inspect moderate sags every 2 to 5 years."""
    sag = found("s", 9.0, feature=Feature.SAG, water_share=Estimate.of(0.3, 0.02))
    slight = found("s", 9.0, feature=Feature.SAG, water_share=Estimate.of(0.1, 0.02))
    advice = appraise_cleaning(job(), segments(), [sag]).advice
    assert advice.interval_years.interval95 == (2.0, 5.0)
    assert not appraise_cleaning(job(), segments(), [slight]).advice.interval_years.known


# ------------------------------------------------------------------ passes
def test_the_nozzle_gets_less_than_the_pump_gives():
    review = appraise_cleaning(job(passes=(a_pass(),)), segments(), ()).passes[0]
    low, high = review.nozzle_pressure_pa.interval95
    assert high < units.pa_from_psi(2500.0)
    assert low > units.pa_from_psi(1900.0)
    assert review.reach_m.known


def test_a_longer_hose_loses_more():
    short, long = (
        appraise_cleaning(job(passes=(a_pass(hose_length_m=length),)), segments(), ())
        .passes[0]
        .nozzle_pressure_pa.value
        for length in (30.0, 90.0)
    )
    assert long < short


def test_without_hose_or_flow_the_margin_is_wide_and_said():
    review = appraise_cleaning(
        job(passes=(a_pass(hose_bore_m=None, flow_m3_s=None),)), segments(), ()
    ).passes[0]
    low, high = review.nozzle_pressure_pa.interval95
    assert high / low > 1.9
    assert not review.reaction_n.known
    assert not review.reach_m.known
    assert "not noted" in review.reasons[0].because


def test_a_nozzle_used_twice_tells_the_flow_it_passed_the_second_time():
    """Q = K sqrt(P) at the nozzle, the hose taking its share."""
    first = a_pass(id="a", nozzle="eight back")
    second = a_pass(id="b", nozzle="eight back", flow_m3_s=None, pump_pressure_pa=4.0e6)
    odd = a_pass(id="c", nozzle="other", flow_m3_s=None)
    reviews = appraise_cleaning(job(passes=(first, second, odd)), segments(), ()).passes
    assert reviews[1].reaction_n.known
    assert not reviews[2].reaction_n.known
    ratio = reviews[0].nozzle_pressure_pa.value / units.pa_from_psi(2500.0)
    assert reviews[1].nozzle_pressure_pa.value / 4.0e6 == pytest.approx(ratio, abs=0.03)
    assert reviews[1].reaction_n.value < reviews[0].reaction_n.value


def test_without_a_pressure_nothing_is_judged():
    review = appraise_cleaning(job(passes=(a_pass(pump_pressure_pa=None),)), segments(), ()).passes
    assert review[0].within_limit is None
    assert "not noted" in review[0].plain


def test_sound_clay_takes_it_and_broken_clay_does_not(found):
    passes = (a_pass(),)
    sound = appraise_cleaning(job(passes=passes), segments(), ()).passes[0]
    broken = found("b", 9.0, feature=Feature.BREAK)
    hurt = appraise_cleaning(job(passes=passes), segments(), [broken])
    assert sound.within_limit is True
    assert hurt.passes[0].within_limit is False
    assert any("badly damaged" in caution for caution in hurt.cautions)


def test_damage_elsewhere_does_not_limit_a_pass_that_did_not_go_there(found):
    far = LineSegment(
        start_m=Estimate.of(30.0, 0.1),
        end_m=Estimate.of(50.0, 0.2),
        material=Material.CLAY,
        source=FactSource.RECORD,
    )
    broken = found("b", 40.0, feature=Feature.BREAK)
    near = a_pass(from_station_m=0.0, to_station_m=20.0)
    review = appraise_cleaning(job(passes=(near,)), (*segments(), far), [broken]).passes[0]
    assert review.within_limit is True


def test_unseen_pipe_counts_as_worn():
    passes = (a_pass(),)
    answer = appraise_cleaning(job(passes=passes, runs=()), segments(), ())
    assert answer.advice.jet_pressure_limit_pa == pytest.approx(units.pa_from_psi(1900.0))
    assert answer.passes[0].within_limit is False


def test_where_no_limit_is_published_that_is_said():
    iron = appraise_cleaning(job(passes=(a_pass(),)), segments(Material.CAST_IRON), ()).passes[0]
    assert "no limit is published" in iron.plain
    fibre = appraise_cleaning(job(passes=(a_pass(),)), segments(Material.BITUMINISED_FIBRE), ())
    assert fibre.passes[0].limit_pa is None
    assert fibre.passes[0].within_limit is None
    assert any("Tar fibre" in caution for caution in fibre.cautions)


@pytest.mark.parametrize(
    ("material", "dwell_s", "warned"),
    [(Material.PVC, 4.0, True), (Material.CLAY, 4.0, False), (Material.CLAY, 70.0, True)],
)
def test_a_nozzle_held_still_is_warned_of(material, dwell_s, warned):
    """3 to 5 s pierced plastic in BPDA's tests; general advice is under 60 s."""
    answer = appraise_cleaning(job(passes=(a_pass(dwell_s=dwell_s),)), segments(material), ())
    assert ("stood in one place" in answer.passes[0].plain) is warned


def test_bends_shorten_the_reach(found):
    bends = [found(f"b{i}", 2.0 + i, feature=Feature.BEND, kind="1/4") for i in range(2)]
    straight = appraise_cleaning(job(passes=(a_pass(),)), segments(), ()).passes[0]
    bent = appraise_cleaning(job(passes=(a_pass(),)), segments(), bends).passes[0]
    assert bent.reach_m.value < straight.reach_m.value


def test_the_caution_about_gas_always_stands():
    assert any("gas" in caution for caution in appraise_cleaning(job(), (), ()).cautions)
