"""Places on the ground: the local frame, marks, ties, locates, levels, parcels.

Plan positions are metres east and north in a local frame whose origin is kept in
:class:`Origin`; longitude and latitude appear only at the edge. Levels are metres
above the job's own datum.
"""

from __future__ import annotations

from enum import StrEnum

from pydantic import Field

from saltglaze.model.base import Estimate, Record


class Origin(Record):
    """Where the local frame sits on the earth (WGS 84), and how it is turned.

    ``north_deg`` is the bearing of the local north axis, clockwise from true north.
    """

    lon_deg: float = Field(ge=-180.0, le=180.0)
    lat_deg: float = Field(ge=-90.0, le=90.0)
    level_m: float = 0.0
    north_deg: float = 0.0


class PlanPoint(Record):
    """A point in the local frame, metres."""

    east_m: float
    north_m: float


class PlanCovariance(Record):
    """Covariance of a plan point, square metres."""

    east_east_m2: float
    north_north_m2: float
    east_north_m2: float = 0.0


class Mark(Record):
    """A point a tape can be hooked on: a house corner, a hydrant. ``sd_m`` per axis."""

    id: str
    name: str
    point: PlanPoint
    sd_m: float = 0.02
    ground_level_m: Estimate | None = None


class Tie(Record):
    """A tape distance from a mark to a surface point (both ``id``)."""

    mark_id: str
    point_id: str
    distance_m: float
    sd_m: float | None = None
    """``None``: the default for a tape over that distance is used."""
    slope_deg: float | None = None
    """Slope of the tape where it was not held level."""


class FixKind(StrEnum):
    """How a surface point was fixed."""

    GNSS_RTK = "gnss_rtk"
    GNSS_SBAS = "gnss_sbas"
    GNSS_PHONE = "gnss_phone"
    TIES = "ties"
    OFFSET = "offset"
    PICKED = "picked"
    KNOWN = "known"


class Offset(Record):
    """A point set out from a wall line: along it from ``from_mark``, and square off it.

    Positive ``right_m`` lies right of the walk from ``from_mark`` to ``to_mark``.
    """

    from_mark: str
    to_mark: str
    along_m: float
    right_m: float
    sd_m: float = 0.05


class MarkedFeature(StrEnum):
    """Which feature of the transmitter's field was marked on the ground."""

    PEAK_TOTAL = "peak_total"
    PEAK_HORIZONTAL = "peak_horizontal"
    BETWEEN_NULLS = "between_nulls"
    FRONT_NULL = "front_null"
    REAR_NULL = "rear_null"
    FIT = "fit"
    NOT_STATED = "not_stated"


class SignalReading(Record):
    """One reading of the transmitter's field at a plan point and height above ground.

    ``coil`` is along (horizontal, along the pipe), across, vertical or total;
    ``signal`` is relative (any unit, one gain per set), ``sd_share`` its relative error.
    """

    point: PlanPoint
    height_m: float = 0.0
    coil: str = "total"
    signal: float
    sd_share: float = 0.03


class Locate(Record):
    """A surface reading of the camera head's transmitter.

    Which moment of which run it belongs to is told by ``time_s`` (seconds of film),
    ``counter_m`` (what the counter said), or ``station_m`` (known outright); the
    best of these that is given is used. ``fix`` tells how the ground point was
    fixed; for ``ties`` the taped distances name this locate's ``id``.
    """

    id: str
    run_id: str | None = None
    time_s: float | None = None
    counter_m: float | None = None
    station_m: Estimate | None = None
    fix: FixKind
    point: PlanPoint | None = None
    point_sd_m: float | None = None
    """One standard deviation per axis as stated by the receiver; default by kind."""
    offset: Offset | None = None
    depth_m: Estimate | None = None
    """Depth below ground as shown; to the transmitter's centre unless ``depth_to`` says else."""
    depth_to: str = "transmitter"
    marked: MarkedFeature = MarkedFeature.NOT_STATED
    pitch_deg: float | None = None
    null_front_m: float | None = None
    null_rear_m: float | None = None
    """Distances from the marked point to the front and rear null, along the pipe."""
    ghost_front_m: float | None = None
    ghost_rear_m: float | None = None
    """Distances from the marked point to the lesser peaks beyond the nulls."""
    readings: tuple[SignalReading, ...] = ()
    ground_level_m: Estimate | None = None
    note: str = ""


class GroundLevel(Record):
    """A shot ground level at a plan point."""

    id: str
    point: PlanPoint
    level_m: Estimate


class ParcelKind(StrEnum):
    """What an outline on the map is."""

    PARCEL = "parcel"
    RIGHT_OF_WAY = "right_of_way"
    BUILDING = "building"
    EASEMENT = "easement"
    WATER = "water"


class Parcel(Record):
    """An outline on the map: closed ring in the local frame, first point not repeated."""

    id: str
    kind: ParcelKind
    owner: str = ""
    ring: tuple[PlanPoint, ...]
    sd_m: float = 0.5
    """How well the outline is known on the ground."""
    source: str = ""


class KnownMain(Record):
    """The public main as drawn on a map, with where the tap is if a card gives it."""

    id: str
    points: tuple[PlanPoint, ...]
    sd_m: float = 1.0
    depth_m: Estimate | None = None
    tap: PlanPoint | None = None
    tap_sd_m: float | None = None
    source: str = ""


class OtherUtility(Record):
    """A buried service marked or mapped on the site (gas, water, power, comms)."""

    id: str
    kind: str
    points: tuple[PlanPoint, ...]
    sd_m: float = 0.5
    depth_m: Estimate | None = None
    source: str = ""
