"""GeoJSON, GeoPackage and KML, read back by GDAL and by the standard library."""

import json
import math
from xml.etree import ElementTree as ET

import appraisals as made
import numpy as np
import pyogrio
import pytest
from exchange_kit import HOSTILE_TEXTS, placed, told, without_origin
from pyproj import Geod
from shapely import Polygon, from_wkb, is_ccw
from shapely.geometry import shape

from saltglaze.exchange.kml import NAMESPACE
from saltglaze.exchange.layers import map_layers
from saltglaze.exchange.plain_text import clean
from saltglaze.exchange.write import write_exchange
from saltglaze.position.frame import LocalFrame

KML = {"k": NAMESPACE}
A_MILLIMETRE_DEG = 2e-8


@pytest.fixture(scope="module")
def rich():
    return made.rich()


@pytest.fixture(scope="module")
def folder(rich, tmp_path_factory):
    out = tmp_path_factory.mktemp("exchange")
    write_exchange(rich, out)
    return out / "exchange"


def table(path, layer=None):
    """Return (columns by name, geometries) of a layer as GDAL reads it."""
    meta, _, geometry, values = pyogrio.raw.read(path, layer=layer)
    return dict(zip(meta["fields"], values, strict=True)), from_wkb(geometry), meta


def lonlat(appraisal, point):
    return LocalFrame(appraisal.job.origin).to_lonlat(point)


def test_gdal_reads_the_same_findings_from_the_package(rich, folder):
    columns, geometry, meta = table(folder / "map.gpkg", "findings")
    assert meta["crs"] == "EPSG:4326"
    assert list(columns["id"]) == [f.finding.id for f in placed(rich)]
    for row, found in enumerate(placed(rich)):
        assert (geometry[row].x, geometry[row].y) == pytest.approx(
            lonlat(rich, found.place.point), abs=1e-12
        )
        assert columns["station_m"][row] == pytest.approx(found.place.station_m.value, abs=5e-4)
        assert columns["station_sd_m"][row] == pytest.approx(found.place.station_m.spread, abs=5e-4)
        assert columns["plain"][row] == found.plain
        for aspect in ("structure", "service", "tightness"):
            grade = getattr(found.grade, aspect)
            read = columns[aspect][row]
            assert read == grade or (grade is None and np.isnan(read))


def test_every_layer_of_the_package_holds_what_the_appraisal_holds(rich, folder):
    layers = {layer.name: layer for layer in map_layers(rich)}
    listed = dict(pyogrio.list_layers(folder / "map.gpkg"))
    assert listed == {name: layer.geometry_type for name, layer in layers.items()}
    for name, layer in layers.items():
        assert pyogrio.read_info(folder / "map.gpkg", layer=name)["features"] == len(layer.things)


def test_gdal_reads_the_same_from_geojson_as_from_the_package(folder):
    columns, geometry, _ = table(folder / "map.geojson")
    rows = np.flatnonzero(columns["layer"] == "findings")
    packed, places, _ = table(folder / "map.gpkg", "findings")
    assert list(columns["id"][rows]) == list(packed["id"])
    for row, place in zip(rows, places, strict=True):
        assert geometry[row].distance(place) < A_MILLIMETRE_DEG


def test_geojson_follows_rfc_7946(folder):
    """Sections 4 (no other crs), 3.1.6 (rings closed, outer ones against the clock)."""
    read = json.loads((folder / "map.geojson").read_text(encoding="utf-8"))
    assert read["type"] == "FeatureCollection"
    assert "crs" not in read
    polygons = 0
    for feature in read["features"]:
        assert set(feature) == {"type", "properties", "geometry"}
        geometry = shape(feature["geometry"])
        west, south, east, north = geometry.bounds
        assert -180 <= west <= east <= 180
        assert -90 <= south <= north <= 90
        if isinstance(geometry, Polygon):
            polygons += 1
            rings = feature["geometry"]["coordinates"]
            assert all(ring[0] == ring[-1] and len(ring) >= 4 for ring in rings)
            assert is_ccw(geometry.exterior)
            assert not any(is_ccw(hole) for hole in geometry.interiors)
    assert polygons > 3


def test_distances_on_the_ellipsoid_are_those_of_the_tape(rich, folder):
    """The outside check: geodesics of PROJ on WGS 84 between the points as written."""
    _, geometry, _ = table(folder / "map.gpkg", "findings")
    first, last = placed(rich)[0], placed(rich)[-1]
    a, b = first.place.point, last.place.point
    _, _, length_m = Geod(ellps="WGS84").inv(
        geometry[0].x, geometry[0].y, geometry[-1].x, geometry[-1].y
    )
    assert length_m == pytest.approx(
        math.hypot(a.east_m - b.east_m, a.north_m - b.north_m), rel=1e-6
    )


def test_kml_says_the_same(rich, folder):
    root = ET.parse(folder / "map.kml").getroot()
    folders = {f.findtext("k:name", namespaces=KML): f for f in root.iterfind(".//k:Folder", KML)}
    assert list(folders) == [layer.name for layer in map_layers(rich)]
    marks = folders["findings"].findall("k:Placemark", KML)
    assert len(marks) == len(placed(rich))
    for mark, found in zip(marks, placed(rich), strict=True):
        assert mark.findtext("k:name", namespaces=KML) == found.finding.id
        assert mark.findtext("k:description", namespaces=KML) == found.plain
        place = mark.findtext("k:Point/k:coordinates", namespaces=KML)
        assert [float(x) for x in place.split(",")] == pytest.approx(
            lonlat(rich, found.place.point), abs=A_MILLIMETRE_DEG
        )


def test_gdal_reads_the_kml(rich, folder):
    _, geometry, _ = table(folder / "map.kml", "findings")
    assert len(geometry) == len(placed(rich))


def test_a_job_with_no_origin_has_a_package_in_its_own_metres(rich, tmp_path):
    written = {path.name for path in write_exchange(without_origin(rich), tmp_path)}
    assert not written & {"map.geojson", "map.kml"}
    columns, geometry, meta = table(tmp_path / "exchange/map.gpkg", "findings")
    assert "local metres" in meta["crs"]
    for row, found in enumerate(placed(rich)):
        place = found.place.point
        assert (geometry[row].x, geometry[row].y) == pytest.approx((place.east_m, place.north_m))
    assert len(columns["id"]) == len(placed(rich))


@pytest.mark.parametrize("text", HOSTILE_TEXTS, ids=range(len(HOSTILE_TEXTS)))
def test_hostile_texts_come_back_whole(rich, tmp_path, text):
    """All but control characters, which none of these formats can hold."""
    write_exchange(told(rich, text), tmp_path)
    columns, _, _ = table(tmp_path / "exchange/map.gpkg", "findings")
    assert set(columns["plain"]) == {clean(text)}
    read = json.loads((tmp_path / "exchange/map.geojson").read_text(encoding="utf-8"))
    owners = {f["properties"].get("owner") for f in read["features"]} - {None}
    assert owners == {clean(text)}
    root = ET.parse(tmp_path / "exchange/map.kml").getroot()
    said = root.findtext(".//k:Folder[k:name='findings']//k:description", namespaces=KML)
    assert said.split() == clean(text).split()


@pytest.mark.parametrize("count", [1, 300])
def test_many_findings_or_one_are_all_on_the_map(tmp_path, count):
    appraisal = made.many(count)
    write_exchange(appraisal, tmp_path)
    columns, _, _ = table(tmp_path / "exchange/map.gpkg", "findings")
    assert list(columns["id"]) == [f.finding.id for f in appraisal.findings]


def test_the_band_holds_the_line(rich):
    layers = {layer.name: layer.things for layer in map_layers(rich)}
    band = layers["line_band_95"][0].geometry
    likeliest = layers["line"][0].geometry
    assert likeliest.within(band)


def test_a_line_unknown_in_its_middle_is_drawn_in_pieces(rich):
    path = rich.position.paths[0]
    middle = len(path.points) // 2
    lost = path.points[middle].model_copy(update={"point": None, "covariance": None})
    points = (*path.points[:middle], lost, *path.points[middle + 1 :])
    broken = path.model_copy(update={"points": points})
    position = rich.position.model_copy(update={"paths": (broken,)})
    layers = {x.name: x.things for x in map_layers(rich.model_copy(update={"position": position}))}
    before, after = layers["line"]
    assert before.properties["to_station_m"] < path.points[middle].station_m
    assert after.properties["from_station_m"] > path.points[middle].station_m


def test_an_outline_of_two_corners_is_left_out(rich):
    flat = rich.job.parcels[0].model_copy(update={"ring": rich.job.parcels[0].ring[:2]})
    job = rich.job.model_copy(update={"parcels": (flat,)})
    names = [layer.name for layer in map_layers(rich.model_copy(update={"job": job}))]
    assert "parcels" not in names
