"""A job: all the evidence of one visit, as plain records."""

from __future__ import annotations

import datetime as dt

from pydantic import Field

from saltglaze.model.base import Estimate, Record
from saltglaze.model.finding import Finding
from saltglaze.model.ground import (
    GroundLevel,
    KnownMain,
    Locate,
    Mark,
    Origin,
    OtherUtility,
    Parcel,
    PlanPoint,
    Tie,
)
from saltglaze.model.line import Line
from saltglaze.model.run import JetPass, Run
from saltglaze.model.talk import Transcript


class Party(Record):
    """A person or firm; in the demo all are invented."""

    name: str
    address: str = ""
    phone: str = ""
    email: str = ""


class OwnershipRule(Record):
    """Who owns which part of a lateral here, with the text it rests on.

    ``split`` is where the private part ends: building, property_line, main_connection
    (owner up to and including the connection), main. There is no default: without a
    cited rule the split is unknown.
    """

    split: str
    citation: str
    authority: str = ""
    connection_private: bool | None = None


class Place(Record):
    """Where the job is, and the rules that hold there."""

    address: str = ""
    town: str = ""
    region: str = ""
    country: str = ""
    code: str = ""
    """Plumbing code in force, with edition."""
    ownership: OwnershipRule | None = None
    one_call: str = "811"
    seismic: str = ""


class Service(Record):
    """An earlier visit to the same line: clearing, treatment, camera."""

    date: dt.date
    kind: str
    """stoppage, cleaning, root_treatment, camera, repair."""
    cost: float | None = None
    note: str = ""


class PriorVisit(Record):
    """What a former record of this line said: its findings, with stations."""

    date: dt.date
    findings: tuple[Finding, ...] = ()
    path: tuple[tuple[float, PlanPoint], ...] = ()
    """(station_m, plan point) of the former centreline."""
    line_length_m: Estimate | None = None
    source: str = ""


class History(Record):
    """All earlier visits known."""

    visits: tuple[PriorVisit, ...] = ()
    services: tuple[Service, ...] = ()


class Price(Record):
    """One price: money per unit, range, date and source."""

    item: str
    unit: str
    """each, m, m2, visit, day."""
    low: float
    typical: float
    high: float
    source: str
    year: int | None = None


class PriceList(Record):
    """Prices with their origin. ``currency`` is an ISO 4217 code."""

    name: str
    date: dt.date | None = None
    currency: str = "USD"
    prices: tuple[Price, ...] = ()
    discount_rate: float = 0.03
    horizon_years: int = 50


class Talk(Record):
    """The transcript of one run."""

    run_id: str
    transcript: Transcript


class Job(Record):
    """Everything known before saltglaze has thought about it.

    Paths inside (films, talk) are relative to the job folder; the middle of the
    program never opens them.
    """

    id: str
    title: str = ""
    date: dt.date | None = None
    invented: bool = False
    """True where the data is made up; every paper says so."""
    owner: Party | None = None
    firm: Party | None = None
    technician: str = ""
    place: Place = Place()
    origin: Origin | None = None
    line: Line
    runs: tuple[Run, ...] = ()
    talks: tuple[Talk, ...] = ()
    typed: tuple[Finding, ...] = ()
    edits: dict[str, Finding] = Field(default_factory=dict)
    """Edits by id of the finding they change; each carries an ``edit``."""
    marks: tuple[Mark, ...] = ()
    ties: tuple[Tie, ...] = ()
    locates: tuple[Locate, ...] = ()
    levels: tuple[GroundLevel, ...] = ()
    parcels: tuple[Parcel, ...] = ()
    mains: tuple[KnownMain, ...] = ()
    utilities: tuple[OtherUtility, ...] = ()
    start_point: PlanPoint | None = None
    start_point_sd_m: float | None = None
    start_bearing_deg: Estimate | None = None
    passes: tuple[JetPass, ...] = ()
    history: History = History()
    prices: PriceList | None = None
    notes: str = ""
