"""What the pipe is made of: the best source wins, stretch by stretch."""

import itertools

import pytest
from evidence_kit import LEAD, job, seen, steady

from saltglaze.model.appraisal import Heard
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature
from saltglaze.model.line import FactSource, Line, Material, Segment
from saltglaze.model.talk import LineFact, LineFactKind
from saltglaze.position.solve import locate


def line(*segments):
    return Line(id="line", segments=segments)


def stretch(start, end, source, **facts):
    return Segment(
        start_m=Estimate.of(start, 0.2),
        end_m=None if end is None else Estimate.of(end, 0.2),
        source=source,
        **facts,
    )


def said(kind, time_s, value=None, number=None, supposed=False):
    estimate = None if number is None else Estimate.of(number, 0.001)
    return LineFact(
        kind=kind, time_s=time_s, value=value, number=estimate, supposed=supposed, text="said so"
    )


def segments(the_line, findings=(), facts=()):
    heard = (Heard(run_id="r1", facts=facts),)
    return locate(job(line=the_line), (steady(),), heard, findings).segments


def test_a_line_of_which_nothing_is_known_is_one_unknown_stretch():
    (one,) = segments(line())
    assert one.material is None
    assert one.diameter_m is None
    assert one.source is FactSource.ASSUMED
    assert (one.start_m.value, one.end_m.value) == pytest.approx((0.0, 29.95), abs=0.05)


def test_a_record_outranks_the_talk_and_the_talk_fills_its_gaps():
    (one,) = segments(
        line(stretch(0.0, None, FactSource.RECORD, material=Material.CLAY)),
        facts=(
            said(LineFactKind.MATERIAL, 30.0, "cast_iron"),
            said(LineFactKind.DIAMETER, 30.0, number=0.1524),
            said(LineFactKind.SECTION_LENGTH, 30.0, number=0.61),
        ),
    )
    assert one.material is Material.CLAY
    assert one.source is FactSource.RECORD
    assert one.diameter_m == pytest.approx(0.1524)
    assert one.section_length_m == pytest.approx(0.61)


def test_a_material_change_seen_parts_the_line():
    change = seen(
        "change",
        120.0,
        feature=Feature.MATERIAL_CHANGE,
        material=Material.CAST_IRON,
        material_after=Material.CLAY,
    )
    first, second = segments(line(), (change,))
    assert (first.material, second.material) == (Material.CAST_IRON, Material.CLAY)
    assert first.end_m.value == second.start_m.value == pytest.approx(12.0 + LEAD, abs=0.1)
    assert first.end_m.spread > 0.1
    assert first.source is FactSource.SEEN


def test_talk_after_a_change_holds_after_it_only():
    change = seen("change", 120.0, feature=Feature.MATERIAL_CHANGE, material_after=Material.PVC)
    first, second = segments(line(), (change,), (said(LineFactKind.MATERIAL, 30.0, "clay"),))
    assert (first.material, second.material) == (Material.CLAY, Material.PVC)


def test_the_border_on_the_record_and_the_one_seen_are_one_border():
    record = (
        stretch(0.0, 12.4, FactSource.RECORD, material=Material.CAST_IRON),
        stretch(12.4, None, FactSource.RECORD, material=Material.CLAY),
    )
    change = seen("change", 120.0, feature=Feature.MATERIAL_CHANGE, material_after=Material.CLAY)
    settled = segments(line(*record), (change,))
    assert [one.material for one in settled] == [Material.CAST_IRON, Material.CLAY]


def test_a_supposed_fact_is_only_assumed():
    (one,) = segments(line(), facts=(said(LineFactKind.MATERIAL, 30.0, "clay", supposed=True),))
    assert one.material is Material.CLAY
    assert one.source is FactSource.ASSUMED


def test_segments_tile_the_line():
    changes = tuple(seen(f"c{n}", 60.0 * n, feature=Feature.DIAMETER_CHANGE) for n in range(1, 5))
    settled = segments(line(stretch(3.0, 9.0, FactSource.OWNER, diameter_m=0.1)), changes)
    for before, after in itertools.pairwise(settled):
        assert before.end_m == after.start_m
    assert settled[0].start_m.value == 0.0
    assert settled[-1].end_m.value == pytest.approx(29.95, abs=0.05)


def test_a_repair_seen_outranks_an_old_record_and_keeps_no_sections_of_it():
    record = stretch(
        0.0, None, FactSource.RECORD, material=Material.CLAY, section_length_m=0.61, diameter_m=0.15
    )
    repair = (
        seen("a", 100.0, feature=Feature.MATERIAL_CHANGE, material_after=Material.PVC),
        seen("b", 140.0, feature=Feature.MATERIAL_CHANGE, material_after=Material.CLAY),
    )
    settled = segments(line(record), repair)
    assert [s.material for s in settled] == [Material.CLAY, Material.PVC, Material.CLAY]
    assert [s.section_length_m for s in settled] == [0.61, None, 0.61]
    assert [s.diameter_m for s in settled] == [0.15, 0.15, 0.15]
