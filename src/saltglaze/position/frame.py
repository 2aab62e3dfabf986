"""The local metric frame and longitude/latitude: used only where data comes in or goes out.

An azimuthal equidistant projection centred on the site (PROJ ``aeqd`` on the WGS 84
ellipsoid) keeps distances and bearings from the origin true; over a few hundred metres
the distortion between other points is below a tenth of a millimetre. Lengths are
scaled from the ellipsoid up to the level of the ground (1 + level / earth radius), so
that a tape and the frame agree at altitude. The frame may be turned by a bearing.
"""

from __future__ import annotations

import math
from typing import Final

from pyproj import Transformer

from saltglaze.errors import InputError
from saltglaze.model.ground import Origin, PlanPoint

EARTH_RADIUS_M: Final = 6_371_000.0
REACH_M: Final = 50_000.0
"""Further than this from the origin a point is taken for a slip, not a drain."""


class LocalFrame:
    """Conversion between a job's local frame and WGS 84 longitude and latitude."""

    def __init__(self, origin: Origin) -> None:
        self._to_geographic = Transformer.from_crs(
            f"+proj=aeqd +lat_0={origin.lat_deg!r} +lon_0={origin.lon_deg!r} +datum=WGS84 +units=m",
            "EPSG:4326",
            always_xy=True,
        )
        self._scale = 1.0 + origin.level_m / EARTH_RADIUS_M
        self._cos = math.cos(math.radians(origin.north_deg))
        self._sin = math.sin(math.radians(origin.north_deg))

    def to_lonlat(self, point: PlanPoint) -> tuple[float, float]:
        """Return (longitude, latitude) in degrees of a point of the local frame."""
        east = (point.east_m * self._cos + point.north_m * self._sin) / self._scale
        north = (point.north_m * self._cos - point.east_m * self._sin) / self._scale
        lon, lat = self._to_geographic.transform(east, north)
        return float(lon), float(lat)

    def from_lonlat(self, lon_deg: float, lat_deg: float) -> PlanPoint:
        """Return the point of the local frame at a longitude and latitude in degrees.

        Raises
        ------
        InputError
            If the coordinates are not on the earth, or lie over 50 km from the origin.
        """
        where = f"longitude {lon_deg}, latitude {lat_deg}"
        if not (-180.0 <= lon_deg <= 180.0 and -90.0 <= lat_deg <= 90.0):
            raise InputError(
                "not a place on the earth",
                where=where,
                expected="longitude -180 to 180 and latitude -90 to 90 degrees",
                mend="check that longitude and latitude are not swapped",
            )
        east, north = self._to_geographic.transform(lon_deg, lat_deg, direction="INVERSE")
        if not math.hypot(east, north) <= REACH_M:
            raise InputError(
                "lies far from the job's origin",
                where=where,
                expected=f"within {REACH_M / 1000:.0f} km",
                mend="check the origin, and that longitude and latitude are not swapped",
            )
        east, north = east * self._scale, north * self._scale
        return PlanPoint(
            east_m=east * self._cos - north * self._sin,
            north_m=north * self._cos + east * self._sin,
        )
