"""GeoPackage: the layers as tables, written by GDAL."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from saltglaze.exchange.layers import Layer, Thing

SYNCHRONOUS = "OGR_SQLITE_SYNCHRONOUS"
LOCAL = (
    'ENGCRS["local metres",EDATUM["job"],CS[Cartesian,2],'
    'AXIS["e",east],AXIS["n",north],LENGTHUNIT["metre",1.0]]'
)
"""The job's own frame, in the words of ISO 19162."""


def write_geopackage(layers: Sequence[Layer], path: Path, *, on_earth: bool) -> None:
    """Write layers to a new GeoPackage at ``path``.

    ``on_earth``: the layers are in longitude and latitude (EPSG:4326); otherwise
    they are in the job's local metres. The caller sees to it that the file reaches
    the disk.
    """
    with _unhurried_disk():
        _write(layers, path, "EPSG:4326" if on_earth else LOCAL)


@contextmanager
def _unhurried_disk() -> Iterator[None]:
    """Let GDAL's database not wait for the disk: the whole file is synced once, after."""
    from pyogrio import get_gdal_config_option, set_gdal_config_options

    before = get_gdal_config_option(SYNCHRONOUS)
    set_gdal_config_options({SYNCHRONOUS: "OFF"})
    try:
        yield
    finally:
        set_gdal_config_options({SYNCHRONOUS: before})


def _write(layers: Sequence[Layer], path: Path, crs: str) -> None:
    from pyogrio.raw import write
    from shapely import to_wkb

    for count, layer in enumerate(layers):
        columns = {name: _column(layer.things, name) for name in layer.things[0].properties}
        write(
            path,
            geometry=np.array([to_wkb(t.geometry) for t in layer.things], dtype=object),
            field_data=[column.values for column in columns.values()],
            field_mask=[column.unknown for column in columns.values()],
            fields=list(columns),
            layer=layer.name,
            driver="GPKG",
            geometry_type=layer.geometry_type,
            crs=crs,
            append=count > 0,
        )


class _Column(NamedTuple):
    """One property of a layer: its values, and where there is none."""

    values: NDArray[np.generic]
    unknown: NDArray[np.bool_]


def _column(things: Sequence[Thing], name: str) -> _Column:
    """Return a column of whole numbers, numbers or text, whichever holds all its values."""
    said = [thing.properties[name] for thing in things]
    unknown = np.array([value is None for value in said])
    known = [value for value in said if value is not None]
    if known and all(isinstance(value, int) for value in known):
        return _Column(np.array([v or 0 for v in said], dtype=np.int64), unknown)
    if known and all(isinstance(value, int | float) for value in known):
        return _Column(np.array([v or 0.0 for v in said], dtype=np.float64), unknown)
    texts: list[str | None] = [None if value is None else str(value) for value in said]
    return _Column(np.array(texts, dtype=object), unknown)
