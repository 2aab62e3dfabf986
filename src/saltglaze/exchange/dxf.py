"""DXF (R2010) with a layer for each kind of thing, local metres, the line in space."""

from __future__ import annotations

import io
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Final

from shapely import LineString, Point, Polygon

from saltglaze.exchange.layers import Layer, Thing
from saltglaze.exchange.plain_text import one_line
from saltglaze.model.appraisal import Appraisal

if TYPE_CHECKING:
    from ezdxf.layouts import Modelspace

METRES: Final = 6
"""$INSUNITS code for metres."""

TEXT_M: Final = 0.25
COLOURS: Final = {
    "parcels": 8,
    "mains": 94,
    "utilities": 30,
    "marks": 7,
    "line_band_95": 9,
    "line": 5,
    "locates": 6,
    "findings": 1,
    "digs": 3,
    "dig_ellipses_95": 3,
}
"""DXF colour index by layer; shape and layer name carry the meaning, not the colour."""

LABEL_LENGTH: Final = 80
"""Longer labels are cut with an ellipsis; the tables and maps carry them whole."""


def dxf_text(layers: Iterable[Layer], appraisal: Appraisal) -> str:
    """Return the layers (local metres) as DXF text, with the line as a polyline in space."""
    import ezdxf

    drawing = ezdxf.new("R2010", setup=True)
    drawing.header["$INSUNITS"] = METRES
    space = drawing.modelspace()
    for layer in layers:
        name = layer.name.upper()
        drawing.layers.add(name, color=COLOURS.get(layer.name, 7))
        for thing in layer.things:
            _draw(space, thing, name)
    levelled = _levelled(appraisal)
    if len(levelled) > 1:
        drawing.layers.add("LINE_INVERT", color=COLOURS["line"])
        space.add_polyline3d(levelled, dxfattribs={"layer": "LINE_INVERT"})
    out = io.StringIO()
    drawing.write(out)
    return out.getvalue()


def _draw(space: Modelspace, thing: Thing, layer: str) -> None:
    attributes: dict[str, Any] = {"layer": layer}
    geometry = thing.geometry
    if isinstance(geometry, Point):
        space.add_point((geometry.x, geometry.y), dxfattribs=attributes)
        text = space.add_text(_label(thing), height=TEXT_M, dxfattribs=attributes)
        text.set_placement((geometry.x + TEXT_M, geometry.y + TEXT_M))
    elif isinstance(geometry, LineString):
        space.add_lwpolyline(list(geometry.coords), dxfattribs=attributes)
    elif isinstance(geometry, Polygon):
        for ring in (geometry.exterior, *geometry.interiors):
            corners = list(ring.coords)[:-1]
            space.add_lwpolyline(corners, close=True, dxfattribs=attributes)


def _label(thing: Thing) -> str:
    properties = thing.properties
    name = properties.get("name") or properties.get("id") or properties.get("finding") or ""
    feature = properties.get("feature")
    station = properties.get("station_m")
    parts = [str(feature).replace("_", " ") if feature else str(name)]
    if isinstance(station, float):
        parts.append(f"{station:.1f} m")
    return _as_written(one_line(" ".join(parts)))


def _as_written(text: str) -> str:
    """Return text that a drawing shows as it stands: no control codes, of bounded length."""
    short = text if len(text) <= LABEL_LENGTH else f"{text[: LABEL_LENGTH - 1]}…"
    return short.replace("^", "^ ").replace("%%", "%%%%%%")


def _levelled(appraisal: Appraisal) -> list[tuple[float, float, float]]:
    paths = appraisal.position.paths
    return [
        (p.point.east_m, p.point.north_m, p.invert_level_m.value)
        for p in (paths[0].points if paths else ())
        if p.point and p.invert_level_m and p.invert_level_m.value is not None
    ]
