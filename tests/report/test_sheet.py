"""The sheet by its geometry: nothing missing, nothing overlapping, stations aligned."""

import re
import xml.etree.ElementTree as ET

import appraisals
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.model.finding import Feature
from saltglaze.model.ground import PlanPoint
from saltglaze.report.measures import Measures
from saltglaze.report.sheet import palette
from saltglaze.report.sheet.dig_plan import dig_plan
from saltglaze.report.sheet.scene import Box, Text
from saltglaze.report.sheet.sheet import SHEET_MM, sheets
from saltglaze.report.sheet.svg import svg
from saltglaze.report.wording import Words

CASES = {
    "rich": appraisals.rich,
    "three metres": lambda: appraisals.rich(3.0),
    "three hundred metres": lambda: appraisals.rich(300.0),
    "no plan": appraisals.strip_only,
    "thirty findings": lambda: appraisals.many(30, 25.0),
    "three hundred findings": lambda: appraisals.many(300),
    "all at one place": lambda: appraisals.many(60, 20.0, same_place=True),
    "long names": lambda: appraisals.named(appraisals.LONG),
    "right to left": lambda: appraisals.named(appraisals.HEBREW),
    "nothing known": appraisals.bare,
    "no stations": lambda: appraisals.unplaced(40),
}
WAYS = [("us", "letter"), ("metric", "a4")]


@pytest.fixture(scope="module")
def drawn():
    made = {}

    def draw(name, system="us", page="letter"):
        key = (name, system, page)
        if key not in made:
            made[key] = sheets(CASES[name](), Measures(system, Words()), page)
        return made[key]

    return draw


def labels(scene):
    """All lettering and numbered tags that can be read, as boxes."""
    for shape in scene.shapes:
        if isinstance(shape, Text) and shape.text and (shape.means or not shape.text.isdigit()):
            yield shape.text, shape.box
    for shape in scene.shapes:
        tags = ("plan_finding", "section_finding", "unplaced_finding")
        if not isinstance(shape, Text) and shape.means.startswith(tags):
            yield shape.means, bounds(shape)


def bounds(shape):
    if hasattr(shape, "radius"):
        (x, y), r = shape.centre, shape.radius
        return Box(x - r, y - r, x + r, y + r)
    xs, ys = zip(*shape.points, strict=True)
    return Box(min(xs), min(ys), max(xs), max(ys))


@pytest.mark.parametrize(("system", "page"), WAYS)
@pytest.mark.parametrize("name", CASES)
def test_no_labels_overlap(drawn, name, system, page):
    for scene in drawn(name, system, page):
        found = list(labels(scene))
        clashes = [
            (a, b)
            for i, (a, box_a) in enumerate(found)
            for b, box_b in found[i + 1 :]
            if box_a.overlaps(box_b, -0.05)
        ]
        assert clashes == []


@settings(max_examples=12, deadline=None)
@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=60), st.sampled_from([4.0, 30.0, 150.0]))
def test_no_labels_overlap_wherever_findings_lie(shares, length_m):
    base = appraisals.rich(length_m)
    points = base.position.paths[0].points
    features = list(Feature)
    items = tuple(
        appraisals.finding(
            f"h{i}", features[i % len(features)], share * length_m, grade=i % 5 + 1, points=points
        )
        for i, share in enumerate(shares)
    )
    appraisal = base.model_copy(update={"findings": items, "stills": (), "changes": ()})
    for scene in sheets(appraisal, Measures("us", Words()), "letter"):
        found = list(labels(scene))
        assert not [
            (a, b)
            for i, (a, box_a) in enumerate(found)
            for b, box_b in found[i + 1 :]
            if box_a.overlaps(box_b, -0.05)
        ]


@pytest.mark.parametrize(("system", "page"), WAYS)
@pytest.mark.parametrize("name", CASES)
def test_every_finding_is_on_the_sheet(drawn, name, system, page):
    scenes = drawn(name, system, page)
    appraisal = CASES[name]()
    section = {s.means.split(":", 1)[1] for x in scenes for s in x.meaning("section_finding:")}
    unplaced = {s.means.split(":", 1)[1] for x in scenes for s in x.meaning("unplaced_finding:")}
    plan = {s.means.split(":", 1)[1] for x in scenes for s in x.meaning("plan_finding:")}
    for item in appraisal.findings:
        ident = item.finding.id
        if item.place.station_m.known:
            assert ident in section
            if appraisal.position.paths:
                assert ident in plan
        else:
            assert ident in unplaced


@pytest.mark.parametrize(("system", "page"), WAYS)
@pytest.mark.parametrize("name", CASES)
def test_nothing_leaves_the_paper(drawn, name, system, page):
    width, height = SHEET_MM[page]
    for scene in drawn(name, system, page):
        paper = Box(0, 0, scene.width, scene.height)
        assert scene.width <= width + 1e-9
        if name not in ("no stations",):
            assert scene.height <= height + 1e-9
        for text, box in labels(scene):
            assert box.inside(paper, 0.6), text


@pytest.mark.parametrize(
    "name", ["rich", "three metres", "three hundred metres", "thirty findings"]
)
def test_plan_and_section_carry_ticks_at_the_same_stations(drawn, name):
    for scene in drawn(name):
        plan = {s.means.split(":")[1] for s in scene.meaning("plan_tick:")}
        section = {s.means.split(":")[1] for s in scene.meaning("section_tick:")}
        assert plan
        assert plan == section


@pytest.mark.parametrize("name", ["rich", "three hundred metres"])
def test_station_lines_join_plan_tick_and_section_tick(drawn, name):
    for scene in drawn(name):
        tick_x = {s.means.split(":")[1]: s.points[0][0] for s in scene.meaning("section_tick:")}
        middle = {
            s.means.split(":")[1]: tuple((a + b) / 2 for a, b in zip(*s.points, strict=True))
            for s in scene.meaning("plan_tick:")
        }
        lines = scene.meaning("station_line:")
        assert lines
        for line in lines:
            station = line.means.split(":")[1]
            assert line.points[0] == pytest.approx(middle[station], abs=0.01)
            assert line.points[-1][0] == pytest.approx(tick_x[station], abs=0.01)


def test_a_straight_line_has_plan_and_section_exactly_aligned():
    base = appraisals.rich(25.0)
    path = base.position.paths[0]
    straight = path.model_copy(
        update={
            "points": tuple(
                p.model_copy(update={"point": PlanPoint(east_m=p.station_m, north_m=2.0)})
                for p in path.points
            )
        }
    )
    position = base.position.model_copy(update={"paths": (straight,)})
    appraisal = base.model_copy(update={"position": position})
    (scene,) = sheets(appraisal, Measures("us", Words()), "letter")
    for line in scene.meaning("station_line:"):
        xs = [x for x, _ in line.points]
        assert max(xs) - min(xs) < 0.05


def test_scale_bar_measures_what_it_says(drawn):
    """Three cells of the bar against two ticks of the plan, in millimetres a metre."""
    (scene,) = drawn("rich", "metric", "a4")
    cells = [bounds(s) for s in scene.meaning("scale_bar")]
    figures = [t for t in scene.shapes if isinstance(t, Text) and re.fullmatch(r"[\d.]+ m", t.text)]
    metres = float(figures[0].text.split()[0])
    bar = (max(c.right for c in cells) - min(c.left for c in cells)) / metres
    course = next(s for s in scene.shapes if s.means == "course")
    drawn_mm = sum(
        ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
        for (x1, y1), (x2, y2) in zip(course.points, course.points[1:], strict=False)
    )
    assert drawn_mm / 25.0 == pytest.approx(bar, rel=0.01)


@pytest.mark.parametrize("name", ["rich", "three metres", "three hundred metres"])
def test_nothing_is_painted_out_for_scale_bar_and_names(drawn, name):
    """Paper is laid under the bar's own cells and within symbols, never as a patch."""
    appraisal = CASES[name]()
    measures = Measures("us", Words())
    plans = [dig_plan(appraisal, dig, measures) for dig in appraisal.position.digs]
    assert plans
    for scene in (*plans, *drawn(name)):
        bar = [bounds(s) for s in scene.meaning("scale_bar")]
        thick = max(b.height for b in bar)
        for shape in scene.shapes:
            if isinstance(shape, Text) or shape.style.fill != palette.PAPER or shape.means:
                continue
            patch = bounds(shape)
            if patch.overlaps(bar[0]):
                assert patch.height <= thick + 1.0


def test_every_callout_on_an_upright_sheet_has_its_margin(drawn):
    """Names and places stand on two lines where they would not fit on one."""
    for system, page in WAYS:
        for scene in drawn("thirty findings", system, page):
            upright = [t.text for t in scene.shapes if isinstance(t, Text) and t.turn == 90.0]
            assert len(upright) > 20
            places = [text for text in upright if re.match(r"(from )?[\d.]+ ", text)]
            assert len(places) * 2 == len(upright)
            assert all("±" in text for text in places)


def test_every_symbol_on_the_sheet_is_named(drawn):
    """Either in the legend, or because its callout letters the name beside it."""
    for name in ("rich", "thirty findings", "three hundred findings"):
        for scene in drawn(name):
            lettered = {t.text for t in scene.shapes if isinstance(t, Text)}
            words = Words()
            for shape in scene.meaning("symbol:"):
                label = words(f"feature.{shape.means.split(':')[1]}")
                assert any(text.startswith(label[:8]) for text in lettered)


@pytest.mark.parametrize("name", CASES)
def test_the_drawing_is_well_formed_and_needs_nothing_outside(drawn, name):
    for scene in drawn(name):
        text = svg(scene)
        root = ET.fromstring(text)
        assert root.tag.endswith("svg")
        assert root.find("{http://www.w3.org/2000/svg}title").text
        assert "<script" not in text
        assert "href" not in text
        assert "None" not in text
        assert "nan" not in text


def test_names_cannot_break_out_of_the_drawing():
    (scene,) = sheets(appraisals.hostile(), Measures("us", Words()), "letter")
    text = svg(scene)
    assert "<script" not in text
    ET.fromstring(text)


def test_unknown_plan_says_why(drawn):
    (scene,) = drawn("no plan")
    assert any("no surface locate" in t.text for t in scene.shapes if isinstance(t, Text))
