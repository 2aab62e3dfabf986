"""GeoPackage: the layers as tables, written by GDAL."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from saltglaze.exchange.layers import Layer, Thing

LOCAL = (
    'ENGCRS["local metres",EDATUM["job"],CS[Cartesian,2],'
    'AXIS["e",east],AXIS["n",north],LENGTHUNIT["metre",1.0]]'
)
"""The job's own frame, in the words of ISO 19162."""


def write_geopackage(layers: Sequence[Layer], path: Path, *, on_earth: bool) -> None:
    """Write layers to a new GeoPackage at ``path``.

    ``on_earth``: the layers are in longitude and latitude (EPSG:4326); otherwise
    they are in the job's local metres.
    """
    from pyogrio.raw import write
    from shapely import to_wkb

    for count, layer in enumerate(layers):
        geometry = np.array([to_wkb(t.geometry) for t in layer.things], dtype=object)
        names = list(layer.things[0].properties)
        write(
            path,
            geometry=geometry,
            field_data=[_column(layer.things, name) for name in names],
            fields=names,
            layer=layer.name,
            driver="GPKG",
            geometry_type=layer.geometry_type,
            crs="EPSG:4326" if on_earth else LOCAL,
            append=count > 0,
        )


def _column(things: Sequence[Thing], name: str) -> NDArray[np.generic]:
    values = [t.properties[name] for t in things]
    if any(isinstance(value, str) for value in values) or all(v is None for v in values):
        return np.array([None if v is None else str(v) for v in values], dtype=object)
    return np.array([np.nan if v is None else float(v) for v in values], dtype=np.float64)
