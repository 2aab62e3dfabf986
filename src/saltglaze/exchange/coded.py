"""EN 13508-2 text exchange: written strictly, read leniently.

The shape of the file (``#A1`` to ``#A5``, ``#B01``, ``#C``, ``#Z``) and the letters of
the columns are from memory of the standard (A1:2011), not read in it; column L is left
out because its meaning could not be confirmed. A finding whose main code is not known
is written as a general remark, BDB, which carries it in words.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple

from saltglaze.errors import InputError
from saltglaze.exchange.plain_text import one_line
from saltglaze.model.appraisal import Appraisal, AppraisedFinding, Code
from saltglaze.model.run import Direction, Run

COLUMNS: Final = ("I", "J", "A", "B", "C", "D", "E", "G", "H", "K", "M", "N", "F")
"""I distance in metres, J continuous, A main code, B and C characterisation, D and E
quantification, G and H clock, K joint, M picture, N film time, F remark."""

_DIRECTIONS: Final = {Direction.WITH_FLOW: "A", Direction.AGAINST_FLOW: "B"}


class Observation(NamedTuple):
    """One line of the exchange, fields by column letter."""

    fields: dict[str, str]


class Inspection(NamedTuple):
    """One inspection of the exchange: header fields by code, and its observations."""

    header: dict[str, str]
    observations: tuple[Observation, ...]


def coded_text(appraisal: Appraisal) -> str:
    """Return the appraisal as EN 13508-2 exchange text, an inspection a run.

    Findings without a station cannot be placed and are left out; they stay in the
    table and the record.
    """
    runs = appraisal.job.runs or (Run(id="typed"),)
    lines = ["#A1=UTF-8", "#A2=en", "#A3=;", "#A4=.", '#A5="']
    for run in runs:
        lines += _inspection(appraisal, run, first=run is runs[0])
    return "\n".join(lines) + "\n"


def _inspection(appraisal: Appraisal, run: Run, *, first: bool) -> Iterator[str]:
    header = _header(appraisal, run)
    yield f"#B01={';'.join(header)}"
    yield ";".join(_quoted(value) for value in header.values())
    yield f"#C={';'.join(COLUMNS)}"
    stills = {still.finding_id: still.path for still in appraisal.stills}
    for found in appraisal.findings:
        if found.finding.stands and _belongs(found, run, first):
            for fields in _observations(found, stills.get(found.finding.id, "")):
                yield ";".join(_quoted(fields.get(letter, "")) for letter in COLUMNS)
    yield "#Z"


def _belongs(found: AppraisedFinding, run: Run, first: bool) -> bool:
    of = found.finding.evidence.run_id
    return found.place.station_m.known and (of == run.id or (of is None and first))


def _header(appraisal: Appraisal, run: Run) -> dict[str, str]:
    job = appraisal.job
    direction = run.direction or appraisal.direction
    return {
        "AAA": job.line.id,
        "AAJ": one_line(", ".join(x for x in (job.place.address, job.place.town) if x)),
        "AAK": _DIRECTIONS.get(direction, "C") if direction else "C",
        "ABA": "EN 13508-2:2003+A1:2011",
        "ABF": (run.date or job.date or "").__str__(),
        "ABH": one_line(job.technician),
        "ADE": "INVENTED DATA" if job.invented else "",
    }


def _observations(found: AppraisedFinding, still: str) -> Iterator[dict[str, str]]:
    """A point is one line; a stretch is a start (A1) and an end (B1)."""
    place, start_s = found.place, found.finding.start_s
    fields = _fields(found.code, found.plain)
    fields |= {"M": still, "N": _film_time(start_s)}
    end = place.end_station_m
    if end is None or end.value is None:
        yield fields | {"I": _metres(place.station_m.value)}
        return
    number = sum(map(ord, found.finding.id)) % 89 + 1
    yield fields | {"I": _metres(place.station_m.value), "J": f"A{number}"}
    yield fields | {"I": _metres(end.value), "J": f"B{number}", "M": "", "N": ""}


def _fields(code: Code, plain: str) -> dict[str, str]:
    if code.main is None:
        return {"A": "BDB", "F": one_line(plain)}
    return {
        "A": code.main,
        "B": code.ch1 or "",
        "C": code.ch2 or "",
        "D": "" if code.q1 is None else f"{code.q1:g}",
        "E": "" if code.q2 is None else f"{code.q2:g}",
        "G": "" if code.clock1_h is None else f"{code.clock1_h:d}",
        "H": "" if code.clock2_h is None else f"{code.clock2_h:d}",
        "K": "A" if code.joint else "",
        "F": one_line(code.remark or plain),
    }


def _metres(value: float | None) -> str:
    return "" if value is None else f"{value:.2f}"


def _film_time(time_s: float | None) -> str:
    if time_s is None:
        return ""
    minutes, seconds = divmod(int(time_s), 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}:{seconds:02d}"


def _quoted(value: str) -> str:
    if not value or all(c.isalnum() or c in ".:-+/" for c in value):
        return value
    doubled = value.replace('"', '""')
    return f'"{doubled}"'


def parse_coded(text: str) -> tuple[Inspection, ...]:
    """Return the inspections of an exchange text.

    Either separator is taken, and a last ``#Z`` may be missing. Raises InputError for
    a line that fits no block.
    """
    separator = ";"
    inspections: list[Inspection] = []
    header: dict[str, str] = {}
    observations: list[Observation] = []
    names: list[str] | None = None
    letters: list[str] | None = None
    for count, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1):
        tag, _, value = line.partition("=")
        if tag == "#A3" and value in (",", ";"):
            separator = value
        elif tag.startswith("#B"):
            names, letters = _cells(value, separator), None
        elif tag == "#C":
            names, letters = None, _cells(value, separator)
        elif line.startswith("#Z"):
            inspections.append(Inspection(header, tuple(observations)))
            header, observations, names, letters = {}, [], None, None
        elif line.startswith("#A") or not line.strip():
            continue
        elif names is not None:
            header |= _named(names, _cells(line, separator), count)
        elif letters is not None:
            observations.append(Observation(_named(letters, _cells(line, separator), count)))
        else:
            raise InputError("the line belongs to no block", where=f"line {count}")
    if header or observations:
        inspections.append(Inspection(header, tuple(observations)))
    return tuple(inspections)


def _cells(line: str, separator: str) -> list[str]:
    return next(csv.reader(io.StringIO(line), delimiter=separator), [])


def _named(names: Iterable[str], cells: list[str], count: int) -> dict[str, str]:
    names = list(names)
    if len(cells) > len(names):
        raise InputError(
            f"{len(cells)} fields stand under {len(names)} codes", where=f"line {count}"
        )
    return dict(zip(names, cells, strict=False))
