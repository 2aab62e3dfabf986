"""Which outline on the map a plan point lies in, and how surely.

Outlines may overlap (a building on a parcel, an easement over it); the narrowest
claim names the ground: building, then right of way, then water, then parcel.
Easements are noted beside, they are no ground of their own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon

from saltglaze.model.ground import Parcel, ParcelKind, PlanCovariance, PlanPoint

_ORDER = (
    ParcelKind.BUILDING,
    ParcelKind.RIGHT_OF_WAY,
    ParcelKind.WATER,
    ParcelKind.PARCEL,
)
_DRAWS = 400
_SEED = 11

OUTSIDE = "outside every outline on the map"


class Ground:
    """The outlines of a job as polygons, in the order in which they name the ground."""

    def __init__(self, parcels: Sequence[Parcel]) -> None:
        usable = [parcel for parcel in parcels if len(parcel.ring) >= 3]
        self.parcels = tuple(parcel for kind in _ORDER for parcel in usable if parcel.kind is kind)
        self.easements = tuple(p for p in usable if p.kind is ParcelKind.EASEMENT)

    @cached_property
    def shapes(self) -> tuple[Polygon, ...]:
        """Polygons of :attr:`parcels`, mended where a ring crosses itself."""
        return tuple(polygon(parcel) for parcel in self.parcels)

    def at(self, point: PlanPoint) -> Parcel | None:
        """Return the outline that names the ground at a point."""
        where = Point(point.east_m, point.north_m)
        for parcel, shape in zip(self.parcels, self.shapes, strict=True):
            if shape.covers(where):
                return parcel
        return None

    def chances(
        self, point: PlanPoint, covariance: PlanCovariance | None
    ) -> dict[str | None, float]:
        """Return the chance of each outline (by id; ``None`` for outside all).

        The point is drawn from its covariance; each outline's own margin is drawn as
        a shift of the point as a whole against that outline.
        """
        draws = _draw(point, covariance, max((p.sd_m for p in self.parcels), default=0.0))
        names: NDArray[np.object_] = np.full(len(draws), None, dtype=object)
        for parcel, shape in reversed(list(zip(self.parcels, self.shapes, strict=True))):
            names[shapely.contains_xy(shape, draws[:, 0], draws[:, 1])] = parcel.id
        return {name: count / len(draws) for name, count in Counter(names).items()}

    def by_id(self, ground_id: str | None) -> Parcel | None:
        """Return an outline by its id."""
        return next((parcel for parcel in self.parcels if parcel.id == ground_id), None)


def polygon(parcel: Parcel) -> Polygon:
    """Return an outline as a valid polygon."""
    shape = Polygon([(point.east_m, point.north_m) for point in parcel.ring])
    if shape.is_valid:
        return shape
    mended = shapely.make_valid(shape)
    parts = [g for g in getattr(mended, "geoms", [mended]) if isinstance(g, Polygon)]
    return max(parts, key=lambda part: part.area) if parts else Polygon()


def words(parcel: Parcel | None) -> str:
    """Name a piece of ground for a reader."""
    if parcel is None:
        return OUTSIDE
    name = f"of {parcel.owner}" if parcel.owner else parcel.id
    return f"{_KIND_WORDS[parcel.kind]} {name}"


_KIND_WORDS = {
    ParcelKind.PARCEL: "parcel",
    ParcelKind.RIGHT_OF_WAY: "street right of way",
    ParcelKind.BUILDING: "building",
    ParcelKind.EASEMENT: "easement",
    ParcelKind.WATER: "water",
}


def _draw(
    point: PlanPoint, covariance: PlanCovariance | None, outline_sd_m: float
) -> NDArray[np.float64]:
    spread = np.eye(2) * outline_sd_m**2
    if covariance is not None:
        spread = spread + np.array(
            [
                [covariance.east_east_m2, covariance.east_north_m2],
                [covariance.east_north_m2, covariance.north_north_m2],
            ]
        )
    rng = np.random.default_rng(_SEED)
    values, vectors = np.linalg.eigh(spread)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    standard = rng.standard_normal((_DRAWS, 2))
    middle = np.array([point.east_m, point.north_m])
    return np.asarray(middle + standard @ root.T, dtype=np.float64)
