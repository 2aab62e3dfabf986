"""A job folder: what is in it, read whole, and written whole.

::

    job.toml        facts (see template.toml)
    run video, talk the files that job.toml names
    findings.csv    findings typed by hand, edits of drafted ones
    marks.csv  ties.csv  locates.csv  signals.csv  levels.csv  outlines.csv
    passes.csv      jetting passes
    services.csv    earlier visits
    history/*.json  former records of this line
    out/            what saltglaze writes
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from importlib.resources import files
from pathlib import Path
from typing import Final, ParamSpec, TypeVar

from saltglaze import atomic
from saltglaze.errors import InputError
from saltglaze.model.job import History, Job, Talk
from saltglaze.model.run import Run
from saltglaze.narration.transcripts import read_transcript
from saltglaze.store import findings_table, ground_tables, work_tables
from saltglaze.store.folder import MAX_TALK_BYTES, decode, inside, read_bytes
from saltglaze.store.history import read_history, visit_json
from saltglaze.store.job_toml import FILE, job_text, parse_job
from saltglaze.store.tables import Cell, System, Table, table_text

OUT: Final = "out"
TABLES: Final[tuple[Table, ...]] = (
    findings_table.FINDINGS,
    ground_tables.MARKS,
    ground_tables.TIES,
    ground_tables.LOCATES,
    ground_tables.SIGNALS,
    ground_tables.LEVELS,
    ground_tables.OUTLINES,
    work_tables.PASSES,
    work_tables.SERVICES,
)

_NO_FINDINGS: Final[findings_table.Typed] = ((), {})
_NO_OUTLINES: Final[ground_tables.Outlines] = ((), (), ())

Part = TypeVar("Part")
Default = TypeVar("Default")
Given = ParamSpec("Given")


def load_job(folder: Path) -> Job:
    """Return the job in a folder, with its tables and talks.

    Raises InputError, the first fault found, with file, line and field.
    """
    job, faults = inspect_job(folder)
    if faults:
        raise faults[0]
    assert job is not None
    return job


def inspect_job(folder: Path) -> tuple[Job | None, tuple[InputError, ...]]:
    """Return as much of the job as can be read, and every fault in it.

    The job is None where job.toml itself cannot be read.
    """
    reader = _Reader()
    job = reader.read(None, _read_toml, folder)
    if job is None:
        return None, tuple(reader.faults)
    for run in job.runs:
        reader.read(None, _check_video, folder, run)
    talks = [reader.read(None, _read_talk, folder, run) for run in job.runs]
    typed, edits = reader.read(_NO_FINDINGS, findings_table.read_findings, folder)
    marks = reader.read((), ground_tables.read_marks, folder)
    parcels, mains, utilities = reader.read(_NO_OUTLINES, ground_tables.read_outlines, folder)
    job = job.model_copy(
        update={
            "talks": tuple(talk for talk in talks if talk is not None),
            "typed": typed,
            "edits": edits,
            "marks": marks,
            "ties": reader.read((), ground_tables.read_ties, folder, marks),
            "locates": reader.read((), ground_tables.read_locates, folder),
            "levels": reader.read((), ground_tables.read_levels, folder),
            "parcels": parcels,
            "mains": mains,
            "utilities": utilities,
            "passes": reader.read((), work_tables.read_passes, folder),
            "history": History(
                visits=reader.read((), read_history, folder),
                services=reader.read((), work_tables.read_services, folder),
            ),
        }
    )
    return job, (*reader.faults, *_crossed_references(job))


class _Reader:
    """Reads part after part, keeps each fault, and goes on."""

    def __init__(self) -> None:
        self.faults: list[InputError] = []

    def read(
        self, otherwise: Default, read: Callable[Given, Part], *args: Given.args, **kw: Given.kwargs
    ) -> Part | Default:
        try:
            return read(*args, **kw)
        except InputError as fault:
            self.faults.append(fault)
            return otherwise


def _read_toml(folder: Path) -> Job:
    if not folder.is_dir():
        raise InputError(
            "there is no such folder",
            where=str(folder),
            mend="make one with: saltglaze new JOBDIR",
        )
    return parse_job(decode(read_bytes(folder / FILE), where=FILE))


def _check_video(folder: Path, run: Run) -> None:
    if run.video is None:
        return
    where = f"{FILE}, run {run.id}, field video"
    path = inside(folder, run.video, where=where)
    if not path.is_file():
        raise InputError(
            f"there is no file {run.video!r}",
            where=where,
            mend="copy the video into the job folder or take its name out",
        )
    if path.stat().st_size == 0:
        raise InputError("the video is empty (0 bytes)", where=run.video, mend="copy it again")


def _read_talk(folder: Path, run: Run) -> Talk | None:
    if run.narration is None:
        return None
    path = inside(folder, run.narration, where=f"{FILE}, run {run.id}, field narration")
    data = read_bytes(path, limit=MAX_TALK_BYTES)
    return Talk(run_id=run.id, transcript=read_transcript(data, run.narration))


def _crossed_references(job: Job) -> Iterable[InputError]:
    runs = [run.id for run in job.runs]
    for run_id in sorted({r for r in runs if runs.count(r) > 1}):
        yield InputError(f"the run id {run_id!r} stands twice", where=f"{FILE}, field runs.id")
    for locate in job.locates:
        if locate.run_id is not None and locate.run_id not in runs:
            yield InputError(
                f"the run {locate.run_id!r} is not in {FILE}",
                where=f"locates.csv, locate {locate.id}, column run",
                expected=f"one of {', '.join(runs) or 'the runs listed there'}",
            )
    for finding in job.typed:
        named = finding.evidence.run_id
        if named is not None and named not in runs:
            yield InputError(
                f"the run {named!r} is not in {FILE}",
                where=f"{finding.evidence.typed_in}, column run",
            )


def write_job(job: Job, folder: Path, system: System = "us") -> None:
    """Write a job as a folder: job.toml, its tables and history; films and talks are not touched.

    Raises OSError where the folder cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    atomic.write_text(folder / FILE, job_text(job, system))
    for table, rows in _tables_of(job):
        if rows:
            atomic.write_text(folder / table.file, table_text(table, rows, system))
    for visit in job.history.visits:
        path = folder / "history" / f"{visit.date.isoformat()}.json"
        atomic.write_text(path, visit_json(visit))


def _tables_of(job: Job) -> Iterable[tuple[Table, list[dict[str, Cell]]]]:
    outlines = ground_tables.outline_rows(job.parcels, job.mains, job.utilities)
    for table, rows in (
        (findings_table.FINDINGS, findings_table.finding_rows(job.typed)),
        (ground_tables.MARKS, ground_tables.mark_rows(job.marks)),
        (ground_tables.TIES, ground_tables.tie_rows(job.ties)),
        (ground_tables.LOCATES, ground_tables.locate_rows(job.locates)),
        (ground_tables.SIGNALS, ground_tables.signal_rows(job.locates)),
        (ground_tables.LEVELS, ground_tables.level_rows(job.levels)),
        (ground_tables.OUTLINES, outlines),
        (work_tables.PASSES, work_tables.pass_rows(job.passes)),
        (work_tables.SERVICES, work_tables.service_rows(job.history.services)),
    ):
        yield table, [dict(row) for row in rows]


def new_job(folder: Path, system: System = "us") -> tuple[Path, ...]:
    """Make an empty job folder: a commented job.toml and tables with their headers.

    Returns the files written. Raises InputError where the folder holds a job already.
    """
    if (folder / FILE).exists():
        raise InputError(
            "there is a job here already", where=str(folder / FILE), mend="name another folder"
        )
    template = files("saltglaze.store").joinpath("template.toml").read_text(encoding="utf-8")
    folder.mkdir(parents=True, exist_ok=True)
    for table in TABLES:
        atomic.write_text(folder / table.file, table_text(table, (), system))
    atomic.write_text(folder / FILE, template)
    return (folder / FILE, *(folder / table.file for table in TABLES))
