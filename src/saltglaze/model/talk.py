"""What the ear heard: cues, mentions, facts about the line."""

from __future__ import annotations

from enum import StrEnum

from saltglaze.model.base import Estimate, Record


class Cue(Record):
    """A stretch of transcript. ``end_s`` is ``None`` where the file gives none."""

    start_s: float
    end_s: float | None = None
    text: str
    speaker: str = ""
    source_line: int | None = None


class Transcript(Record):
    """Cues in time order, and what was wrong with the file they came from."""

    cues: tuple[Cue, ...] = ()
    source: str = ""
    problems: tuple[str, ...] = ()


class Correction(Record):
    """A mis-heard word and what it was understood as."""

    heard: str
    understood: str
    because: str


class MentionKind(StrEnum):
    """What a stretch of talk is about."""

    PIPE = "pipe"
    STATION = "station"
    LINE_FACT = "line_fact"
    CLEANING = "cleaning"
    OWNERSHIP = "ownership"
    RECORDS = "records"
    ADVICE = "advice"
    DENIAL = "denial"
    TALK = "talk"


class Mention(Record):
    """A stretch of narration that says something, and how it was understood."""

    id: str
    start_s: float
    end_s: float
    text: str
    kind: MentionKind
    corrections: tuple[Correction, ...] = ()
    about: str = ""


class SpokenStation(Record):
    """A distance called out aloud ("we're at forty two feet"), metres of counter."""

    time_s: float
    distance_m: Estimate
    text: str


class LineFactKind(StrEnum):
    """Facts about the line that talk can give."""

    MATERIAL = "material"
    DIAMETER = "diameter"
    SECTION_LENGTH = "section_length"
    DIRECTION = "direction"
    START_ACCESS = "start_access"
    SERVICE = "service"
    RECORD = "record"
    HOUSE_CONNECTION = "house_connection"
    CLEANING = "cleaning"
    OWNERSHIP = "ownership"
    YEAR = "year"
    DEPTH = "depth"
    LENGTH = "length"


class LineFact(Record):
    """Something the talk says about the line, in the words it came from.

    ``value`` is normalised text (a Material value, "with_flow"); ``number`` the
    quantity in the SI unit its kind implies (metres for lengths and diameters).
    """

    kind: LineFactKind
    time_s: float
    value: str | None = None
    number: Estimate | None = None
    supposed: bool = False
    text: str
