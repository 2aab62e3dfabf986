# ruff: noqa: E501, N802, N803, N806
"""Invented appraisals for the papers' tests: a rich one, and the odd ones.

All places, people and firms are made up.
"""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path as FilePath

import numpy as np
from PIL import Image

from saltglaze.model.appraisal import (
    Appraisal,
    AppraisedFinding,
    Change,
    ChangeKind,
    Check,
    Cleaning,
    Code,
    Conflict,
    CostLine,
    Dig,
    Drainage,
    Ellipse,
    Fall,
    FindingGrade,
    FindingPlace,
    LineGrade,
    LineSegment,
    NextMeasurement,
    NotSeen,
    Ownership,
    PassReview,
    Path,
    PathPoint,
    Position,
    Reason,
    Remedy,
    RemedyChoice,
    RemedyKind,
    ReturnAdvice,
    Sag,
    StageState,
    StationAt,
    Stationing,
    Still,
    Stretch,
    StretchFlow,
    SurfacePoint,
    TapeTie,
    TapQuestion,
    Unspoken,
    Verdict,
)
from saltglaze.model.base import Estimate
from saltglaze.model.finding import (
    Certainty,
    Clock,
    DraftedBy,
    Edit,
    Evidence,
    Facts,
    Feature,
    Finding,
)
from saltglaze.model.frame import FilmFacts
from saltglaze.model.ground import (
    KnownMain,
    Mark,
    Origin,
    OtherUtility,
    Parcel,
    ParcelKind,
    PlanCovariance,
    PlanPoint,
)
from saltglaze.model.job import (
    History,
    Job,
    OwnershipRule,
    Party,
    Place,
    Price,
    PriceList,
    PriorVisit,
    Service,
)
from saltglaze.model.line import Access, FactSource, Line, Material
from saltglaze.model.run import Direction, JetPass, LengthUnit, Run
from saltglaze.model.track import CounterTrack, JointPassage, SightTrack
from saltglaze.position.clock import from_behind

E = Estimate.of
FT = 0.3048
WITH = Direction.WITH_FLOW


def _course(length_m: float = 25.0) -> tuple[tuple[float, float, float], ...]:
    """(station, east, north) of a line that leaves a house, bends, and meets a main."""
    corners = np.array([[6.0, 14.0], [12.0, 8.5], [16.0, 2.0], [16.8, -6.8]])
    legs = np.hypot(*np.diff(corners, axis=0).T)
    at = np.concatenate(([0.0], np.cumsum(legs)))
    at *= length_m / at[-1]
    k = length_m / legs.sum()
    stations = np.linspace(0.0, length_m, 51)
    return tuple(
        (
            float(s),
            float(k * np.interp(s, at, corners[:, 0])),
            float(k * np.interp(s, at, corners[:, 1])),
        )
        for s in stations
    )


def _path_points(length_m: float, levels: bool = True) -> tuple[PathPoint, ...]:
    points = []
    for s, e, n in _course(length_m):
        grow = 0.15 + 0.35 * math.sin(math.pi * s / length_m)
        ground = 100.2 - 0.012 * s - 0.25 * math.exp(-(((s - 0.7 * length_m) / 3.0) ** 2))
        dip = 0.07 * math.exp(-(((s - 0.55 * length_m) / (0.05 * length_m)) ** 2))
        invert = 99.1 - 0.018 * s - dip
        water = 99.1 - 0.018 * 0.61 * length_m if 0.48 * length_m < s < 0.62 * length_m else None
        points.append(
            PathPoint(
                station_m=s,
                point=PlanPoint(east_m=e, north_m=n),
                covariance=PlanCovariance(
                    east_east_m2=grow**2,
                    north_north_m2=(0.7 * grow) ** 2,
                    east_north_m2=0.1 * grow**2,
                ),
                invert_level_m=E(invert, 0.04 + 0.05 * grow) if levels else None,
                ground_level_m=E(ground, 0.03) if levels else None,
                depth_m=E(ground - invert, 0.1 + 0.1 * grow) if levels else None,
                water_level_m=water if levels else None,
            )
        )
    return tuple(points)


def place_on(points: tuple[PathPoint, ...], station: float | None) -> PathPoint | None:
    if station is None or not points:
        return None
    return min(points, key=lambda p: abs(p.station_m - station))


def finding(
    ident: str,
    feature: Feature,
    station: float | None,
    *,
    end: float | None = None,
    kind: str | None = None,
    clock: Clock | None = None,
    grade: int | None = None,
    sd: float = 0.25,
    points: tuple[PathPoint, ...] = (),
    words: tuple[str, ...] = (),
    plain: str = "",
    owner: str | None = None,
    **facts: object,
) -> AppraisedFinding:
    near = place_on(points, station)
    draft = Facts(feature=feature, kind=kind, clock=clock, **facts)
    start_s = 10.0 + 6.0 * (station or 0.0)
    return AppraisedFinding(
        finding=Finding(
            id=ident,
            draft=draft,
            evidence=Evidence(
                drafted_by=DraftedBy.NARRATION, run_id="run-1", words=words, frames_s=(start_s,)
            ),
            start_s=start_s,
            end_s=start_s + 5,
        ),
        place=FindingPlace(
            finding_id=ident,
            station_m=E(station, sd)
            if station is not None
            else Estimate.unknown("the counter was hidden and no words give a distance"),
            end_station_m=None if end is None else E(end, sd),
            clock=clock,
            clock_other_view=from_behind(clock),
            clock_unknown_because=None
            if clock
            else "the roll of the picture was not readable here",
            point=near.point if near else None,
            covariance=near.covariance if near else None,
            depth_m=near.depth_m if near else None,
            point_unknown_because=None if near else "no surface locate ties the line to the ground",
        ),
        code=Code(
            main="BAB" if feature is Feature.CRACK else "BBA",
            ch1="A",
            clock1_h=3,
            joint=False,
            status="memory",
        ),
        grade=FindingGrade(
            structure=grade if feature not in (Feature.ROOTS, Feature.SAG) else None,
            service=grade if feature in (Feature.ROOTS, Feature.SAG) else None,
            worst=grade,
            reasons=(
                Reason(
                    because=f"{feature.replace('_', ' ')} of this size takes grade {grade}",
                    rule="size against the table of grades",
                    source="common practice, no source",
                ),
            )
            if grade
            else (),
            ungraded_because=None if grade else "a feature of the line, not a fault",
        ),
        owner=owner,
        plain=plain,
    )


def _findings(points: tuple[PathPoint, ...], length_m: float) -> tuple[AppraisedFinding, ...]:
    L = length_m
    roots = "Roots have grown in through a joint and fill about a third of the pipe."
    return (
        finding(
            "f-start", Feature.START, 0.0, points=points, sd=0.05, plain="The camera went in here."
        ),
        finding(
            "f-cast",
            Feature.SURFACE_DAMAGE,
            0.06 * L,
            end=0.14 * L,
            kind="corroded",
            grade=2,
            points=points,
            clock=Clock(from_h=4, to_h=8, view=WITH),
            plain="The iron pipe is rusted along the bottom.",
            owner="M. Ashgrove",
            words=("bit of rust along the bottom there",),
            round_share=E(0.33, 0.08),
        ),
        finding(
            "f-change",
            Feature.MATERIAL_CHANGE,
            0.16 * L,
            points=points,
            material=Material.CAST_IRON,
            material_after=Material.CLAY,
            clock=Clock(from_h=0, all_round=True),
            plain="The pipe changes from cast iron to clay.",
        ),
        finding(
            "f-roots1",
            Feature.ROOTS,
            0.31 * L,
            kind="fine",
            grade=3,
            points=points,
            clock=Clock(from_h=10, to_h=2, view=WITH, because="roll"),
            at_joint=True,
            section_share=Estimate.within(0.15, 0.05, 0.25),
            plain="Fine roots hang from a joint.",
            owner="M. Ashgrove",
            words=("some feeders coming in up top",),
        ),
        finding(
            "f-tap",
            Feature.TAP,
            0.4 * L,
            kind="broken_in",
            grade=None,
            points=points,
            clock=Clock(from_h=2, view=WITH),
            active=None,
            capped=False,
            plain="Another pipe joins here. Nobody knows yet whom it serves.",
            words=("may be an old inspection opening, I reckon",),
            certainty=Certainty.SUPPOSED,
        ),
        finding(
            "f-sag",
            Feature.SAG,
            0.48 * L,
            end=0.62 * L,
            grade=3,
            points=points,
            clock=Clock(from_h=6, because="gravity"),
            water_share=E(0.45, 0.08),
            plain="The pipe sags here and water stands in it.",
            owner="M. Ashgrove",
        ),
        finding(
            "f-offset",
            Feature.OFFSET_JOINT,
            0.66 * L,
            grade=4,
            points=points,
            clock=Clock(from_h=6, view=WITH),
            width_m=E(0.02, 0.005),
            at_joint=True,
            plain="One pipe has dropped below the next by about a fifth of its width.",
            owner="M. Ashgrove",
            words=("that's an offset, good three quarter inch",),
        ),
        finding(
            "f-roots2",
            Feature.ROOTS,
            0.7 * L,
            kind="mass",
            grade=4,
            points=points,
            sd=0.5,
            clock=Clock(from_h=0, all_round=True),
            section_share=Estimate.within(0.35, 0.25, 0.5),
            at_joint=True,
            plain=roots,
            owner="M. Ashgrove",
            words=("big root ball here, we'll have to cut that", "lots of roots"),
        ),
        finding(
            "f-break",
            Feature.BREAK,
            0.84 * L,
            grade=5,
            points=points,
            clock=Clock(from_h=2, to_h=4, view=WITH),
            soil_visible=True,
            length_m=E(0.3, 0.1),
            plain="A piece of the pipe wall is missing and soil shows through the gap.",
            owner="City of Lower Fennel",
            words=("there's a chunk gone out of the side, you can see dirt",),
        ),
        finding(
            "f-main",
            Feature.END,
            L,
            points=points,
            sd=0.6,
            plain="The line meets the public sewer.",
        ),
    )


def _gap(point: PlanPoint, east: float, north: float) -> float:
    return math.hypot(point.east_m - east, point.north_m - north)


def _reason(because: str, rule: str = "", source: str = "") -> Reason:
    return Reason(because=because, rule=rule, source=source)


def _remedies(length_m: float) -> RemedyChoice:
    dig_lines = (
        CostLine(
            item="Open the street and the trench, shored",
            quantity=1,
            unit="each",
            price=6200,
            cost_low=4800,
            cost=6200,
            cost_high=9000,
            source="invented price list, 2026",
        ),
        CostLine(
            item="Replace 6 in clay pipe",
            quantity=2.4,
            unit="m",
            price=420,
            cost_low=800,
            cost=1008,
            cost_high=1300,
            source="invented price list, 2026",
        ),
        CostLine(
            item="Camera run after the work",
            quantity=1,
            unit="visit",
            price=325,
            cost_low=280,
            cost=325,
            cost_high=400,
            source="invented price list, 2026",
        ),
    )
    return RemedyChoice(
        currency="USD",
        price_list="Invented price list",
        horizon_years=50,
        options=(
            Remedy(
                kind=RemedyKind.SPOT_DIG,
                title="Dig and replace the broken piece, cut the roots",
                feasible=True,
                why=(_reason("one break, open to the soil, cannot be lined over"),),
                from_m=0.8 * length_m,
                to_m=0.88 * length_m,
                fixes=("f-break", "f-roots2", "f-offset"),
                leaves=("f-sag", "f-roots1"),
                first_cost=Estimate.within(7533, 5880, 10700),
                whole_life_cost=Estimate.within(14200, 11000, 19500),
                yearly_cost=Estimate.within(550, 430, 760),
                lines=dig_lines,
                life_years=50,
                assumptions=("The break does not reach past the curb.", "No rock in the trench."),
                rank=1,
                size_note="trench about 8 ft long",
            ),
            Remedy(
                kind=RemedyKind.FULL_LINER,
                title="Line the whole pipe from the clean-out",
                feasible=False,
                why=(
                    _reason("a gap in the wall and a dropped joint must be mended before a liner"),
                ),
                obstacles=("break with soil showing",),
                first_cost=Estimate.within(9800, 8000, 12500),
                whole_life_cost=Estimate.within(12100, 9800, 15800),
                yearly_cost=Estimate.within(470, 380, 610),
                life_years=50,
                rank=2,
                fixes=("f-roots1", "f-roots2"),
                leaves=("f-sag", "f-break"),
                from_m=0.0,
                to_m=length_m,
            ),
            Remedy(
                kind=RemedyKind.KEEP_MAINTAINING,
                title="Go on clearing the line when it blocks",
                feasible=True,
                why=(_reason("possible, but the break grows"),),
                first_cost=E(650, 60),
                whole_life_cost=Estimate.within(24800, 18000, 34000),
                yearly_cost=Estimate.within(960, 700, 1320),
                rank=3,
                leaves=("f-break",),
            ),
            Remedy(
                kind=RemedyKind.BURST_AND_REPLACE,
                title="Burst the old pipe and pull in a new one",
                feasible=None,
                why=(_reason("the gas line crosses within 2 ft; its depth is not known"),),
                first_cost=Estimate.unknown("the price file has no price for it"),
                whole_life_cost=None,
                rank=None,
            ),
        ),
        chosen=RemedyKind.SPOT_DIG,
        plain="Dig up and replace the broken piece near the curb, and cut the roots first.",
        by=dt.date(2026, 12, 19),
        urgency="within weeks",
        would_change_it=(
            "If the break turns out longer than 6 ft, a new line costs less over the years.",
        ),
        reasons=(
            _reason(
                "soil washes into the pipe through the break",
                "grade 5: act now",
                "common practice, no source",
            ),
            _reason("lowest cost over 50 years among the options that deal with the break"),
        ),
    )


def _segments(L: float) -> tuple[LineSegment, ...]:
    return (
        LineSegment(
            start_m=E(0, 0),
            end_m=E(0.16 * L, 0.2),
            material=Material.CAST_IRON,
            diameter_m=0.1016,
            section_length_m=1.524,
            source=FactSource.SEEN,
        ),
        LineSegment(
            start_m=E(0.16 * L, 0.2),
            end_m=E(L, 0.6),
            material=Material.CLAY,
            diameter_m=0.1524,
            section_length_m=0.9144,
            source=FactSource.SPOKEN,
        ),
    )


def _job(points: tuple[PathPoint, ...], L: float) -> Job:
    def P(e: float, n: float) -> PlanPoint:
        return PlanPoint(east_m=e, north_m=n)

    return Job(
        id="fennel-12",
        title="12 Alder Row",
        date=dt.date(2026, 10, 6),
        invented=True,
        owner=Party(name="M. Ashgrove", address="12 Alder Row, Lower Fennel", phone="555-0142"),
        firm=Party(
            name="Brackwater Drains",
            address="3 Kiln Yard, Lower Fennel",
            phone="555-0117",
            email="office@brackwater.invalid",
        ),
        technician="T. Okonjo",
        place=Place(
            address="12 Alder Row",
            town="Lower Fennel",
            region="Oregon",
            country="US",
            code="state plumbing code, 2023 edition",
            ownership=OwnershipRule(
                split="property_line",
                citation="Lower Fennel code 4.12 (invented)",
                authority="City of Lower Fennel",
            ),
            one_call="811",
        ),
        origin=Origin(lon_deg=-122.6, lat_deg=45.5),
        line=Line(
            id="L1",
            name="House sewer",
            accesses=(Access(name="Basement clean-out", kind="clean-out", station_m=E(0, 0)),),
            slope_required=1 / 48,
            year_laid=1928,
        ),
        runs=(
            Run(
                id="run-1",
                date=dt.date(2026, 10, 6),
                video="run1.mp4",
                direction=WITH,
                start_access="Basement clean-out",
                counter_unit=LengthUnit.FEET,
                start_station_m=E(0, 0.05),
            ),
        ),
        marks=(
            Mark(id="ne", name="House corner NE", point=P(11.5, 16.0)),
            Mark(id="se", name="House corner SE", point=P(8.0, 9.0)),
            Mark(id="hyd", name="Hydrant", point=P(20.5, -3.6)),
        ),
        parcels=(
            Parcel(
                id="p12",
                kind=ParcelKind.PARCEL,
                owner="M. Ashgrove",
                ring=(P(-2, -1.5), P(24, -1.5), P(24, 24), P(-2, 24)),
                source="county map",
            ),
            Parcel(
                id="p14",
                kind=ParcelKind.PARCEL,
                owner="D. Quillfeather",
                ring=(P(24, -1.5), P(46, -1.5), P(46, 24), P(24, 24)),
            ),
            Parcel(
                id="row",
                kind=ParcelKind.RIGHT_OF_WAY,
                owner="Alder Row",
                ring=(P(-30, -12), P(60, -12), P(60, -1.5), P(-30, -1.5)),
            ),
            Parcel(
                id="house",
                kind=ParcelKind.BUILDING,
                owner="House",
                ring=(P(0, 9), P(8, 9), P(8, 13), P(11.5, 13), P(11.5, 16), P(0, 16)),
            ),
        ),
        mains=(KnownMain(id="m1", points=(P(-30, -7.2), P(60, -6.6)), depth_m=E(2.6, 0.3)),),
        utilities=(
            OtherUtility(
                id="gas",
                kind="gas",
                points=(P(-30, -3.4), P(15, -3.3), P(60, -3.0)),
                source="paint on the street",
            ),
        ),
        passes=(
            JetPass(
                id="j1",
                nozzle="rotating, 4 jets",
                pump_pressure_pa=1.38e7,
                flow_m3_s=2.5e-4,
                from_station_m=0.0,
                to_station_m=0.9 * L,
                direction=WITH,
            ),
        ),
        history=History(
            visits=(PriorVisit(date=dt.date(2025, 4, 2)),),
            services=(
                Service(date=dt.date(2024, 11, 20), kind="stoppage", cost=480.0),
                Service(date=dt.date(2025, 4, 2), kind="cleaning", cost=520.0),
            ),
        ),
        prices=PriceList(
            name="Invented price list",
            date=dt.date(2026, 1, 15),
            prices=(
                Price(
                    item="camera run",
                    unit="visit",
                    low=280,
                    typical=325,
                    high=400,
                    source="invented",
                ),
            ),
        ),
    )


def rich(length_m: float = 25.0) -> Appraisal:
    """Return an appraisal that uses every record, of a line with a plan and levels."""
    L = length_m
    points = _path_points(L)
    items = _findings(points, L)
    at = {i.finding.id: i for i in items}
    dig_place = at["f-break"].place
    cov = dig_place.covariance
    dig = Dig(
        finding_id="f-break",
        point=dig_place.point,
        ellipse68=Ellipse(semi_major_m=0.45, semi_minor_m=0.3, bearing_deg=160, level=0.68),
        ellipse95=Ellipse(semi_major_m=0.85, semi_minor_m=0.55, bearing_deg=160, level=0.95),
        depth_m=dig_place.depth_m,
        trench_length_m=2.4,
        trench_bearing_deg=172,
        ties=(
            TapeTie(
                mark_id="se",
                mark_name="House corner SE",
                distance_m=_gap(dig_place.point, 8.0, 9.0),
            ),
            TapeTie(
                mark_id="hyd", mark_name="Hydrant", distance_m=_gap(dig_place.point, 20.5, -3.6)
            ),
        ),
        ground="Alder Row, right of way",
        cautions=(
            "A gas line is marked about 3 ft north of the spot. Expose it by hand first.",
            "Deeper than 5 ft the trench must be shored.",
        ),
        alternatives=(PlanPoint(east_m=18.0, north_m=-3.0),),
    )
    other = Path(
        name="straight to the main",
        weight=0.2,
        because="the bend at 26 ft rests on one locate",
        points=tuple(
            p.model_copy(
                update={
                    "point": PlanPoint(
                        east_m=p.point.east_m + 1.8 * math.sin(math.pi * p.station_m / L),
                        north_m=p.point.north_m - 0.4,
                    )
                }
            )
            for p in points
        ),
    )
    position = Position(
        stationings=(
            Stationing(
                run_id="run-1",
                samples=tuple(
                    StationAt(time_s=10 + 6 * s, station_m=s, sd_m=0.2)
                    for s in np.linspace(0, L, 30)
                ),
                counter_scale=E(1.02, 0.006),
                counter_zero_m=E(0.4, 0.1),
                furthest_m=E(L, 0.6),
                reasons=(_reason("the counter read 2 % short against a taped length"),),
            ),
        ),
        paths=(
            Path(
                name="bend at the walk", weight=0.8, points=points, because="fits all four locates"
            ),
            other,
        ),
        surface=tuple(
            SurfacePoint(
                locate_id=f"loc{i}",
                point=points[k].point,
                covariance=cov,
                station_m=E(points[k].station_m, 0.2),
                depth_m=points[k].depth_m,
                used=i != 3,
            )
            for i, k in enumerate((8, 20, 33, 41), start=1)
        ),
        falls=(
            Fall(from_m=0, to_m=0.48 * L, slope=E(0.018, 0.004)),
            Fall(from_m=0.48 * L, to_m=0.55 * L, slope=E(0.038, 0.01)),
            Fall(from_m=0.55 * L, to_m=0.62 * L, slope=E(-0.012, 0.006)),
            Fall(from_m=0.62 * L, to_m=L, slope=E(0.017, 0.004)),
        ),
        sags=(
            Sag(
                id="sag1",
                start_m=E(0.48 * L, 0.3),
                end_m=E(0.62 * L, 0.3),
                lowest_m=E(0.55 * L, 0.3),
                depth_m=E(0.068, 0.015),
                volume_m3=Estimate.within(0.02, 0.012, 0.03),
                water_share=E(0.45, 0.08),
            ),
        ),
        digs=(dig,),
        next_measurements=(
            NextMeasurement(
                finding_id="f-break",
                action="Locate the camera again with the head stopped at the break",
                station_m=0.84 * L,
                margin_before_m=0.85,
                margin_after_m=0.4,
                worth_it=True,
                because="it halves the trench that must be opened in the street",
            ),
        ),
        conflicts=(
            Conflict(
                item="locate loc3",
                misfit="2.1 m, 4 times its margin",
                with_it="the break lies 1.2 m further north",
                without_it="as drawn",
                used=False,
            ),
        ),
        length_m=E(L, 0.6),
    )
    changes = (
        Change(
            kind=ChangeKind.WORSE,
            finding_id="f-roots2",
            prior_id="p3",
            prior_station_m=E(0.69 * L, 0.5),
            station_shift_m=0.2,
            plain="The root mass has grown from a tenth to a third of the bore since last April.",
        ),
        Change(
            kind=ChangeKind.NEW,
            finding_id="f-break",
            plain="The break was not there at the last visit, when this stretch was clearly seen.",
        ),
        Change(
            kind=ChangeKind.SAME, finding_id="f-offset", plain="The dropped joint is as it was."
        ),
        Change(
            kind=ChangeKind.GONE,
            prior_id="p9",
            prior_station_m=E(0.2 * L, 0.5),
            plain="Grease noted last time is gone.",
        ),
    )
    film = FilmFacts(width_px=1280, height_px=720, duration_s=260.0)
    joints = tuple(
        JointPassage(time_s=10 + 6 * s, strength=0.8) for s in np.arange(0.16 * L, L, 0.9144)
    )
    return Appraisal(
        saltglaze_version="0.1.0",
        made_at=dt.datetime(2026, 10, 6, 16, 30, tzinfo=dt.UTC),
        job=_job(points, L),
        tracks=(SightTrack(run_id="run-1", film=film, counter=CounterTrack(), joints=joints),),
        segments=_segments(L),
        direction=WITH,
        findings=items,
        unspoken=(
            Unspoken(
                run_id="run-1",
                time_s=95.0,
                station_m=E(0.55 * L, 0.4),
                look="dark_hole",
                strength=0.7,
            ),
        ),
        position=position,
        grade=LineGrade(
            structure=5,
            service=4,
            tightness=4,
            worst=5,
            scheme="saltglaze five grades",
            plain="One spot is broken open and needs mending within weeks; the rest of the line can be kept going with care.",
            reasons=(
                _reason(
                    "the line takes the grade of its worst finding",
                    "worst finding rules",
                    "common practice, no source",
                ),
            ),
        ),
        changes=changes,
        drainage=Drainage(
            drains=True,
            plain="It drains, but slowly through the sag: water stands there to about half the pipe.",
            peak_load="one bathroom group and a kitchen",
            stretches=(
                StretchFlow(
                    from_m=0,
                    to_m=0.48 * L,
                    diameter_m=0.1016,
                    slope=E(0.018, 0.004),
                    manning_n=0.013,
                    full_flow_m3_s=E(0.0079, 0.0012),
                    full_velocity_m_s=E(0.97, 0.15),
                    peak_flow_m3_s=E(0.0014, 0.0003),
                    peak_depth_share=E(0.29, 0.05),
                    peak_velocity_m_s=E(0.72, 0.12),
                    shear_pa=E(3.0, 0.6),
                    self_cleansing=True,
                    enough=True,
                ),
                StretchFlow(
                    from_m=0.48 * L,
                    to_m=0.62 * L,
                    diameter_m=0.1524,
                    slope=Estimate.unknown("the invert falls backwards here"),
                    full_flow_m3_s=Estimate.unknown("no fall"),
                    full_velocity_m_s=Estimate.unknown("no fall"),
                    peak_flow_m3_s=E(0.0014, 0.0003),
                    peak_depth_share=Estimate.unknown("no fall"),
                    peak_velocity_m_s=Estimate.unknown("no fall"),
                    shear_pa=Estimate.unknown("no fall"),
                    self_cleansing=False,
                    enough=True,
                ),
            ),
            reasons=(
                _reason(
                    "Manning's equation for a part-full pipe", source="Chow 1959 (from memory)"
                ),
            ),
        ),
        cleaning=Cleaning(
            passes=(
                PassReview(
                    pass_id="j1",
                    nozzle_pressure_pa=E(1.1e7, 5e5),
                    reaction_n=E(72, 8),
                    within_limit=False,
                    limit_pa=8.3e6,
                    reach_m=E(30, 5),
                    plain="The jet ran above the pressure old clay stands. It went past the break at that pressure.",
                ),
            ),
            advice=ReturnAdvice(
                interval_years=Estimate.within(1.4, 0.8, 2.4),
                due=dt.date(2027, 9, 1),
                plain="Cut the roots again in about a year and a half, sooner if drains gurgle.",
                jet_pressure_limit_pa=8.3e6,
                reasons=(_reason("two stoppages in two years"),),
            ),
            cautions=("Keep the jet below 1,200 psi in old clay.",),
        ),
        remedy=_remedies(L),
        ownership=Ownership(
            stretches=(
                Stretch(
                    from_m=E(0, 0),
                    to_m=E(0.66 * L, 0.4),
                    ground_id="p12",
                    ground="12 Alder Row",
                    owner="M. Ashgrove",
                    pipe_owner="M. Ashgrove",
                    probability=0.98,
                    reasons=(
                        _reason(
                            "private to the property line", "Lower Fennel code 4.12 (invented)"
                        ),
                    ),
                ),
                Stretch(
                    from_m=E(0.66 * L, 0.4),
                    to_m=E(L, 0.6),
                    ground_id="row",
                    ground="Alder Row",
                    owner="City of Lower Fennel",
                    pipe_owner="City of Lower Fennel",
                    probability=0.9,
                ),
            ),
            taps=(
                TapQuestion(
                    finding_id="f-tap",
                    plain="A pipe joins here that no record shows.",
                    may_serve=(("12 Alder Row, roof drain", 0.6), ("14 Alder Row", 0.3)),
                    test="Put dye in the roof drain and watch this spot with the camera.",
                ),
            ),
            plain="The break lies under the street, 4 ft past the property line. By the town's rule that part belongs to the city.",
            by_finding={"f-break": "City of Lower Fennel"},
        ),
        not_seen=(
            NotSeen(from_m=E(0.5 * L, 0.3), to_m=E(0.6 * L, 0.3), why="the camera was under water"),
            NotSeen(from_s=120.0, to_s=131.0, why="the camera moved too fast to judge"),
        ),
        stages=(
            StageState(stage="sight", done=True),
            StageState(stage="position", done=True),
            StageState(stage="history", done=True),
        ),
        checks=(
            Check(
                name="counter against taped length",
                verdict=Verdict.GOOD,
                reason="agrees within 2 %",
            ),
            Check(
                name="locate loc3",
                verdict=Verdict.DOUBT,
                reason="misfits the rest by 4 times its margin",
                mend="take it again",
            ),
        ),
        stills=tuple(
            Still(
                finding_id=i.finding.id,
                run_id="run-1",
                time_s=i.finding.start_s,
                path=f"stills/{i.finding.id}.jpg",
                roll_deg=12.0,
                width_px=1280,
                height_px=720,
            )
            for i in items[:-1]
        ),
        cautions=(
            "Call 811 before digging; hand-dig near marked gas.",
            "Nobody enters a trench or manhole without licensed confined-space practice.",
        ),
    )


def draw_stills(appraisal: Appraisal, out: FilePath) -> None:
    """Write a made-up picture for each still of the appraisal."""
    rng = np.random.default_rng(7)
    y, x = np.mgrid[0:360, 0:640]
    for still in appraisal.stills:
        r = np.hypot((x - 320) / 1.1, y - 180)
        tone = np.clip(210 - 0.35 * (260 - np.clip(r, 20, 260)) * 3, 12, 220)
        rings = 12 * np.sin(900.0 / np.maximum(r, 12))
        picture = np.clip(tone + rings + rng.normal(0, 7, r.shape), 0, 255)
        rgb = np.stack([picture, picture * 0.88, picture * 0.72], axis=-1).astype(np.uint8)
        path = out / still.path
        path.parent.mkdir(parents=True, exist_ok=True)
        Image.fromarray(rgb).resize((1280, 720)).save(path, quality=85)


def edited(appraisal: Appraisal) -> Appraisal:
    """Return the appraisal with one finding changed and one rejected by a person."""
    first, second, *rest = appraisal.findings
    changed = Edit(
        facts=first.finding.draft.model_copy(update={"remark": "lid cross-threaded"}),
        fields=("remark",),
        by="T. Okonjo",
    )
    gone = Edit(rejected=True, by="T. Okonjo", because="a shadow")
    return appraisal.model_copy(
        update={
            "findings": (
                first.model_copy(
                    update={"finding": first.finding.model_copy(update={"edit": changed})}
                ),
                second.model_copy(
                    update={"finding": second.finding.model_copy(update={"edit": gone})}
                ),
                *rest,
            )
        }
    )


def many(count: int, length_m: float = 60.0, *, same_place: bool = False) -> Appraisal:
    """Return an appraisal with ``count`` findings along a line."""
    base = rich(length_m)
    points = base.position.paths[0].points
    features = [f for f in Feature if f not in (Feature.START, Feature.END)]
    rng = np.random.default_rng(11)
    stations = sorted(rng.uniform(0.5, length_m - 0.5, count)) if not same_place else [7.0] * count
    items = tuple(
        finding(
            f"m{i}",
            features[i % len(features)],
            float(s),
            grade=(i % 6) or None,
            points=points,
            clock=Clock(from_h=float(i % 12), view=WITH),
            plain="Something was seen here.",
        )
        for i, s in enumerate(stations)
    )
    stills = tuple(
        Still(
            finding_id=i.finding.id,
            run_id="run-1",
            time_s=1.0,
            path=f"stills/{i.finding.id}.jpg",
            width_px=1280,
            height_px=720,
        )
        for i in items
    )
    return base.model_copy(update={"findings": items, "stills": stills, "changes": ()})


def bare() -> Appraisal:
    """Return the least an appraisal can hold: no findings, no plan, nothing known."""
    why = Estimate.unknown("no film and no words were given")
    return Appraisal(
        saltglaze_version="0.1.0",
        job=Job(id="bare", line=Line(id="L1")),
        position=Position(length_m=why),
        grade=LineGrade(scheme="saltglaze five grades", plain=""),
        drainage=Drainage(plain=""),
        cleaning=Cleaning(advice=ReturnAdvice(interval_years=why, plain="")),
        remedy=RemedyChoice(currency="USD", price_list="", plain=""),
        ownership=Ownership(plain=""),
        stages=(
            StageState(stage="sight", done=False, why="no video in the job folder"),
            StageState(stage="position", done=False, why="no locates, marks or map"),
        ),
    )


def unplaced(count: int = 5) -> Appraisal:
    """Return an appraisal whose findings have no station, and no plan."""
    base = bare()
    items = tuple(finding(f"u{i}", Feature.ROOTS, None, kind="fine", grade=3) for i in range(count))
    return base.model_copy(update={"findings": items})


def strip_only() -> Appraisal:
    """Return an appraisal with stations but no plan and no levels."""
    base = rich()
    items = tuple(
        i.model_copy(
            update={
                "place": i.place.model_copy(
                    update={
                        "point": None,
                        "covariance": None,
                        "depth_m": None,
                        "point_unknown_because": "no surface locate ties the line to the ground",
                    }
                )
            }
        )
        for i in base.findings
    )
    position = Position(length_m=base.position.length_m, stationings=base.position.stationings)
    return base.model_copy(update={"findings": items, "position": position})


LONG = "The Estate of the Late Bartholomew Featherstonehaugh-Wrigglesworth and Surviving Heirs, Trustees and Assigns of Nether Wallop-on-the-Marsh"
HEBREW = "משפחת אלון־גבע"
ARABIC = "عائلة النخيل"
CHINESE = "陶土管理"


def named(owner: str) -> Appraisal:
    """Return the rich appraisal with another owner's name wherever it stands."""
    text = rich().model_dump_json().replace("M. Ashgrove", owner)
    return Appraisal.model_validate_json(text)


def hostile() -> Appraisal:
    """Return the rich appraisal with markup and typesetting commands in its names."""
    return named(
        '<script>alert(1)</script> #let x = 1 $a_b$ \\u{41} @ref & "q"'.replace(
            "\\", "\\\\"
        ).replace('"', '\\"')
    )
