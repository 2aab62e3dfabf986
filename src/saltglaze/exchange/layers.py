"""What goes on a map, as layers in the local frame; every map format is written from these."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Final, NamedTuple

import numpy as np
from shapely import LineString, Point, Polygon
from shapely.affinity import rotate, scale, translate
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from saltglaze.exchange.plain_text import clean
from saltglaze.model.appraisal import (
    Appraisal,
    AppraisedFinding,
    Dig,
    Ellipse,
    FindingPlace,
    Path,
    PathPoint,
)
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Clock
from saltglaze.model.ground import PlanCovariance, PlanPoint
from saltglaze.position.ellipse import ellipse_of

Value = str | float | int | None


class Thing(NamedTuple):
    """One thing on the map: geometry in local metres, and what is said of it.

    Texts carry no control characters; ``None`` is what is not known.
    """

    geometry: BaseGeometry
    properties: dict[str, Value]


class Layer(NamedTuple):
    """Things of one kind, all of one geometry type and with the same properties."""

    name: str
    geometry_type: str
    things: tuple[Thing, ...]


def map_layers(appraisal: Appraisal) -> tuple[Layer, ...]:
    """Return every layer that has something in it, ground first, digs last."""
    layers = (
        Layer("parcels", "Polygon", tuple(_parcels(appraisal))),
        Layer("mains", "LineString", tuple(_mains(appraisal))),
        Layer("utilities", "LineString", tuple(_utilities(appraisal))),
        Layer("marks", "Point", tuple(_marks(appraisal))),
        Layer("line_band_95", "Polygon", tuple(_bands(appraisal))),
        Layer("line", "LineString", tuple(_lines(appraisal.position.paths))),
        Layer("locates", "Point", tuple(_locates(appraisal))),
        Layer("findings", "Point", tuple(_findings(appraisal))),
        Layer("digs", "Point", tuple(_digs(appraisal))),
        Layer("dig_ellipses_95", "Polygon", tuple(_ellipses(appraisal))),
    )
    return tuple(_cleaned(layer) for layer in layers if layer.things)


def _cleaned(layer: Layer) -> Layer:
    return layer._replace(things=tuple(_clean_thing(thing) for thing in layer.things))


def _clean_thing(thing: Thing) -> Thing:
    said = thing.properties.items()
    return thing._replace(
        properties={key: clean(v) if isinstance(v, str) else v for key, v in said}
    )


def transformed(
    layers: Iterable[Layer], move: Callable[[PlanPoint], tuple[float, float]]
) -> tuple[Layer, ...]:
    """Return the layers with every vertex moved, for example to longitude and latitude."""
    from shapely import transform

    def moved(vertices: np.ndarray) -> np.ndarray:
        return np.array([move(PlanPoint(east_m=e, north_m=n)) for e, n in vertices[:, :2]])

    return tuple(
        layer._replace(
            things=tuple(t._replace(geometry=transform(t.geometry, moved)) for t in layer.things)
        )
        for layer in layers
    )


def _parcels(appraisal: Appraisal) -> Iterator[Thing]:
    for parcel in appraisal.job.parcels:
        if len(parcel.ring) < 3:
            continue
        yield Thing(
            Polygon([_xy(p) for p in parcel.ring]),
            {
                "id": parcel.id,
                "kind": parcel.kind.value,
                "owner": parcel.owner or None,
                "sd_m": parcel.sd_m,
            },
        )


def _mains(appraisal: Appraisal) -> Iterator[Thing]:
    for main in appraisal.job.mains:
        if len(main.points) > 1:
            yield Thing(
                LineString([_xy(p) for p in main.points]),
                {"id": main.id, "sd_m": main.sd_m, "source": main.source or None},
            )


def _utilities(appraisal: Appraisal) -> Iterator[Thing]:
    for other in appraisal.job.utilities:
        if len(other.points) > 1:
            yield Thing(
                LineString([_xy(p) for p in other.points]),
                {
                    "id": other.id,
                    "kind": other.kind,
                    "sd_m": other.sd_m,
                    **_numbers("depth", other.depth_m),
                },
            )


def _marks(appraisal: Appraisal) -> Iterator[Thing]:
    for mark in appraisal.job.marks:
        yield Thing(Point(_xy(mark.point)), {"id": mark.id, "name": mark.name})


def _lines(paths: Sequence[Path]) -> Iterator[Thing]:
    """Each hypothesis of the line; one that is unknown in its middle comes in pieces."""
    for path in paths:
        for piece in _known_pieces(path):
            places = [_xy(p.point) for p in piece if p.point is not None]
            if len(places) > 1:
                yield Thing(LineString(places), _line_properties(path, piece))


def _line_properties(path: Path, piece: Sequence[PathPoint]) -> dict[str, Value]:
    return {
        "name": path.name,
        "weight": round(path.weight, 3),
        "from_station_m": round(piece[0].station_m, 3),
        "to_station_m": round(piece[-1].station_m, 3),
        "because": path.because or None,
    }


def _known_pieces(path: Path) -> Iterator[list[PathPoint]]:
    for known, points in itertools.groupby(path.points, key=lambda p: p.point is not None):
        if known:
            yield list(points)


def _bands(appraisal: Appraisal) -> Iterator[Thing]:
    """The 95 % band of the likeliest path: its points' ellipses, each hulled with the next."""
    for path in appraisal.position.paths[:1]:
        rounds = [_rounds(piece) for piece in _known_pieces(path)]
        band = unary_union([hull for ellipses in rounds for hull in _hulls(ellipses)])
        for part in getattr(band, "geoms", [band]):
            if isinstance(part, Polygon) and not part.is_empty:
                yield Thing(part, {"name": path.name, "level": 0.95})


def _rounds(piece: Sequence[PathPoint]) -> list[Polygon]:
    known = ((p.point, p.covariance) for p in piece)
    return [_outline(at, ellipse_of(cov, 0.95)) for at, cov in known if at and cov]


def _hulls(rounds: Sequence[Polygon]) -> Iterator[BaseGeometry]:
    for one, following in itertools.pairwise(rounds):
        yield unary_union([one, following]).convex_hull


def _locates(appraisal: Appraisal) -> Iterator[Thing]:
    for point in appraisal.position.surface:
        yield Thing(
            Point(_xy(point.point)),
            {
                "id": point.locate_id,
                **_numbers("station", point.station_m),
                **_numbers("depth", point.depth_m),
                "sd_m": _sd(point.covariance),
                "misfit_m": _rounded(point.misfit_m),
                "used": "yes" if point.used else "no",
                "note": point.note or None,
            },
        )


def _findings(appraisal: Appraisal) -> Iterator[Thing]:
    for found in appraisal.findings:
        if found.finding.stands and found.place.point is not None:
            yield Thing(Point(_xy(found.place.point)), finding_properties(found))


def finding_properties(found: AppraisedFinding) -> dict[str, Value]:
    """Return what is said of a finding in a table or on a map; metres, shares, hours."""
    facts, place, grade = found.finding.facts, found.place, found.grade
    clock = place.clock
    return {
        "id": found.finding.id,
        "feature": facts.feature.value,
        "kind": facts.kind,
        "certainty": facts.certainty.value,
        **_numbers("station", place.station_m),
        **_numbers("end_station", place.end_station_m),
        **_hours("clock", clock),
        "clock_view": clock.view.value if clock and clock.view else None,
        **_hours("other_view", place.clock_other_view),
        "all_round": "yes" if clock and clock.all_round else None,
        **_numbers("depth", place.depth_m),
        "sd_east_m": _root(place.covariance.east_east_m2) if place.covariance else None,
        "sd_north_m": _root(place.covariance.north_north_m2) if place.covariance else None,
        "code": found.code.main,
        "structure": grade.structure,
        "service": grade.service,
        "tightness": grade.tightness,
        "owner": found.owner,
        "plain": found.plain,
        "unknown_because": _unknown(place),
    }


def _hours(name: str, clock: Clock | None) -> dict[str, Value]:
    """Return the hours of a clock position; the soffit is 12, not 0."""
    if clock is None or clock.all_round:
        return {f"{name}_from_h": None, f"{name}_to_h": None}
    return {
        f"{name}_from_h": clock.from_h or 12.0,
        f"{name}_to_h": None if clock.to_h is None else clock.to_h or 12.0,
    }


def _unknown(place: FindingPlace) -> str | None:
    """Return why a part of the place is not known, each reason once."""
    depth = place.depth_m.unknown_because if place.depth_m else None
    station = place.station_m.unknown_because
    reasons = (station, place.point_unknown_because, depth, place.clock_unknown_because)
    return "; ".join(dict.fromkeys(reason for reason in reasons if reason)) or None


def _digs(appraisal: Appraisal) -> Iterator[Thing]:
    for dig in appraisal.position.digs:
        yield Thing(Point(_xy(dig.point)), _dig_properties(dig))


def _dig_properties(dig: Dig) -> dict[str, Value]:
    return {
        "finding": dig.finding_id,
        **_numbers("depth", dig.depth_m),
        "trench_length_m": round(dig.trench_length_m, 2),
        "trench_bearing_deg": round(dig.trench_bearing_deg, 1),
        "ties": "; ".join(f"{t.distance_m:.2f} m from {t.mark_name}" for t in dig.ties) or None,
        "ground": dig.ground or None,
    }


def _ellipses(appraisal: Appraisal) -> Iterator[Thing]:
    for dig in appraisal.position.digs:
        yield Thing(_outline(dig.point, dig.ellipse95), {"finding": dig.finding_id, "level": 0.95})


CORNERS: Final = 12
"""Corners a quarter circle of an ellipse's outline is drawn with."""


def _outline(point: PlanPoint, ellipse: Ellipse) -> Polygon:
    circle = Point(0.0, 0.0).buffer(1.0, quad_segs=CORNERS)
    # Axes below a millimetre would make an outline without an area.
    flat = scale(circle, max(ellipse.semi_minor_m, 1e-3), max(ellipse.semi_major_m, 1e-3))
    turned = rotate(flat, -ellipse.bearing_deg, origin=(0.0, 0.0))
    return translate(turned, point.east_m, point.north_m)


def _xy(point: PlanPoint) -> tuple[float, float]:
    return (point.east_m, point.north_m)


def _numbers(name: str, estimate: Estimate | None) -> dict[str, Value]:
    if estimate is None or estimate.value is None:
        return {f"{name}_m": None, f"{name}_sd_m": None}
    return {f"{name}_m": _rounded(estimate.value), f"{name}_sd_m": _rounded(estimate.spread)}


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def _root(variance_m2: float) -> float:
    return round(math.sqrt(max(variance_m2, 0.0)), 3)


def _sd(covariance: PlanCovariance) -> float:
    return _root((covariance.east_east_m2 + covariance.north_north_m2) / 2.0)
