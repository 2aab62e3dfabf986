"""The invented job: everything the crew would bring home from the invented line."""

from __future__ import annotations

import datetime as dt

from saltglaze.demo import site
from saltglaze.demo.locating import SONDE_BEHIND_LENS_M, locates_and_ties
from saltglaze.demo.takes import JOINT, S, Take, long_take, short_take
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Clock, DraftedBy, Evidence, Facts, Feature, Finding
from saltglaze.model.job import (
    History,
    Job,
    OwnershipRule,
    Party,
    Place,
    PriorVisit,
    Service,
)
from saltglaze.model.line import (
    Access,
    FactSource,
    FixtureCount,
    KnownLandmark,
    Line,
    Material,
    Segment,
)
from saltglaze.model.run import Direction, JetPass, LengthUnit, Run
from saltglaze.units import m3_s_from_gpm, m_from_ft, m_from_in, pa_from_psi

TODAY = dt.date(2026, 5, 14)
LAST_YEAR = dt.date(2025, 4, 22)
FILM = "run.mp4"
TALK = "narration.vtt"


def demo_job(*, short: bool = False) -> Job:
    """Return the invented job; ``short`` films only the middle of the line."""
    take = short_take() if short else long_take()
    run = _run(take, short)
    locates, ties = locates_and_ties(take, run.id)
    start = site.point_at(0.0)
    return Job(
        id="DEMO-1",
        title="14 Ferrule Lane, kitchen and baths backing up",
        date=TODAY,
        invented=True,
        owner=Party(
            name="Maren Thistlewood", address="14 Ferrule Lane, Brindlewick", phone="555-0142"
        ),
        firm=Party(name="Tarn and Daughter Drain Service (invented)", phone="555-0117"),
        technician="J. Okonta",
        place=_place(),
        origin=site.ORIGIN,
        line=_line(),
        runs=(run,),
        marks=site.MARKS,
        ties=ties,
        locates=locates,
        levels=site.ground_levels(),
        parcels=site.PARCELS,
        mains=site.MAINS,
        utilities=site.UTILITIES,
        start_point=start,
        start_point_sd_m=0.08,
        start_bearing_deg=Estimate.of(180.0, 4.0),
        passes=_passes(),
        history=_history(),
        notes="Invented: town, street, people, firm, line and every reading.",
    )


def _run(take: Take, short: bool) -> Run:
    return Run(
        id="run1",
        date=TODAY,
        video=FILM,
        narration=TALK,
        direction=Direction.WITH_FLOW,
        start_access="basement clean-out",
        counter_unit=LengthUnit.FEET,
        start_station_m=Estimate.of(take.start_m, 0.2 if short else 0.1),
        camera="push-rod camera with a transmitter behind the lens",
        self_levelling=False,
        sonde_behind_lens_m=SONDE_BEHIND_LENS_M,
    )


def _place() -> Place:
    return Place(
        address="14 Ferrule Lane",
        town="Brindlewick (invented)",
        region="Marl County (invented)",
        country="US",
        code="Brindlewick Plumbing Code, 2021 (invented)",
        ownership=OwnershipRule(
            split="main_connection",
            citation=(
                "Brindlewick Town Code 13-207 (invented): the owner of the premises keeps the "
                "building sewer in repair from the building up to and including its connection "
                "to the town main"
            ),
            authority="Brindlewick Sewer Office (invented)",
            connection_private=True,
        ),
        one_call="811",
    )


def _line() -> Line:
    return Line(
        id="L1",
        name="house line to the main in Ferrule Lane",
        segments=(
            Segment(
                start_m=Estimate.of(0.0, 0.1),
                end_m=Estimate.of(site.IRON_END_M, 0.3),
                material=Material.CAST_IRON,
                diameter_m=site.IRON_BORE_M,
                source=FactSource.RECORD,
            ),
            Segment(
                start_m=Estimate.of(site.IRON_END_M, 0.3),
                material=Material.CLAY,
                diameter_m=site.CLAY_BORE_M,
                section_length_m=site.CLAY_SECTION_M,
                source=FactSource.RECORD,
            ),
        ),
        accesses=(
            Access(
                name="basement clean-out",
                kind="clean-out",
                station_m=Estimate.of(0.0, 0.02),
                invert_depth_m=Estimate.of(round(site.depth_at(0.0), 2), 0.03),
            ),
        ),
        landmarks=(
            KnownLandmark(
                name="iron meets clay outside the front wall",
                feature="diameter_change",
                station_m=Estimate.of(site.IRON_END_M, 0.10),
                source=FactSource.RECORD,
            ),
        ),
        fixtures=(
            FixtureCount(kind="toilet", count=2),
            FixtureCount(kind="lavatory", count=3),
            FixtureCount(kind="bathtub", count=1),
            FixtureCount(kind="shower", count=1),
            FixtureCount(kind="kitchen_sink", count=1),
            FixtureCount(kind="dishwasher", count=1),
            FixtureCount(kind="clothes_washer", count=1),
            FixtureCount(kind="floor_drain", count=1),
        ),
        dwellings=1,
        slope_required=1 / 48,
        year_laid=1957,
        soil="B",
    )


def _passes() -> tuple[JetPass, ...]:
    hose = {"hose_bore_m": m_from_in(0.5), "hose_length_m": m_from_ft(200.0)}
    return (
        JetPass(
            id="J1",
            date=TODAY,
            nozzle="pointed nozzle, one ahead and six back",
            nozzle_kind="penetrating",
            pump_pressure_pa=pa_from_psi(2500.0),
            flow_m3_s=m3_s_from_gpm(12.0),
            from_station_m=0.0,
            to_station_m=m_from_ft(36.0),
            direction=Direction.WITH_FLOW,
            note="broke through at about 35 ft, water went down",
            **hose,
        ),
        JetPass(
            id="J2",
            date=TODAY,
            nozzle="root cutter, chain",
            nozzle_kind="root_cutter",
            pump_pressure_pa=pa_from_psi(2200.0),
            flow_m3_s=m3_s_from_gpm(12.0),
            from_station_m=m_from_ft(18.0),
            to_station_m=m_from_ft(45.0),
            direction=Direction.WITH_FLOW,
            **hose,
        ),
        JetPass(
            id="J3",
            date=TODAY,
            nozzle="flushing nozzle, eight back",
            nozzle_kind="flushing",
            pump_pressure_pa=pa_from_psi(2500.0),
            flow_m3_s=m3_s_from_gpm(12.0),
            from_station_m=m_from_ft(92.0),
            to_station_m=0.0,
            direction=Direction.AGAINST_FLOW,
            dwell_s=5.0,
            note="pulled back from the main",
            **hose,
        ),
    )


def _history() -> History:
    return History(
        visits=(
            PriorVisit(
                date=LAST_YEAR,
                findings=_last_years_findings(),
                line_length_m=Estimate.of(28.3, 0.4),
                source="record of 22 April 2025 (invented)",
            ),
        ),
        services=(
            Service(date=dt.date(2020, 11, 3), kind="stoppage", cost=310.0),
            Service(
                date=dt.date(2022, 9, 18), kind="stoppage", cost=345.0, note="roots on the cable"
            ),
            Service(date=dt.date(2024, 3, 9), kind="stoppage", cost=380.0, note="roots at 35 ft"),
            Service(date=LAST_YEAR, kind="cleaning", cost=425.0, note="jetted and filmed"),
            Service(date=TODAY, kind="stoppage", cost=460.0),
        ),
    )


def _last_years_findings() -> tuple[Finding, ...]:
    def found(id_: str, station_m: float, facts: Facts) -> Finding:
        return Finding(
            id=id_,
            draft=facts,
            evidence=Evidence(drafted_by=DraftedBy.HISTORY, typed_in="record of 22 April 2025"),
            station_m=Estimate.of(round(station_m, 2), 0.25),
        )

    def at(hours: float) -> Clock:
        return Clock(from_h=hours, sd_h=0.5, view=Direction.WITH_FLOW, because="typed")

    roots = Facts(
        feature=Feature.ROOTS, kind="fine", at_joint=True, section_share=Estimate.of(0.10, 0.05)
    )
    offset = Facts(feature=Feature.OFFSET_JOINT, at_joint=True, width_m=Estimate.of(0.012, 0.004))
    tap = Facts(feature=Feature.TAP, clock=at(9.0))
    crack = Facts(
        feature=Feature.CRACK, kind="longitudinal", clock=at(1.0), length_m=Estimate.of(0.3, 0.1)
    )
    water = Facts(feature=Feature.STANDING_WATER, water_share=Estimate.of(0.35, 0.1))
    gravel = Facts(
        feature=Feature.SETTLED_DEPOSITS, kind="gravel", section_share=Estimate.of(0.05, 0.03)
    )
    return (
        found("old1", JOINT + 10 * S + 0.12, roots),
        found("old2", JOINT + 13 * S + 0.15, offset),
        found("old3", 13.52, tap),
        found("old4", 14.25, crack),
        found("old5", 20.8, water),
        found("old6", 23.4, gravel),
    )
