"""One camera pass through a line on one day."""

from __future__ import annotations

import datetime as dt
from enum import StrEnum

from saltglaze.model.base import Estimate, Record


class Direction(StrEnum):
    """Direction of travel and of view, against the flow in the pipe."""

    WITH_FLOW = "with_flow"
    AGAINST_FLOW = "against_flow"


class LengthUnit(StrEnum):
    """Unit of a distance counter or a tape."""

    FEET = "ft"
    METRES = "m"


class Run(Record):
    """A pass of the camera: film, talk, counter, start.

    ``video``, ``narration`` are paths relative to the job folder, or ``None``.
    ``start_station_m`` is where the lens was on the line's stationing when the run
    began (0 at the start access); a run from the opposite end gives the far access
    and ``reversed_stationing`` true, so that its distances count down the line.
    """

    id: str
    date: dt.date | None = None
    video: str | None = None
    narration: str | None = None
    direction: Direction | None = None
    start_access: str | None = None
    counter_unit: LengthUnit | None = None
    start_station_m: Estimate = Estimate.of(0.0, 0.1)
    reversed_stationing: bool = False
    camera: str = ""
    self_levelling: bool | None = None
    sonde_behind_lens_m: float | None = None
    """How far the transmitter's centre trails the lens along the rod; None if not stated."""


class JetPass(Record):
    """One trip of the jet: nozzle, pressure, flow, stations, direction."""

    id: str
    date: dt.date | None = None
    nozzle: str = ""
    nozzle_kind: str | None = None
    """flushing, penetrating, rotating, descaling, root_cutter; see cleaning/"""
    pump_pressure_pa: float | None = None
    flow_m3_s: float | None = None
    hose_bore_m: float | None = None
    hose_length_m: float | None = None
    from_station_m: float | None = None
    to_station_m: float | None = None
    direction: Direction | None = None
    dwell_s: float | None = None
    note: str = ""
