"""GeoJSON (RFC 7946): one collection, longitude and latitude, each feature with its layer."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from shapely import Polygon
from shapely.geometry import mapping
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from saltglaze.exchange.layers import Layer

DIGITS = 8
"""Decimals of a degree written: about a millimetre."""


def geojson_text(layers: Iterable[Layer], title: str) -> str:
    """Return layers in longitude and latitude as a FeatureCollection.

    Outer rings run against the clock (RFC 7946, 3.1.6); what is unknown is null.
    """
    features = [
        {
            "type": "Feature",
            "properties": {"layer": layer.name, **thing.properties},
            "geometry": _geometry(thing.geometry),
        }
        for layer in layers
        for thing in layer.things
    ]
    collection = {"type": "FeatureCollection", "title": title, "features": features}
    return json.dumps(collection, ensure_ascii=False, indent=1) + "\n"


def _geometry(geometry: BaseGeometry) -> dict[str, Any]:
    shape = orient(geometry) if isinstance(geometry, Polygon) else geometry
    drawn = mapping(shape)
    return {"type": drawn["type"], "coordinates": _trimmed(drawn["coordinates"])}


def _trimmed(value: Any) -> Any:  # noqa: ANN401  (nested coordinates of any depth)
    if isinstance(value, (tuple, list)):
        return [_trimmed(inner) for inner in value]
    return round(float(value), DIGITS)
