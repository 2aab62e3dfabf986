"""What the middle computes from a job: everything a paper or a page needs to say."""

from __future__ import annotations

import datetime as dt
from enum import StrEnum

from saltglaze.model.base import Estimate, Record
from saltglaze.model.finding import Clock, Finding
from saltglaze.model.ground import PlanCovariance, PlanPoint
from saltglaze.model.job import Job
from saltglaze.model.line import FactSource, Material
from saltglaze.model.run import Direction
from saltglaze.model.talk import LineFact, Mention, SpokenStation
from saltglaze.model.track import SightTrack


# ---------------------------------------------------------------- checks
class Verdict(StrEnum):
    """How a named check came out."""

    GOOD = "good"
    NOTE = "note"
    DOUBT = "doubt"
    SKIPPED = "skipped"


class Check(Record):
    """One named check of the evidence or the answer, with its reason and what to do."""

    name: str
    verdict: Verdict
    reason: str
    about: str = ""
    mend: str = ""


class Reason(Record):
    """Why something was concluded: the evidence, the rule, and the rule's source."""

    because: str
    rule: str = ""
    source: str = ""


# ---------------------------------------------------------------- ear
class Heard(Record):
    """What one talk was understood to say."""

    run_id: str
    mentions: tuple[Mention, ...] = ()
    stations: tuple[SpokenStation, ...] = ()
    facts: tuple[LineFact, ...] = ()
    findings: tuple[Finding, ...] = ()
    checks: tuple[Check, ...] = ()


# ---------------------------------------------------------------- position
class StationAt(Record):
    """Station of the lens at a moment of film."""

    time_s: float
    station_m: float
    sd_m: float
    half68_m: float | None = None
    """Half the 68 % interval where rare slips make it narrower than the sd's."""


class Stationing(Record):
    """Station against time for one run, and how the counter was found to err."""

    run_id: str
    samples: tuple[StationAt, ...] = ()
    counter_scale: Estimate
    """True length per length counted (1.02: the counter reads 2 % short)."""
    counter_zero_m: Estimate
    """Station when the counter reads zero."""
    furthest_m: Estimate
    reasons: tuple[Reason, ...] = ()
    unknown_because: str | None = None


class PathPoint(Record):
    """A sample of the centreline: plan, level and depth at a station, with margins."""

    station_m: float
    point: PlanPoint | None = None
    covariance: PlanCovariance | None = None
    invert_level_m: Estimate | None = None
    ground_level_m: Estimate | None = None
    depth_m: Estimate | None = None
    """Ground to invert."""
    water_level_m: float | None = None


class Path(Record):
    """One hypothesis of where the line runs, sampled along stations.

    ``weight`` is its share of belief among the hypotheses (they add up to 1).
    """

    name: str
    weight: float
    points: tuple[PathPoint, ...]
    because: str = ""


class SurfacePoint(Record):
    """A surface point as adjusted, with its station, and how far it misfits the path."""

    locate_id: str
    point: PlanPoint
    covariance: PlanCovariance
    station_m: Estimate
    depth_m: Estimate | None = None
    misfit_m: float | None = None
    misfit_ratio: float | None = None
    """Misfit over its standard deviation."""
    used: bool = True
    mirror: PlanPoint | None = None
    """The other solution of two ties, until it is ruled out."""
    note: str = ""


class Conflict(Record):
    """An item that contradicts the rest: what, by how much, and the answer without it."""

    item: str
    misfit: str
    with_it: str
    without_it: str
    used: bool
    finding_ids: tuple[str, ...] = ()
    """Findings that its sentences speak of, there called by feature and place."""


class Sag(Record):
    """A stretch whose invert lies below its outlet, so that water stands."""

    id: str
    start_m: Estimate
    end_m: Estimate
    lowest_m: Estimate
    depth_m: Estimate
    """Deepest water, below the outlet lip."""
    volume_m3: Estimate
    water_share: Estimate | None = None
    because: str = ""


class Fall(Record):
    """Slope of one stretch (fall per length, positive downstream), with its margin."""

    from_m: float
    to_m: float
    slope: Estimate
    because: str = ""


class TapeTie(Record):
    """A distance from a mark, for a crew with tapes."""

    mark_id: str
    mark_name: str
    distance_m: float


class Ellipse(Record):
    """An error ellipse in plan: half axes in metres, bearing of the major axis."""

    semi_major_m: float
    semi_minor_m: float
    bearing_deg: float
    level: float
    """Probability that it holds the point."""


class Dig(Record):
    """Where to dig for one finding."""

    finding_id: str
    point: PlanPoint
    ellipse68: Ellipse
    ellipse95: Ellipse
    depth_m: Estimate
    trench_length_m: float
    """Length along the line that holds the spot with 95 %."""
    trench_bearing_deg: float
    ties: tuple[TapeTie, ...] = ()
    ground: str = ""
    """Which parcel, street or building it lies in."""
    cautions: tuple[str, ...] = ()
    alternatives: tuple[PlanPoint, ...] = ()
    """Where it would lie under the other hypotheses."""


class NextMeasurement(Record):
    """One measurement worth taking, with the margin before and after (95 %, metres)."""

    finding_id: str
    action: str
    station_m: float | None = None
    margin_before_m: float
    margin_after_m: float
    worth_it: bool
    because: str


class Position(Record):
    """Where everything is."""

    stationings: tuple[Stationing, ...] = ()
    paths: tuple[Path, ...] = ()
    """Hypotheses, likeliest first; empty where nothing ties the line to the ground."""
    surface: tuple[SurfacePoint, ...] = ()
    falls: tuple[Fall, ...] = ()
    sags: tuple[Sag, ...] = ()
    digs: tuple[Dig, ...] = ()
    next_measurements: tuple[NextMeasurement, ...] = ()
    conflicts: tuple[Conflict, ...] = ()
    length_m: Estimate
    checks: tuple[Check, ...] = ()


class FindingPlace(Record):
    """Where one finding is."""

    finding_id: str
    station_m: Estimate
    end_station_m: Estimate | None = None
    clock: Clock | None = None
    clock_other_view: Clock | None = None
    """The same place as seen looking the other way: left and right change sides."""
    clock_unknown_because: str | None = None
    point: PlanPoint | None = None
    covariance: PlanCovariance | None = None
    ellipse68: Ellipse | None = None
    ellipse95: Ellipse | None = None
    """Drawn from all answers: round the point, or round any of ``alternatives``."""
    alternatives: tuple[PlanPoint, ...] = ()
    """Where the other answers that still stand put it."""
    depth_m: Estimate | None = None
    point_unknown_because: str | None = None


class LineSegment(Record):
    """A stretch of one material and bore, as settled from all sources."""

    start_m: Estimate
    end_m: Estimate
    material: Material | None = None
    diameter_m: float | None = None
    section_length_m: float | None = None
    source: FactSource
    note: str = ""


# ---------------------------------------------------------------- condition
class Code(Record):
    """A finding in the words of EN 13508-2: main code, characterisations, quantities."""

    main: str | None = None
    ch1: str | None = None
    ch2: str | None = None
    q1: float | None = None
    q1_unit: str = ""
    q2: float | None = None
    clock1_h: int | None = None
    clock2_h: int | None = None
    joint: bool = False
    continuous: bool = False
    status: str = ""
    """How sure the code letters are: confirmed (seen in published text), memory, unknown."""
    remark: str = ""


class FindingGrade(Record):
    """Grades 1 (slight) to 5 (act now), apart for structure, service and tightness."""

    structure: int | None = None
    service: int | None = None
    tightness: int | None = None
    worst: int | None = None
    could_be: dict[str, tuple[int, int]] = {}
    """Aspects (structure, service, tightness) whose grade the evidence leaves open."""
    reasons: tuple[Reason, ...] = ()
    ungraded_because: str | None = None


class LineGrade(Record):
    """Grades of the whole line, same scale; the scale is named in ``scheme``."""

    structure: int | None = None
    service: int | None = None
    tightness: int | None = None
    worst: int | None = None
    scheme: str
    plain: str
    """One plain sentence for an owner."""
    reasons: tuple[Reason, ...] = ()


class ChangeKind(StrEnum):
    """How a finding compares with the last visit."""

    NEW = "new"
    WORSE = "worse"
    SAME = "same"
    BETTER = "better"
    GONE = "gone"
    NOT_SEEN = "not_seen"


class Change(Record):
    """One comparison with the last record."""

    kind: ChangeKind
    finding_id: str | None = None
    prior_id: str | None = None
    prior_station_m: Estimate | None = None
    station_shift_m: float | None = None
    plain: str
    reasons: tuple[Reason, ...] = ()


# ---------------------------------------------------------------- flow
class StretchFlow(Record):
    """Hydraulics of one stretch."""

    from_m: float
    to_m: float
    diameter_m: float | None = None
    slope: Estimate
    manning_n: float | None = None
    full_flow_m3_s: Estimate
    full_velocity_m_s: Estimate
    peak_flow_m3_s: Estimate
    peak_depth_share: Estimate
    peak_velocity_m_s: Estimate
    shear_pa: Estimate
    self_cleansing: bool | None = None
    enough: bool | None = None
    reasons: tuple[Reason, ...] = ()


class Drainage(Record):
    """Whether it drains, and why."""

    drains: bool | None = None
    plain: str
    stretches: tuple[StretchFlow, ...] = ()
    peak_load: str = ""
    checks: tuple[Check, ...] = ()
    reasons: tuple[Reason, ...] = ()


# ---------------------------------------------------------------- cleaning
class PassReview(Record):
    """One jetting pass looked at: what the nozzle did, and what it may have done."""

    pass_id: str
    nozzle_pressure_pa: Estimate | None = None
    reaction_n: Estimate | None = None
    within_limit: bool | None = None
    limit_pa: float | None = None
    reach_m: Estimate | None = None
    plain: str
    reasons: tuple[Reason, ...] = ()


class ReturnAdvice(Record):
    """When to come back."""

    interval_years: Estimate
    due: dt.date | None = None
    plain: str
    jet_pressure_limit_pa: float | None = None
    reasons: tuple[Reason, ...] = ()


class Cleaning(Record):
    """All about cleaning."""

    passes: tuple[PassReview, ...] = ()
    advice: ReturnAdvice
    cautions: tuple[str, ...] = ()
    checks: tuple[Check, ...] = ()


# ---------------------------------------------------------------- remedy
class RemedyKind(StrEnum):
    """Ways to deal with a line or a part of it."""

    KEEP_MAINTAINING = "keep_maintaining"
    CLEAN_AND_TREAT_ROOTS = "clean_and_treat_roots"
    SPOT_DIG = "spot_dig"
    SECTIONAL_LINER = "sectional_liner"
    FULL_LINER = "full_liner"
    BURST_AND_REPLACE = "burst_and_replace"
    OPEN_CUT = "open_cut"


class CostLine(Record):
    """One line of a cost: quantity, price and where the price came from."""

    item: str
    quantity: float
    unit: str
    price: float
    cost_low: float
    cost: float
    cost_high: float
    source: str
    year_of_cost: float = 0.0


class Remedy(Record):
    """One option, judged: feasible or not and why, sized, costed over the years."""

    kind: RemedyKind
    title: str
    feasible: bool | None = None
    why: tuple[Reason, ...] = ()
    obstacles: tuple[str, ...] = ()
    from_m: float | None = None
    to_m: float | None = None
    fixes: tuple[str, ...] = ()
    """Ids of the findings it deals with."""
    leaves: tuple[str, ...] = ()
    """Ids of the findings it does not."""
    size_note: str = ""
    first_cost: Estimate | None = None
    whole_life_cost: Estimate | None = None
    yearly_cost: Estimate | None = None
    lines: tuple[CostLine, ...] = ()
    life_years: float | None = None
    assumptions: tuple[str, ...] = ()
    rank: int | None = None


class RemedyChoice(Record):
    """The options in order, and the advice."""

    currency: str
    price_list: str
    horizon_years: int | None = None
    """Years that a whole-life cost spans; None in records written before it was kept."""
    options: tuple[Remedy, ...] = ()
    chosen: RemedyKind | None = None
    plain: str
    by: dt.date | None = None
    urgency: str = ""
    """at once, within weeks, within a year, within years, when convenient."""
    would_change_it: tuple[str, ...] = ()
    reasons: tuple[Reason, ...] = ()


# ---------------------------------------------------------------- owners
class Stretch(Record):
    """Whose ground and whose pipe a stretch of the line is."""

    from_m: Estimate
    to_m: Estimate
    ground_id: str | None = None
    ground: str
    """Parcel, right of way or building it lies under."""
    owner: str | None = None
    pipe_owner: str | None = None
    probability: float | None = None
    reasons: tuple[Reason, ...] = ()


class TapQuestion(Record):
    """A tap of unknown origin, whom it may serve, and what test would settle it."""

    finding_id: str
    plain: str
    may_serve: tuple[tuple[str, float], ...] = ()
    test: str
    reasons: tuple[Reason, ...] = ()


class Ownership(Record):
    """Whose stretch is whose."""

    stretches: tuple[Stretch, ...] = ()
    taps: tuple[TapQuestion, ...] = ()
    plain: str
    by_finding: dict[str, str] = {}
    reasons: tuple[Reason, ...] = ()


# ---------------------------------------------------------------- the whole
class NotSeen(Record):
    """A stretch of line or of film that could not be judged, and why."""

    from_m: Estimate | None = None
    to_m: Estimate | None = None
    from_s: float | None = None
    to_s: float | None = None
    why: str


class Unspoken(Record):
    """Something the eye noticed and the talk did not mention: for a reviewer."""

    run_id: str
    time_s: float
    station_m: Estimate
    clock: Clock | None = None
    look: str
    strength: float


class Still(Record):
    """A still picture: file relative to the output folder, turned upright by ``roll_deg``."""

    finding_id: str
    run_id: str
    time_s: float
    path: str
    roll_deg: float | None = None
    width_px: int
    height_px: int


class AppraisedFinding(Record):
    """A finding with its place, code, grade and owner."""

    finding: Finding
    place: FindingPlace
    code: Code
    beside: tuple[Code, ...] = ()
    """Observations of their own beside it: soil or a void seen."""
    grade: FindingGrade
    owner: str | None = None
    plain: str
    """One plain sentence for an owner."""


class StageState(Record):
    """One stage of the job: done, or skipped and why."""

    stage: str
    done: bool
    why: str = ""


SCHEMA_VERSION = 1


class Appraisal(Record):
    """The whole answer, as saved in record.json."""

    schema_version: int = SCHEMA_VERSION
    saltglaze_version: str
    made_at: dt.datetime | None = None
    job: Job
    tracks: tuple[SightTrack, ...] = ()
    heard: tuple[Heard, ...] = ()
    segments: tuple[LineSegment, ...] = ()
    direction: Direction | None = None
    findings: tuple[AppraisedFinding, ...] = ()
    unspoken: tuple[Unspoken, ...] = ()
    position: Position
    grade: LineGrade
    changes: tuple[Change, ...] = ()
    drainage: Drainage
    cleaning: Cleaning
    remedy: RemedyChoice
    ownership: Ownership
    not_seen: tuple[NotSeen, ...] = ()
    stages: tuple[StageState, ...] = ()
    checks: tuple[Check, ...] = ()
    stills: tuple[Still, ...] = ()
    cautions: tuple[str, ...] = ()
