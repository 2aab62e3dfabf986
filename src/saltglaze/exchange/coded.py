"""EN 13508-2 text exchange: written strictly, read leniently.

The shape of the file (``#A1`` to ``#A5``, ``#B01``, ``#C``, ``#Z``) and the letters of
the columns are from memory of the standard (A1:2011), not read in it; column L is left
out because its meaning could not be confirmed. A finding whose main code is not known
is written as a general remark, BDB, which carries it in words. Observations stand in
order of distance from where the run began; a stretch is two lines with one number, A1
where it starts and B1 where it ends, and for a low spot C1 where it is deepest.
"""

from __future__ import annotations

import csv
import io
import itertools
from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from saltglaze.errors import InputError
from saltglaze.exchange.plain_text import one_line
from saltglaze.model.appraisal import Appraisal, AppraisedFinding, Code, Sag
from saltglaze.model.finding import Feature
from saltglaze.model.run import Direction, Run

COLUMNS: Final = ("I", "J", "A", "B", "C", "D", "E", "G", "H", "K", "M", "N", "F")
"""I distance in metres, J continuous, A main code, B and C characterisation, D and E
quantification, G and H clock, K joint, M picture, N film time, F remark."""

GENERAL_REMARK: Final = "BDB"
OPEN_END: Final = "runs on, end not measured"

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
    rows: list[_Row] = []
    numbers = itertools.count(1)
    for found in appraisal.findings:
        if found.finding.stands and _belongs(found, run, first):
            still = stills.get(found.finding.id, "")
            rows += _observations(found, run, appraisal.position.sags, still, numbers)
    for row in sorted(rows, key=lambda row: row.distance_m):
        fields = row.fields | {"I": f"{round(row.distance_m, 2) + 0.0:.2f}"}
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
        "AAB": run.start_access or "",
        "AAJ": one_line(", ".join(x for x in (job.place.address, job.place.town) if x)),
        "AAK": _DIRECTIONS.get(direction, "C") if direction else "C",
        "ABA": "EN 13508-2:2003+A1:2011",
        "ABF": str(run.date or job.date or ""),
        "ABH": one_line(job.technician),
        "ADE": "INVENTED DATA" if job.invented else "",
    }


class _Row(NamedTuple):
    """An observation on its way to its place in the order of distance."""

    distance_m: float
    fields: dict[str, str]


def _observations(
    found: AppraisedFinding, run: Run, sags: Sequence[Sag], still: str, numbers: Iterator[int]
) -> Iterator[_Row]:
    """A point is one line, a stretch its start, deepest and end; soil or a void its own."""
    place = found.place
    start_m = _distance(run, place.station_m.value or 0.0)
    end_m = place.end_station_m.value if place.end_station_m else None
    fields = _fields(found.code, found.plain)
    film = {"M": one_line(still), "N": _film_time(found.finding.start_s)}
    if end_m is None:
        open_end = {"F": _joined(fields["F"], OPEN_END)} if found.code.continuous else {}
        yield _Row(start_m, fields | film | open_end)
    else:
        number = next(numbers)
        first_m, last_m = sorted((start_m, _distance(run, end_m)))
        yield _Row(first_m, fields | film | {"J": f"A{number}"})
        for row in _deepest(found, run, sags, first_m, last_m):
            yield _Row(row.distance_m, fields | row.fields | {"J": f"C{number}"})
        yield _Row(last_m, fields | {"J": f"B{number}"})
    for code in found.beside:
        yield _Row(start_m, _fields(code, "") | film)


def _deepest(
    found: AppraisedFinding, run: Run, sags: Sequence[Sag], first_m: float, last_m: float
) -> Iterator[_Row]:
    """Return the deepest place of a low spot, with its water, where it was worked out."""
    if found.finding.facts.feature is not Feature.SAG:
        return
    for sag in sags:
        lowest, share = sag.lowest_m.value, sag.water_share
        if lowest is not None and first_m < _distance(run, lowest) < last_m:
            level = share.value if share is not None else None
            water = {} if level is None else {"D": f"{level * 100.0:.0f}"}
            yield _Row(_distance(run, lowest), water)
            return


def _distance(run: Run, station_m: float) -> float:
    """Return the distance from where a run began: its own zero, and its own direction."""
    begun_m = run.start_station_m.value or 0.0
    return begun_m - station_m if run.reversed_stationing else station_m - begun_m


def _fields(code: Code, plain: str) -> dict[str, str]:
    if code.main in (None, GENERAL_REMARK):
        return {"A": GENERAL_REMARK, "F": one_line(_joined(plain, code.remark))}
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


def _joined(*parts: str) -> str:
    return "; ".join(part for part in parts if part)


def _film_time(time_s: float | None) -> str:
    if time_s is None:
        return ""
    minutes, seconds = divmod(int(time_s), 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}:{seconds:02d}"


def _quoted(value: str) -> str:
    value = one_line(value)
    if all(c.isalnum() or c in ".:-+/" for c in value):
        return value
    doubled = value.replace('"', '""')
    return f'"{doubled}"'


def parse_coded(text: str) -> tuple[Inspection, ...]:
    """Return the inspections of an exchange text.

    Either separator and either text delimiter is taken, and a last ``#Z`` may be
    missing. Raises InputError for a line that fits no block or has too many fields.
    """
    spelling = _Spelling()
    inspections: list[Inspection] = []
    header: dict[str, str] = {}
    observations: list[Observation] = []
    names: list[str] | None = None
    letters: list[str] | None = None
    for count, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1):
        tag, _, value = line.partition("=")
        if tag.startswith("#A"):
            spelling = spelling.told(tag, value)
        elif tag.startswith("#B"):
            names, letters = spelling.cells(value, count), None
        elif tag == "#C":
            names, letters = None, spelling.cells(value, count)
        elif line.startswith("#Z"):
            inspections.append(Inspection(header, tuple(observations)))
            header, observations, names, letters = {}, [], None, None
        elif not line.strip():
            continue
        elif names is not None:
            header |= _named(names, spelling.cells(line, count), count)
        elif letters is not None:
            fields = _named(letters, spelling.cells(line, count), count)
            observations.append(Observation(fields))
        else:
            raise InputError("the line belongs to no block", where=f"line {count}")
    if header or observations:
        inspections.append(Inspection(header, tuple(observations)))
    return tuple(inspections)


class _Spelling(NamedTuple):
    """How the fields of a line are told apart."""

    separator: str = ";"
    delimiter: str = '"'

    def told(self, tag: str, value: str) -> _Spelling:
        """Return the spelling after a ``#A`` line; what it cannot mean is passed over."""
        if tag == "#A3" and value in (",", ";"):
            return self._replace(separator=value)
        if tag == "#A5" and value in ("'", '"'):
            return self._replace(delimiter=value)
        return self

    def cells(self, line: str, count: int) -> list[str]:
        rows = csv.reader(io.StringIO(line), delimiter=self.separator, quotechar=self.delimiter)
        try:
            return next(rows, [])
        except csv.Error as error:
            fault = f"the fields cannot be told apart ({error})"
            raise InputError(fault, where=f"line {count}") from None


def _named(names: Sequence[str], cells: Sequence[str], count: int) -> dict[str, str]:
    if len(cells) > len(names):
        raise InputError(
            f"{len(cells)} fields stand under {len(names)} codes", where=f"line {count}"
        )
    return dict(zip(names, cells, strict=False))
