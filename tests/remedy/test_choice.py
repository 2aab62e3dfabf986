"""Seven ways judged, sized, costed and ranked; what must be fixed comes first."""

from __future__ import annotations

import datetime as dt

import pytest

from saltglaze.cleaning.advice import appraise_cleaning
from saltglaze.condition.wording import METRIC
from saltglaze.errors import InputError
from saltglaze.model.appraisal import (
    LineSegment,
    Ownership,
    Path,
    PathPoint,
    Position,
    RemedyKind,
    Stretch,
)
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Certainty, Feature
from saltglaze.model.ground import OtherUtility, Parcel, ParcelKind, PlanPoint
from saltglaze.model.job import History, Job, OwnershipRule, Party, Place, Price, PriceList, Service
from saltglaze.model.line import Access, FactSource, Line, Material
from saltglaze.model.run import JetPass
from saltglaze.remedy.choice import choose

TODAY = dt.date(2026, 5, 14)
UPKEEP = {RemedyKind.KEEP_MAINTAINING, RemedyKind.CLEAN_AND_TREAT_ROOTS}


def job(**facts):
    line = Line(
        id="L",
        accesses=(Access(name="yard", kind="clean-out"),),
        length_m=Estimate.of(28.0, 0.1),
    )
    return Job(**{"id": "j", "date": TODAY, "line": line, **facts})


def segments(*parts):
    parts = parts or ((0.0, 28.0, 0.1016, Material.CLAY),)
    return tuple(
        LineSegment(
            start_m=Estimate.of(a, 0.1),
            end_m=Estimate.of(b, 0.1),
            diameter_m=bore,
            material=material,
            source=FactSource.RECORD,
        )
        for a, b, bore, material in parts
    )


def position(depth_m=1.2, length_m=28.0):
    points = tuple(
        PathPoint(station_m=s, depth_m=None if depth_m is None else Estimate.of(depth_m, 0.1))
        for s in (0.0, 14.0, 28.0)
    )
    length = Estimate.unknown("not measured") if length_m is None else Estimate.of(length_m, 0.3)
    return Position(paths=(Path(name="p", weight=1.0, points=points),), length_m=length)


def options(choice):
    return {option.kind: option for option in choice.options}


def decide(*findings, job_=None, place=None, parts=(), **more):
    return choose(job_ or job(), segments(*parts), findings, place or position(), **more)


# ------------------------------------------------------------------ always
def test_all_seven_ways_are_judged(found):
    choice = decide(found("b", 9.0, feature=Feature.BREAK))
    assert set(options(choice)) == set(RemedyKind)
    for option in choice.options:
        assert option.why or option.obstacles
        assert (option.rank is None) == (option.feasible is False)


def test_ranks_are_in_order_and_start_at_one(found):
    choice = decide(found("b", 9.0, feature=Feature.BREAK))
    ranks = [option.rank for option in choice.options if option.rank is not None]
    assert ranks == list(range(1, len(ranks) + 1))
    assert choice.chosen is choice.options[0].kind


def test_nothing_recorded_means_nothing_advised():
    choice = choose(
        Job(id="j", line=Line(id="L")), (), (), Position(length_m=Estimate.unknown("no data"))
    )
    assert choice.chosen is None
    assert "Nothing was recorded" in choice.plain


def test_a_sound_line_needs_no_repair(found):
    choice = decide(found("s", 0.0, feature=Feature.START))
    assert choice.chosen is RemedyKind.KEEP_MAINTAINING
    assert choice.plain.startswith("No repair is called for.")


# ------------------------------------------------------------------ what must be fixed
def test_a_break_is_not_left_to_cleaning(found):
    roots = found("r", 5.0, feature=Feature.ROOTS, kind="fine")
    choice = decide(found("b", 9.0, feature=Feature.BREAK), roots)
    assert choice.chosen not in UPKEEP
    assert "b" in choice.options[0].fixes
    assert choice.urgency == "within weeks"


def test_a_collapse_is_dug_at_once(found):
    choice = decide(found("c", 9.0, feature=Feature.COLLAPSE))
    by = options(choice)
    assert by[RemedyKind.SECTIONAL_LINER].feasible is False
    assert by[RemedyKind.KEEP_MAINTAINING].feasible is False
    assert choice.chosen in {RemedyKind.SPOT_DIG, RemedyKind.OPEN_CUT}
    assert choice.urgency == "at once"
    assert choice.by == TODAY + dt.timedelta(days=14)


def test_a_liner_does_not_lift_a_sag(found):
    """A liner follows grade and line: Najafi p. 297."""
    sag = found("s", 9.0, feature=Feature.SAG, water_share=Estimate.of(0.4, 0.02))
    by = options(decide(sag, found("b", 15.0, feature=Feature.BREAK)))
    assert "s" in by[RemedyKind.FULL_LINER].leaves
    assert "s" in by[RemedyKind.BURST_AND_REPLACE].leaves
    assert "s" in by[RemedyKind.OPEN_CUT].fixes


@pytest.mark.parametrize(
    ("width_mm", "feasible"), [(6.0, True), (15.0, None), (30.0, False), (None, None)]
)
def test_a_step_is_lined_only_while_it_is_small(found, width_mm, feasible):
    width = None if width_mm is None else Estimate.of(width_mm / 1000.0, 0.0005)
    step = found("o", 9.0, feature=Feature.OFFSET_JOINT, width_m=width)
    weak = found("f", 15.0, feature=Feature.FRACTURE)
    liner = options(decide(step, weak))[RemedyKind.FULL_LINER]
    dug_first = any("dug first" in line.item for line in liner.lines)
    assert (feasible is False) is dug_first
    assert liner.feasible is (True if dug_first else feasible)
    assert ("o" in liner.fixes) is (feasible is not None)


@pytest.mark.parametrize("kind", [RemedyKind.FULL_LINER, RemedyKind.BURST_AND_REPLACE])
def test_one_obstacle_is_dug_first_and_paid_for(found, kind):
    weak = found("f", 15.0, feature=Feature.FRACTURE)
    stuck = found("c", 9.0, feature=Feature.COLLAPSE)
    bare = options(decide(weak))[kind]
    dug = options(decide(stuck, weak))[kind]
    assert dug.feasible is True
    assert "c" in dug.fixes
    assert any("dug first" in line.item for line in dug.lines)
    assert dug.first_cost.value > bare.first_cost.value


def test_many_obstacles_stop_a_liner(found):
    stuck = [found(f"c{i}", 5.0 + 6.0 * i, feature=Feature.COLLAPSE) for i in range(3)]
    liner = options(decide(*stuck))[RemedyKind.FULL_LINER]
    assert liner.feasible is False
    assert len(liner.obstacles) == 3


def test_running_ground_water_is_sealed_first(found):
    leak = found("w", 9.0, feature=Feature.INFILTRATION, kind="flowing")
    liner = options(decide(leak))[RemedyKind.FULL_LINER]
    assert any("seal infiltration" in line.item for line in liner.lines)


def test_changes_of_bore(found):
    crack = found("f", 9.0, feature=Feature.FRACTURE)
    two = ((0.0, 4.0, 0.1016, Material.CAST_IRON), (4.0, 28.0, 0.1524, Material.CLAY))
    three = (*two, (28.0, 40.0, 0.2032, Material.CLAY))
    assert options(decide(crack, parts=two))[RemedyKind.FULL_LINER].feasible is None
    assert options(decide(crack, parts=three))[RemedyKind.FULL_LINER].feasible is False


def test_faults_close_together_share_a_pit(found):
    near = [found(f"b{i}", 9.0 + 0.4 * i, feature=Feature.BREAK) for i in range(3)]
    far = found("far", 20.0, feature=Feature.BREAK)
    assert options(decide(*near))[RemedyKind.SPOT_DIG].size_note == "1 pit"
    assert options(decide(*near, far))[RemedyKind.SPOT_DIG].size_note == "2 pits"


def test_a_pit_needs_a_place(found):
    nowhere = found("b", None, feature=Feature.BREAK)
    by = options(decide(nowhere))
    for kind in (RemedyKind.SPOT_DIG, RemedyKind.SECTIONAL_LINER):
        assert by[kind].feasible is None
        assert any("must be found first" in obstacle for obstacle in by[kind].obstacles)
    assert by[RemedyKind.FULL_LINER].feasible is True


def test_roots_are_needed_to_treat_roots(found):
    by = options(decide(found("b", 9.0, feature=Feature.BREAK)))
    assert by[RemedyKind.CLEAN_AND_TREAT_ROOTS].feasible is False


# ------------------------------------------------------------------ the site
BUILDING = Parcel(
    id="house",
    kind=ParcelKind.BUILDING,
    ring=tuple(PlanPoint(east_m=x, north_m=y) for x, y in ((0, 0), (5, 0), (5, 5), (0, 5))),
)
RULE = OwnershipRule(split="property_line", citation="Code (invented)", authority="Town sewers")


def stretch(a, b, ground_id=None, owner="A. Owner"):
    return Stretch(
        from_m=Estimate.of(a, 0.1),
        to_m=Estimate.of(b, 0.1),
        ground_id=ground_id,
        ground=ground_id or "parcel",
        pipe_owner=owner,
    )


def test_the_house_is_not_dug_up(found):
    inside = found("in", 3.0, feature=Feature.BREAK)
    outside = found("out", 15.0, feature=Feature.BREAK)
    owned = Ownership(stretches=(stretch(0, 8, "house"), stretch(8, 28)), plain="")
    choice = decide(inside, outside, job_=job(parcels=(BUILDING,)), ownership=owned)
    by = options(choice)
    assert by[RemedyKind.SPOT_DIG].fixes == ("out",)
    assert by[RemedyKind.OPEN_CUT].fixes == ("out",)
    assert set(by[RemedyKind.BURST_AND_REPLACE].fixes) == {"in", "out"}
    assert by[RemedyKind.OPEN_CUT].lines[0].quantity == pytest.approx(20.0, abs=0.2)


def test_the_authoritys_part_is_not_billed_to_the_owner(found):
    mine, theirs = found("m", 5.0, feature=Feature.BREAK), found("t", 25.0, feature=Feature.BREAK)
    owned = Ownership(
        stretches=(stretch(0, 20), stretch(20, 28, "street", "Town sewers")),
        plain="",
        by_finding={"m": "A. Owner", "t": "Town sewers"},
    )
    place = Place(ownership=RULE)
    choice = decide(
        mine, theirs, job_=job(place=place, owner=Party(name="A. Owner")), ownership=owned
    )
    for option in choice.options:
        assert "t" not in (*option.fixes, *option.leaves)
    assert options(choice)[RemedyKind.FULL_LINER].to_m == pytest.approx(20.0)
    assert any("reported to it" in reason.because for reason in choice.reasons)


def test_a_pit_in_the_street_pays_for_the_street(found):
    street = Parcel(id="street", kind=ParcelKind.RIGHT_OF_WAY, ring=BUILDING.ring)
    owned = Ownership(stretches=(stretch(0, 20), stretch(20, 28, "street")), plain="")
    lines = [
        options(
            decide(
                found("b", at_m, feature=Feature.BREAK),
                job_=job(parcels=(street,)),
                ownership=owned,
            )
        )[RemedyKind.SPOT_DIG].lines
        for at_m in (10.0, 24.0)
    ]
    items = [" ".join(line.item for line in each) for each in lines]
    assert "street surface" not in items[0]
    assert "street surface" in items[1]
    assert "permit street" in items[1]


def test_other_utilities_are_named_to_who_would_burst(found):
    gas = OtherUtility(id="g", kind="gas", points=(PlanPoint(east_m=0, north_m=0),))
    by = options(decide(found("b", 9.0, feature=Feature.BREAK), job_=job(utilities=(gas,))))
    assert any("gas" in obstacle for obstacle in by[RemedyKind.BURST_AND_REPLACE].obstacles)


@pytest.mark.parametrize("kind", [RemedyKind.SPOT_DIG, RemedyKind.OPEN_CUT])
def test_whoever_digs_is_told_to_call_first_and_to_shore(found, kind):
    deep = options(decide(found("b", 9.0, feature=Feature.BREAK), place=position(2.0)))[kind]
    said = " ".join(reason.because for reason in deep.why)
    assert "811" in said
    assert "shored" in said


def test_deeper_is_dearer_and_shallow_needs_no_shoring_by_depth(found):
    costs = []
    for depth_m in (1.2, 2.0, 3.0):
        by = options(decide(found("b", 9.0, feature=Feature.BREAK), place=position(depth_m)))
        costs.append(by[RemedyKind.OPEN_CUT].first_cost.value)
    assert costs == sorted(costs)
    shallow = options(decide(found("b", 9.0, feature=Feature.BREAK), place=position(1.2)))
    assert "no protection needed by depth" in shallow[RemedyKind.OPEN_CUT].size_note


# ------------------------------------------------------------------ what is not known
def test_without_a_length_runs_have_no_cost_but_spots_do(found):
    nowhere = found("b", None, feature=Feature.BREAK)
    choice = decide(nowhere, job_=job(line=Line(id="L")), place=position(length_m=None))
    by = options(choice)
    assert by[RemedyKind.SPOT_DIG].first_cost.known
    assert not by[RemedyKind.FULL_LINER].first_cost.known
    assert any("length of the line" in question for question in choice.would_change_it)


def test_a_depth_not_known_is_an_assumption_and_a_question(found):
    choice = decide(found("b", 9.0, feature=Feature.BREAK), place=position(None))
    assert any("depth" in question for question in choice.would_change_it)
    assert any("depth" in said for said in options(choice)[RemedyKind.OPEN_CUT].assumptions)
    assert "not worked out" in options(choice)[RemedyKind.FULL_LINER].size_note


def test_a_supposed_break_asks_for_a_second_look(found):
    guess = found("b", 9.0, feature=Feature.BREAK, certainty=Certainty.SUPPOSED)
    assert any("second look" in question for question in decide(guess).would_change_it)


# ------------------------------------------------------------------ money
def test_a_jobs_own_price_is_used_and_the_rest_are_said_to_be_defaults(found):
    own = PriceList(
        name="our prices",
        prices=(
            Price(item="spot_dig_shallow", unit="each", low=90, typical=100, high=110, source="us"),
        ),
    )
    choice = decide(found("b", 9.0, feature=Feature.BREAK), job_=job(prices=own))
    dig = options(choice)[RemedyKind.SPOT_DIG]
    assert dig.first_cost.value == pytest.approx(100.0, rel=0.05)
    assert dig.lines[0].source == "us"
    assert choice.price_list == "our prices"
    assert choice.horizon_years == PriceList(name="any").horizon_years
    assert choice.chosen is RemedyKind.SPOT_DIG
    assert any("default planning values" in question for question in choice.would_change_it)


def test_a_price_per_foot_is_taken_over_per_metre(found):
    per_foot = Price(item="full_liner", unit="ft", low=99, typical=100, high=101, source="us")
    the_job = job(prices=PriceList(name="x", prices=(per_foot,)))
    choice = decide(found("b", 9.0, feature=Feature.BREAK), job_=the_job)
    line = next(o for o in options(choice)[RemedyKind.FULL_LINER].lines if "full liner" in o.item)
    assert line.unit == "m"
    assert line.cost == pytest.approx(100.0 / 0.3048 * 28.0, rel=0.02)


def test_defaults_are_called_not_sourced(found):
    choice = decide(found("b", 9.0, feature=Feature.BREAK))
    sources = {line.source for option in choice.options for line in option.lines}
    assert any("not sourced" in source for source in sources)
    assert all(sources)


def test_cost_lines_add_up_to_the_first_cost(found):
    choice = decide(found("b", 9.0, feature=Feature.BREAK), found("t", 12.0, feature=Feature.TAP))
    for option in choice.options:
        work = [line for line in option.lines if line.year_of_cost == 0.0]
        if option.first_cost is not None and option.first_cost.known and work:
            total = sum(line.cost for line in work)
            assert total == pytest.approx(option.first_cost.value, rel=0.1)


def test_what_earlier_visits_cost_is_used_before_the_defaults(found):
    roots = found("r", 5.0, feature=Feature.ROOTS, kind="mass")
    days = [TODAY - dt.timedelta(days=400 * i) for i in range(1, 4)]
    costs = []
    for each in (None, 100.0):
        services = tuple(Service(date=day, kind="cleaning", cost=each) for day in days)
        choice = decide(roots, job_=job(history=History(services=services)))
        keep = options(choice)[RemedyKind.KEEP_MAINTAINING]
        costs.append(keep.whole_life_cost.interval95[0])
    assert costs[1] < costs[0]


def test_a_jetted_line_is_not_charged_for_jetting_again_today(found):
    roots = found("r", 5.0, feature=Feature.ROOTS, kind="mass")
    dry = options(decide(roots))[RemedyKind.CLEAN_AND_TREAT_ROOTS]
    jetted = options(decide(roots, job_=job(passes=(JetPass(id="p"),))))
    assert jetted[RemedyKind.CLEAN_AND_TREAT_ROOTS].first_cost.value < dry.first_cost.value


def test_a_run_whose_end_was_not_seen_is_not_sure(found):
    bare = job(line=Line(id="L"))
    broken = found("b", 9.0, feature=Feature.BREAK)
    choice = decide(broken, job_=bare, place=position(length_m=14.0))
    liner = options(choice)[RemedyKind.FULL_LINER]
    assert liner.feasible is None
    assert any("only as far as the line was seen" in said for said in liner.assumptions)
    assert any("far end" in question for question in choice.would_change_it)
    assert choice.chosen in {RemedyKind.SPOT_DIG, RemedyKind.SECTIONAL_LINER}
    seen = decide(broken, found("e", 14.0, feature=Feature.END), job_=bare)
    assert options(seen)[RemedyKind.FULL_LINER].feasible is True


@pytest.mark.parametrize("factor", [1.2, 2.0, 4.0])
def test_a_dearer_price_makes_its_way_dearer(found, factor):
    costs = []
    for by in (1.0, factor):
        price = Price(
            item="full_liner", unit="m", low=200 * by, typical=300 * by, high=400 * by, source="us"
        )
        choice = decide(
            found("b", 9.0, feature=Feature.BREAK),
            job_=job(prices=PriceList(name="x", prices=(price,))),
        )
        costs.append(options(choice)[RemedyKind.FULL_LINER].whole_life_cost.value)
    assert costs[1] > costs[0]


def test_the_same_job_costs_the_same_twice(found):
    b = found("b", 9.0, feature=Feature.BREAK)
    assert decide(b) == decide(b)


def test_cleaning_only_is_kept_up_over_the_years_and_waiting_has_its_price(found):
    roots = found("r", 5.0, feature=Feature.ROOTS, kind="mass")
    services = tuple(Service(date=dt.date(y, 1, 1), kind="stoppage") for y in (2022, 2023, 2024))
    the_job = job(history=History(services=services))
    choice = decide(roots, job_=the_job)
    keep = options(choice)[RemedyKind.KEEP_MAINTAINING]
    assert keep.first_cost.value == 0.0
    assert keep.whole_life_cost.value > 5000.0
    assert any("upkeep" in line.item for line in keep.lines)
    assert any("failure" in line.item for line in keep.lines)
    low, high = keep.whole_life_cost.interval95
    assert low < keep.whole_life_cost.value < high


def test_a_spot_repair_does_not_end_the_clogging_of_an_old_line(found):
    """Other joints of the same age go on letting roots in; a new run does not."""
    roots = found("r", 5.0, feature=Feature.ROOTS, kind="mass")
    services = tuple(Service(date=dt.date(y, 1, 1), kind="stoppage") for y in (2022, 2023, 2024))
    by = options(decide(roots, job_=job(history=History(services=services))))
    upkeep = {
        kind: [line for line in option.lines if line.item.startswith("upkeep")]
        for kind, option in by.items()
    }
    assert upkeep[RemedyKind.SPOT_DIG]
    assert upkeep[RemedyKind.SECTIONAL_LINER]
    assert not upkeep[RemedyKind.OPEN_CUT]
    keep = upkeep[RemedyKind.KEEP_MAINTAINING][0].cost
    assert upkeep[RemedyKind.SPOT_DIG][0].cost == pytest.approx(0.3 * keep, rel=0.05)


def test_more_stoppages_make_waiting_dearer(found):
    roots = found("r", 5.0, feature=Feature.ROOTS, kind="mass")
    costs = []
    for months in (24, 6):
        days = [TODAY - dt.timedelta(days=round(30.4 * months * i)) for i in range(6)]
        services = tuple(Service(date=day, kind="stoppage") for day in days)
        choice = decide(roots, job_=job(history=History(services=services)))
        costs.append(options(choice)[RemedyKind.KEEP_MAINTAINING].whole_life_cost.value)
    assert costs[1] > costs[0] * 1.5


def test_upkeep_is_due_when_cleaning_says(found):
    roots = found("r", 5.0, feature=Feature.ROOTS, kind="fine")
    the_job = job()
    cleaning = appraise_cleaning(the_job, segments(), [roots])
    choice = decide(roots, job_=the_job, cleaning=cleaning)
    if choice.chosen in UPKEEP:
        assert choice.by <= cleaning.advice.due


def test_metric_words(found):
    choice = decide(found("b", 9.0, feature=Feature.BREAK), words=METRIC)
    text = " ".join([choice.plain, *(option.size_note for option in choice.options)])
    assert " ft" not in text
    assert " in " not in text.replace("in today", "")


@pytest.mark.parametrize(
    ("update", "said"),
    [
        ({"discount_rate": 3.0}, "write 0.03 for 3 %"),
        ({"discount_rate": -0.1}, "discount rate"),
        ({"horizon_years": 0}, "horizon"),
        ({"horizon_years": 10**9}, "horizon"),
        (
            {"prices": (Price(item="burst", unit="m", low=9, typical=5, high=7, source=""),)},
            "burst",
        ),
        (
            {"prices": (Price(item="bursting", unit="m", low=1, typical=5, high=7, source=""),)},
            "one of burst, ",
        ),
        (
            {"prices": (Price(item="burst", unit="day", low=1, typical=5, high=7, source=""),)},
            'the unit is "day"',
        ),
    ],
)
def test_a_price_list_that_makes_no_sense_is_refused_in_one_sentence(found, update, said):
    listed = PriceList(name="ours").model_copy(update=update)
    with pytest.raises(InputError, match=said) as caught:
        decide(found("b", 9.0, feature=Feature.BREAK), job_=job(prices=listed))
    assert "price list ours" in str(caught.value)
