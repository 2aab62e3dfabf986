"""The invented line as it truly lies: centreline, levels, ground, houses, mains.

All of it is made up: the town, the street, the lengths. Plan in metres east and north of
the job's own origin, levels above the job's own datum. The line runs with the flow from
a clean-out in the house to the main in the street.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.base import Estimate
from saltglaze.model.ground import (
    GroundLevel,
    KnownMain,
    Mark,
    Origin,
    OtherUtility,
    Parcel,
    ParcelKind,
    PlanPoint,
)

ORIGIN = Origin(lon_deg=-101.7312, lat_deg=41.9604, level_m=100.0)
"""A place in empty grassland: there is no such town."""

CENTRELINE: tuple[tuple[float, float], ...] = (
    (4.20, 3.80),
    (4.20, -5.20),
    (7.874, -14.069),
    (7.874, -23.50),
)
"""Vertices (east, north): south under the house, 22.5 degrees left, 22.5 degrees right."""

INVERTS: tuple[tuple[float, float], ...] = (
    (0.0, 98.60),
    (4.3, 98.51),
    (9.0, 98.40),
    (15.2, 98.26),
    (18.3, 98.19),
    (20.2, 98.15),
    (21.4, 98.07),
    (22.6, 98.05),
    (23.8, 98.10),
    (25.0, 98.13),
    (28.03, 97.95),
)
"""(station, invert level): a steady fall but for a sag whose lip is at 25.0."""

SAG_LIP_M = 98.13
SAG = (20.5, 25.0)
IRON_END_M = 4.3
REPAIR = (15.2, 18.3)
IRON_BORE_M = 0.1016
CLAY_BORE_M = 0.1524
CLAY_SECTION_M = 0.61
SONDE_ABOVE_INVERT_M = 0.05
TRICKLE_SHARE = 0.035

GROUND: tuple[tuple[float, float], ...] = (
    (-24.0, 99.70),
    (-17.5, 99.80),
    (-8.0, 99.92),
    (0.0, 100.00),
    (12.0, 100.06),
)
"""(north, ground level): the ground falls gently towards the street."""


def line_length_m() -> float:
    """Return the length of the centreline."""
    return float(sum(math.dist(a, b) for a, b in pairwise(CENTRELINE)))


def point_at(station_m: float) -> PlanPoint:
    """Return where the centreline is at a station."""
    left = station_m
    for a, b in pairwise(CENTRELINE):
        leg = math.dist(a, b)
        if left <= leg or b == CENTRELINE[-1]:
            share = left / leg
            return PlanPoint(
                east_m=a[0] + share * (b[0] - a[0]), north_m=a[1] + share * (b[1] - a[1])
            )
        left -= leg
    raise AssertionError("the last leg always returns")


def bearing_at(station_m: float) -> float:
    """Return the bearing of the centreline at a station, degrees clockwise from north."""
    a, b = point_at(max(station_m - 0.01, 0.0)), point_at(station_m + 0.01)
    return math.degrees(math.atan2(b.east_m - a.east_m, b.north_m - a.north_m)) % 360.0


def bends_m() -> tuple[float, ...]:
    """Return the stations of the bends."""
    legs = np.cumsum([math.dist(a, b) for a, b in pairwise(CENTRELINE)])
    return tuple(float(v) for v in legs[:-1])


def invert_at(station_m: float) -> float:
    """Return the invert level at a station."""
    stations, levels = zip(*INVERTS, strict=True)
    return float(np.interp(station_m, stations, levels))


def ground_at(point: PlanPoint) -> float:
    """Return the ground level at a point."""
    norths, levels = zip(*GROUND, strict=True)
    return float(np.interp(point.north_m, norths, levels))


def depth_at(station_m: float) -> float:
    """Return the depth of the invert below ground at a station."""
    return ground_at(point_at(station_m)) - invert_at(station_m)


def water_share_at(stations_m: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the depth of water over the bore: a trickle, and level water in the sag."""
    inverts = np.array([invert_at(float(s)) for s in stations_m])
    held = (stations_m > SAG[0] - 0.1) & (stations_m < SAG[1])
    deep = np.where(held, (SAG_LIP_M - inverts) / CLAY_BORE_M, 0.0)
    return np.asarray(np.maximum(deep, TRICKLE_SHARE))


def _ring(*corners: tuple[float, float]) -> tuple[PlanPoint, ...]:
    return tuple(PlanPoint(east_m=e, north_m=n) for e, n in corners)


HOUSE = _ring((-2.0, 0.0), (8.0, 0.0), (8.0, 11.0), (-2.0, 11.0))

PARCELS: tuple[Parcel, ...] = (
    Parcel(
        id="own",
        kind=ParcelKind.PARCEL,
        owner="Maren Thistlewood",
        ring=_ring((-6.0, -17.5), (9.2, -17.5), (9.2, 18.0), (-6.0, 18.0)),
        sd_m=0.3,
        source="invented parcel map",
    ),
    Parcel(
        id="next_door",
        kind=ParcelKind.PARCEL,
        owner="16 Ferrule Lane",
        ring=_ring((9.2, -17.5), (25.0, -17.5), (25.0, 18.0), (9.2, 18.0)),
        sd_m=0.3,
        source="invented parcel map",
    ),
    Parcel(
        id="lane",
        kind=ParcelKind.RIGHT_OF_WAY,
        owner="Town of Brindlewick",
        ring=_ring((-40.0, -29.5), (50.0, -29.5), (50.0, -17.5), (-40.0, -17.5)),
        sd_m=0.3,
        source="invented parcel map",
    ),
    Parcel(
        id="house",
        kind=ParcelKind.BUILDING,
        owner="Maren Thistlewood",
        ring=HOUSE,
        sd_m=0.1,
        source="taped on site (invented)",
    ),
    Parcel(
        id="house_next_door",
        kind=ParcelKind.BUILDING,
        owner="16 Ferrule Lane",
        ring=_ring((12.0, -1.0), (21.0, -1.0), (21.0, 10.0), (12.0, 10.0)),
        sd_m=0.3,
        source="invented parcel map",
    ),
)

MARKS: tuple[Mark, ...] = (
    Mark(id="SW", name="house corner, front left", point=HOUSE[0], sd_m=0.02),
    Mark(id="SE", name="house corner, front right", point=HOUSE[1], sd_m=0.02),
    Mark(
        id="PED", name="pedestal at the lane", point=PlanPoint(east_m=1.4, north_m=-16.9), sd_m=0.02
    ),
)

MAINS: tuple[KnownMain, ...] = (
    KnownMain(
        id="lane_main",
        points=(PlanPoint(east_m=-40.0, north_m=-23.3), PlanPoint(east_m=50.0, north_m=-23.7)),
        sd_m=0.8,
        depth_m=Estimate.of(1.9, 0.2),
        tap=PlanPoint(east_m=7.1, north_m=-23.5),
        tap_sd_m=1.5,
        source="invented sewer card 31-F",
    ),
)

UTILITIES: tuple[OtherUtility, ...] = (
    OtherUtility(
        id="gas_service",
        kind="gas",
        points=(
            PlanPoint(east_m=12.5, north_m=-20.5),
            PlanPoint(east_m=3.0, north_m=-11.0),
            PlanPoint(east_m=0.5, north_m=0.0),
        ),
        sd_m=0.4,
        depth_m=Estimate.of(0.75, 0.15),
        source="invented mark-out by the gas company",
    ),
)


def ground_levels() -> tuple[GroundLevel, ...]:
    """Return the ground levels that were shot along the way, to a centimetre."""
    shots = (
        (4.2, 1.0),
        (4.2, -3.0),
        (5.6, -8.6),
        (7.0, -12.0),
        (7.9, -16.5),
        (7.9, -20.0),
        (7.9, -23.5),
    )
    made = []
    for number, (east, north) in enumerate(shots, 1):
        point = PlanPoint(east_m=east, north_m=north)
        level = Estimate.of(round(ground_at(point), 2), 0.015)
        made.append(GroundLevel(id=f"G{number}", point=point, level_m=level))
    return tuple(made)
