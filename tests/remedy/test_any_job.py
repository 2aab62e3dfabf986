"""Whatever is known or missing, every stage behind the findings answers and adds up."""

from __future__ import annotations

import datetime as dt
import itertools

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from saltglaze.cleaning.advice import appraise_cleaning
from saltglaze.condition.change import compare
from saltglaze.condition.codes import code
from saltglaze.condition.grading import grade_finding, grade_line
from saltglaze.condition.plain import plain_sentence
from saltglaze.flow.drainage import drainage
from saltglaze.model.appraisal import (
    AppraisedFinding,
    Fall,
    FindingPlace,
    LineSegment,
    Path,
    PathPoint,
    Position,
    RemedyKind,
)
from saltglaze.model.base import Estimate
from saltglaze.model.finding import (
    KINDS,
    Certainty,
    Clock,
    DraftedBy,
    Evidence,
    Facts,
    Feature,
    Finding,
    Grade,
    Turn,
)
from saltglaze.model.ground import Parcel, ParcelKind, PlanCovariance, PlanPoint
from saltglaze.model.job import History, Job, OwnershipRule, Party, Place, PriorVisit, Service
from saltglaze.model.line import Access, FactSource, FixtureCount, Line, Material
from saltglaze.model.run import Direction, JetPass, Run
from saltglaze.owners.ownership import ownership
from saltglaze.remedy.choice import choose

TODAY = dt.date(2026, 5, 14)


def maybe(strategy):
    return st.one_of(st.none(), strategy)


def estimates(low, high):
    known = st.builds(Estimate.of, st.floats(low, high), st.floats(0.0, (high - low) / 4.0))
    return st.one_of(known, st.just(Estimate.unknown("not seen")))


share = maybe(estimates(0.0, 1.0))
clocks = maybe(
    st.builds(
        Clock,
        from_h=st.floats(0.0, 11.99),
        to_h=maybe(st.floats(0.0, 11.99)),
        all_round=st.booleans(),
        view=maybe(st.sampled_from(Direction)),
    )
)


@st.composite
def facts(draw):
    feature = draw(st.sampled_from(Feature))
    return Facts(
        feature=feature,
        kind=draw(st.sampled_from((None, *KINDS.get(feature, ())))),
        certainty=draw(st.sampled_from(Certainty)),
        at_joint=draw(maybe(st.booleans())),
        joints=draw(maybe(st.integers(1, 9))),
        grade_word=draw(maybe(st.sampled_from(Grade))),
        width_m=draw(maybe(estimates(0.0, 0.1))),
        section_share=draw(share),
        round_share=draw(share),
        water_share=draw(share),
        deformation_share=draw(share),
        angle_deg=draw(maybe(estimates(0.0, 90.0))),
        turn=draw(maybe(st.sampled_from(Turn))),
        clock=draw(clocks),
        diameter_m=draw(maybe(estimates(0.0, 0.3))),
        active=draw(maybe(st.booleans())),
        capped=draw(maybe(st.booleans())),
        soil_visible=draw(maybe(st.booleans())),
        void_visible=draw(maybe(st.booleans())),
    )


@st.composite
def found_(draw, name):
    made = Finding(
        id=name, draft=draw(facts()), evidence=Evidence(drafted_by=DraftedBy.TYPED, run_id="r")
    )
    point = draw(maybe(st.builds(PlanPoint, east_m=st.floats(-9, 40), north_m=st.floats(-9, 9))))
    place = FindingPlace(
        finding_id=name,
        station_m=draw(estimates(0.0, 40.0)),
        clock=made.facts.clock,
        point=point,
        covariance=PlanCovariance(east_east_m2=0.1, north_north_m2=0.2) if point else None,
        depth_m=draw(maybe(estimates(0.2, 5.0))),
    )
    return AppraisedFinding(
        finding=made,
        place=place,
        code=code(made.facts, place.clock),
        grade=grade_finding(made.facts, 0.1, Material.CLAY),
        plain=plain_sentence(made, place),
    )


@st.composite
def segments(draw):
    cuts = sorted(draw(st.lists(st.floats(1.0, 39.0), max_size=2)))
    ends = [0.0, *cuts, 40.0]
    return tuple(
        LineSegment(
            start_m=Estimate.of(a, 0.1),
            end_m=draw(st.sampled_from([Estimate.of(b, 0.2), Estimate.unknown("no end")])),
            material=draw(maybe(st.sampled_from(Material))),
            diameter_m=draw(maybe(st.sampled_from([0.0, 0.05, 0.1016, 0.1524, 0.3]))),
            source=FactSource.SPOKEN,
        )
        for a, b in itertools.pairwise(ends)
    )


@st.composite
def positions(draw):
    point = st.builds(
        PathPoint,
        station_m=st.floats(0.0, 40.0),
        point=maybe(st.builds(PlanPoint, east_m=st.floats(-9, 40), north_m=st.floats(-9, 9))),
        covariance=maybe(st.just(PlanCovariance(east_east_m2=0.1, north_north_m2=0.2))),
        depth_m=maybe(estimates(0.2, 5.0)),
    )
    paths = st.builds(
        Path, name=st.just("p"), weight=st.just(0.5), points=st.lists(point, max_size=6).map(tuple)
    )
    falls = st.builds(
        Fall, from_m=st.floats(0, 20), to_m=st.floats(20, 40), slope=estimates(-0.05, 0.1)
    )
    return Position(
        paths=tuple(draw(st.lists(paths, max_size=2))),
        falls=tuple(draw(st.lists(falls, max_size=2))),
        length_m=draw(estimates(0.0, 40.0)),
    )


@st.composite
def parcels(draw):
    return tuple(
        Parcel(
            id=f"g{i}",
            kind=draw(st.sampled_from(ParcelKind)),
            owner=draw(st.sampled_from(["", "A. Owner", "B. Neighbour"])),
            ring=tuple(
                PlanPoint(east_m=x, north_m=y)
                for x, y in draw(
                    st.lists(st.tuples(st.integers(-10, 40), st.integers(-10, 10)), max_size=6)
                )
            ),
            sd_m=draw(st.floats(0.0, 2.0)),
        )
        for i in range(draw(st.integers(0, 3)))
    )


@st.composite
def jobs(draw):
    days = st.dates(dt.date(2010, 1, 1), dt.date(2030, 1, 1))
    services = st.builds(
        Service,
        date=days,
        kind=st.sampled_from(["stoppage", "cleaning", "root_treatment", "camera", "repair"]),
    )
    passes = st.builds(
        JetPass,
        id=st.just("p"),
        nozzle_kind=maybe(st.sampled_from(["flushing", "penetrating", "odd"])),
        pump_pressure_pa=maybe(st.floats(-1.0, 4e7)),
        flow_m3_s=maybe(st.floats(-1e-4, 3e-3)),
        hose_bore_m=maybe(st.floats(0.0, 0.03)),
        hose_length_m=maybe(st.floats(-1.0, 200.0)),
        from_station_m=maybe(st.floats(0.0, 40.0)),
        to_station_m=maybe(st.floats(0.0, 40.0)),
        dwell_s=maybe(st.floats(0.0, 100.0)),
    )
    before = Finding(
        id="old",
        draft=draw(facts()),
        evidence=Evidence(drafted_by=DraftedBy.HISTORY),
        station_m=draw(maybe(estimates(0.0, 40.0))),
    )
    fixtures = st.builds(
        FixtureCount, kind=st.sampled_from(["toilet", "shower", "odd"]), count=st.integers(-1, 9)
    )
    rules = st.builds(
        OwnershipRule,
        split=st.sampled_from(["building", "property_line", "main_connection", "main", "odd"]),
        citation=st.just("Code 1 (invented)"),
        authority=st.sampled_from(["", "Town sewers"]),
    )
    return Job(
        id="j",
        date=draw(maybe(st.just(TODAY))),
        owner=draw(maybe(st.just(Party(name="A. Owner")))),
        place=Place(
            code=draw(st.sampled_from(["", "IPC", "UPC", "EN 12056-2", "Town code"])),
            ownership=draw(maybe(rules)),
        ),
        line=Line(
            id="L",
            fixtures=tuple(draw(st.lists(fixtures, max_size=3))),
            accesses=(Access(name="a", kind="open pipe"),) if draw(st.booleans()) else (),
            soil=draw(st.sampled_from([None, "A", "C", "rock", "odd"])),
        ),
        runs=draw(st.sampled_from([(), (Run(id="r", reversed_stationing=True),)])),
        passes=tuple(draw(st.lists(passes, max_size=2))),
        parcels=draw(parcels()),
        history=History(
            services=tuple(draw(st.lists(services, max_size=7))),
            visits=(PriorVisit(date=dt.date(2025, 1, 1), findings=(before,)),),
        ),
    )


@given(st.data())
@settings(
    max_examples=60, deadline=None, suppress_health_check=list(HealthCheck), phases=[Phase.generate]
)
def test_every_stage_answers(data):
    job, parts, position = data.draw(jobs()), data.draw(segments()), data.draw(positions())
    count = data.draw(st.integers(0, 5))
    findings = tuple(data.draw(found_(f"f{i}")) for i in range(count))
    places = [found.place for found in findings]

    line = grade_line(findings)
    changes = compare(findings, job.history, position.length_m)
    owned = ownership(job, position, places, findings)
    drains = drainage(job.line, parts, position, findings, job.place.code)
    cleaned = appraise_cleaning(job, parts, findings)
    choice = choose(job, parts, findings, position, drains, cleaned, owned)

    assert line.plain
    assert drains.plain
    assert cleaned.advice.plain
    assert owned.plain
    assert choice.plain
    assert set(owned.by_finding) == {found.finding.id for found in findings}
    told = [change.finding_id for change in changes if change.finding_id]
    assert len(told) == len(set(told))
    assert {option.kind for option in choice.options} == set(RemedyKind)
    for option in choice.options:
        assert not set(option.fixes) & set(option.leaves)
        for money in (option.first_cost, option.whole_life_cost, option.yearly_cost):
            if money is not None and money.known:
                low, high = money.interval95
                assert 0.0 <= low <= money.value <= high
    for stretch in drains.stretches:
        for estimate in (stretch.full_flow_m3_s, stretch.peak_depth_share, stretch.shear_pa):
            low, high = estimate.interval95
            assert not estimate.known or 0.0 <= low <= estimate.value <= high
