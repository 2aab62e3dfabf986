"""Cautions for a dig: one-call, services nearby, deep trenches, traffic and outlines.

Usual cautions, no substitute for local codes, the one-call service or licensed practice.
Figures: tolerance zone of the facility's width and 18 in on each side (Common Ground
Alliance Best Practice 5.19, confirmed; some states ask 24 in, confirmed); notice of two
to three business days (confirmed); protective system from 5 ft of depth unless in stable
rock (29 CFR 1926.652, from memory); competent person and a way out within 25 ft from 4 ft
(29 CFR 1926.651, from memory).
"""

from __future__ import annotations

import math
from typing import Final

import shapely

from saltglaze.model.base import Z95, Estimate
from saltglaze.model.ground import OtherUtility, ParcelKind, PlanCovariance, PlanPoint
from saltglaze.model.job import Job
from saltglaze.position.ellipse import ellipse_of
from saltglaze.units import M_PER_FT, M_PER_IN

ZONE_M: Final = 18.0 * M_PER_IN
SHORED_FROM_M: Final = 5.0 * M_PER_FT
WAY_OUT_FROM_M: Final = 4.0 * M_PER_FT
TRENCH_HALF_WIDTH_M: Final = 0.45
"""Half the width of a hand-dug repair trench: common practice, no source."""
SERVICE_HALF_WIDTH_M: Final = 0.1
"""Half the width of a service whose size is not recorded: assumption."""


def cautions_for(
    job: Job,
    middle: PlanPoint,
    bearing_deg: float,
    length_m: float,
    depth: Estimate,
    covariance: PlanCovariance,
) -> tuple[str, ...]:
    """Return the cautions for one trench, the general ones first."""
    loose_m = ellipse_of(covariance, 0.95).semi_major_m
    trench = trench_outline(middle, bearing_deg, length_m, loose_m)
    return (
        _one_call(job),
        "Private services beyond the meter are usually not marked by the one-call service: "
        "ask the owner and have them located.",
        *(_service_caution(s) for s in job.utilities if _within_zone(s, trench)),
        *_depth_cautions(depth),
        *_ground_cautions(job, trench),
    )


def trench_outline(
    middle: PlanPoint, bearing_deg: float, length_m: float, loose_m: float = 0.0
) -> shapely.Polygon:
    """Return the outline of a trench, grown across the line by how loosely it is placed."""
    angle = math.radians(bearing_deg)
    east, north = math.sin(angle) * length_m / 2.0, math.cos(angle) * length_m / 2.0
    axis = shapely.LineString(
        [
            (middle.east_m - east, middle.north_m - north),
            (middle.east_m + east, middle.north_m + north),
        ]
    )
    return axis.buffer(TRENCH_HALF_WIDTH_M + loose_m, cap_style="flat")


def _one_call(job: Job) -> str:
    number = job.place.one_call
    call = f"Call {number} (one-call)" if number else "Call the local one-call service"
    return (
        f"{call} two to three business days before any digging, wait for the marks, and dig by "
        "hand within 18 in (46 cm) of a mark's edge, more where the state asks for it. Marks "
        "tell no depth."
    )


def _within_zone(service: OtherUtility, trench: shapely.Polygon) -> bool:
    if not service.points:
        return False
    places = [(p.east_m, p.north_m) for p in service.points]
    line = shapely.LineString(places) if len(places) > 1 else shapely.Point(places[0])
    reach = ZONE_M + SERVICE_HALF_WIDTH_M + Z95 * service.sd_m
    return bool(trench.distance(line) <= reach)


def _service_caution(service: OtherUtility) -> str:
    deep = ""
    if service.depth_m is not None and service.depth_m.value is not None:
        deep = f", recorded about {service.depth_m.value:.1f} m deep"
    gas = "gas" in service.kind.lower()
    more = " Have the gas company expose it before any machine digs." if gas else ""
    return (
        f"{service.kind} {service.id}{deep} may lie within the tolerance zone of this trench: "
        f"expose it by hand or vacuum first.{more}"
    )


def _depth_cautions(depth: Estimate) -> list[str]:
    if depth.value is None:
        return [
            "Depth is not known: treat the trench as deeper than 5 ft (1.5 m) until it is, "
            "with a protective system and a competent person (29 CFR 1926 Subpart P, or the "
            "local rule)."
        ]
    deepest = depth.interval95[1]
    said = []
    if deepest >= SHORED_FROM_M:
        said.append(
            f"May be {deepest:.1f} m deep: from 5 ft (1.5 m) a trench needs a protective system "
            "(slope, shore or shield) chosen by a competent person, and less deep ones where the "
            "ground may cave in (29 CFR 1926 Subpart P, or the local rule)."
        )
    if deepest >= WAY_OUT_FROM_M:
        said.append("From 4 ft (1.2 m) keep a ladder or ramp within 25 ft of the people in it.")
    return said


def _ground_cautions(job: Job, trench: shapely.Polygon) -> list[str]:
    said = []
    for parcel in job.parcels:
        if len(parcel.ring) < 3:
            continue
        ring = shapely.Polygon([(p.east_m, p.north_m) for p in parcel.ring])
        if not ring.is_valid or ring.distance(trench) > Z95 * parcel.sd_m:
            continue
        if parcel.kind is ParcelKind.RIGHT_OF_WAY:
            said.append("Reaches into the right of way: a street opening permit may be needed.")
        if parcel.kind is ParcelKind.BUILDING:
            said.append("Close to a building: have the footing looked at before digging beside it.")
        if parcel.kind is ParcelKind.EASEMENT:
            said.append("Reaches into an easement: its holder may have to agree.")
    return list(dict.fromkeys(said))
