"""The pipe itself: what it is made of, how wide, what joins it, what drains into it."""

from __future__ import annotations

from enum import StrEnum

from saltglaze.model.base import Estimate, Record


class Material(StrEnum):
    """Pipe materials met in private drains."""

    CLAY = "clay"
    CAST_IRON = "cast_iron"
    DUCTILE_IRON = "ductile_iron"
    PVC = "pvc"
    ABS = "abs"
    POLYETHYLENE = "polyethylene"
    POLYPROPYLENE = "polypropylene"
    CONCRETE = "concrete"
    ASBESTOS_CEMENT = "asbestos_cement"
    BITUMINISED_FIBRE = "bituminised_fibre"
    BRICK = "brick"
    STEEL = "steel"
    COPPER = "copper"
    LEAD = "lead"
    CURED_IN_PLACE_LINER = "cured_in_place_liner"


class Service(StrEnum):
    """What the line carries."""

    SEWER = "sewer"
    STORM = "storm"
    COMBINED = "combined"


class FactSource(StrEnum):
    """Where a fact about the line came from, best first.

    What a camera sees today outranks what a record drew long ago: repairs are made and
    never drawn.
    """

    MEASURED = "measured"
    SEEN = "seen"
    RECORD = "record"
    SPOKEN = "spoken"
    OWNER = "owner"
    ASSUMED = "assumed"


class Segment(Record):
    """A stretch of one material and diameter, stations along the centreline in metres.

    ``end_m`` is ``None`` where the segment runs to the end of what was seen.
    ``section_length_m`` is the laying length from joint to joint.
    """

    start_m: Estimate
    end_m: Estimate | None = None
    material: Material | None = None
    diameter_m: float | None = None
    section_length_m: float | None = None
    source: FactSource
    note: str = ""


class Access(Record):
    """A way into the line, with its station where known."""

    name: str
    kind: str
    """clean-out, removed toilet, roof vent, manhole, trap, open pipe, main."""
    station_m: Estimate | None = None
    invert_depth_m: Estimate | None = None
    note: str = ""


class KnownLandmark(Record):
    """Something at a station known from a record or a tape, which checks the counter.

    ``feature`` is the finding that shows it in the picture (a diameter change, a
    clean-out, the main).
    """

    name: str
    feature: str
    station_m: Estimate
    source: FactSource


class FixtureCount(Record):
    """How many of one kind of fixture drain into the line. Kinds: see flow/tables."""

    kind: str
    count: int


class Line(Record):
    """One pipe run between two accesses, or from an access to where the camera stopped."""

    id: str
    name: str = ""
    service: Service = Service.SEWER
    segments: tuple[Segment, ...] = ()
    accesses: tuple[Access, ...] = ()
    landmarks: tuple[KnownLandmark, ...] = ()
    fixtures: tuple[FixtureCount, ...] = ()
    dwellings: int | None = None
    slope_required: float | None = None
    """Fall per length the local code asks for (0.0208 is 1/4 in per ft), where stated."""
    year_laid: int | None = None
    soil: str | None = None
    """Trench soil class where known: rock, A, B, C."""
    length_m: Estimate | None = None
    """Whole length where a record or tape gives it."""
