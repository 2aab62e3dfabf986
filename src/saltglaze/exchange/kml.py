"""KML (OGC 07-147r2 by memory): a folder a layer, for a globe or a phone."""

from __future__ import annotations

from collections.abc import Iterable
from xml.etree import ElementTree as ET

from shapely import LinearRing, LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from saltglaze.exchange.layers import Layer, Thing
from saltglaze.exchange.plain_text import clean

NAMESPACE = "http://www.opengis.net/kml/2.2"


def kml_text(layers: Iterable[Layer], title: str) -> str:
    """Return layers in longitude and latitude as KML text."""
    ET.register_namespace("", NAMESPACE)
    root = ET.Element(f"{{{NAMESPACE}}}kml")
    document = _add(root, "Document")
    _add(document, "name", title)
    for layer in layers:
        folder = _add(document, "Folder")
        _add(folder, "name", layer.name)
        for thing in layer.things:
            _placemark(folder, thing)
    ET.indent(root)
    return ET.tostring(root, encoding="unicode", xml_declaration=True) + "\n"


def _placemark(folder: ET.Element, thing: Thing) -> None:
    mark = _add(folder, "Placemark")
    properties = thing.properties
    name = properties.get("id") or properties.get("finding") or properties.get("name") or ""
    _add(mark, "name", str(name))
    if properties.get("plain"):
        _add(mark, "description", str(properties["plain"]))
    data = _add(mark, "ExtendedData")
    for key, value in properties.items():
        if value is not None:
            field = _add(data, "Data")
            field.set("name", key)
            _add(field, "value", str(value))
    _geometry(mark, thing.geometry)


def _geometry(mark: ET.Element, geometry: BaseGeometry) -> None:
    if isinstance(geometry, Point):
        _add(_add(mark, "Point"), "coordinates", _coordinates(geometry.coords))
    elif isinstance(geometry, LineString):
        line = _add(mark, "LineString")
        _add(line, "tessellate", "1")
        _add(line, "coordinates", _coordinates(geometry.coords))
    elif isinstance(geometry, Polygon):
        polygon = _add(mark, "Polygon")
        _ring(polygon, "outerBoundaryIs", geometry.exterior)
        for hole in geometry.interiors:
            _ring(polygon, "innerBoundaryIs", hole)


def _ring(polygon: ET.Element, boundary: str, ring: LinearRing) -> None:
    drawn = _add(_add(polygon, boundary), "LinearRing")
    _add(drawn, "coordinates", _coordinates(ring.coords))


def _coordinates(vertices: Iterable[tuple[float, ...]]) -> str:
    return " ".join(f"{vertex[0]:.8f},{vertex[1]:.8f}" for vertex in vertices)


def _add(parent: ET.Element, tag: str, text: str | None = None) -> ET.Element:
    element = ET.SubElement(parent, f"{{{NAMESPACE}}}{tag}")
    element.text = clean(text) if text is not None else None
    return element
