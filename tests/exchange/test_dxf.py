"""DXF, read back and audited by ezdxf."""

import io

import appraisals as made
import pytest
from exchange_kit import HOSTILE_TEXTS, placed, told
from ezdxf import recover

from saltglaze.exchange.dxf import LABEL_LENGTH, METRES, dxf_text
from saltglaze.exchange.layers import map_layers
from saltglaze.exchange.plain_text import one_line


def read(appraisal):
    """Return the drawing as ezdxf recovers it from bytes, with no fault found."""
    text = dxf_text(map_layers(appraisal), appraisal)
    drawing, auditor = recover.read(io.BytesIO(text.encode("utf-8")))
    audit = drawing.audit()
    assert (auditor.errors, audit.errors, audit.fixes) == ([], [], [])
    return drawing


def test_findings_stand_where_the_appraisal_puts_them():
    rich = made.rich()
    drawing = read(rich)
    assert drawing.header["$INSUNITS"] == METRES
    points = drawing.modelspace().query('POINT[layer=="FINDINGS"]')
    assert len(points) == len(placed(rich))
    for point, found in zip(points, placed(rich), strict=True):
        place = found.place.point
        assert tuple(point.dxf.location)[:2] == pytest.approx((place.east_m, place.north_m))


def test_each_kind_of_thing_has_its_layer():
    rich = made.rich()
    drawing = read(rich)
    for layer in map_layers(rich):
        drawn = drawing.modelspace().query(f'POINT LWPOLYLINE[layer=="{layer.name.upper()}"]')
        rings = sum(1 + len(getattr(t.geometry, "interiors", ())) for t in layer.things)
        assert len(drawn) == rings


def test_the_invert_runs_in_space():
    rich = made.rich()
    (line,) = read(rich).modelspace().query('POLYLINE[layer=="LINE_INVERT"]')
    known = [p for p in rich.position.paths[0].points if p.point and p.invert_level_m]
    assert [tuple(v.dxf.location) for v in line.vertices] == [
        pytest.approx((p.point.east_m, p.point.north_m, p.invert_level_m.value)) for p in known
    ]


@pytest.mark.parametrize("text", HOSTILE_TEXTS, ids=range(len(HOSTILE_TEXTS)))
def test_hostile_names_are_shown_as_they_stand(text):
    drawing = read(told(made.rich(), text))
    labels = {label.plain_text() for label in drawing.modelspace().query('TEXT[layer=="MARKS"]')}
    (shown,) = labels
    whole = one_line(text)
    assert shown == whole or (shown[:-1] == whole[: LABEL_LENGTH - 1] and shown[-1] == "…")


def test_300_findings_make_a_sound_drawing():
    points = read(made.many(300)).modelspace().query('POINT[layer=="FINDINGS"]')
    assert len(points) == 300
