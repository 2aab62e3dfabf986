"""``saltglaze check``: what is in a job folder, what is missing, what is wrong."""

from __future__ import annotations

from collections.abc import Sized
from pathlib import Path

import typer

from saltglaze.model.job import Job
from saltglaze.store.jobfolder import inspect_job

FAULT_EXIT = 2


def check_job(jobdir: Path) -> int:
    """Print what was found and return the exit code: 2 where something is wrong."""
    job, faults = inspect_job(jobdir)
    if job is not None:
        for name, have, use in _inventory(job):
            typer.echo(f"{'have' if have else 'none'}  {name:<18} {have or use}")
        for talk in job.talks:
            for problem in talk.transcript.problems:
                typer.echo(f"note  {talk.transcript.source}: {problem}")
    for fault in faults:
        typer.echo(f"fault {fault}")
    typer.echo(f"{len(faults)} faults." if len(faults) != 1 else "1 fault.")
    return FAULT_EXIT if faults else 0


def _inventory(job: Job) -> tuple[tuple[str, str, str], ...]:
    """Name, what there is (empty: nothing), and what it would be good for."""
    videos = [run.video for run in job.runs if run.video]
    cues = sum(len(talk.transcript.cues) for talk in job.talks)
    return (
        ("video", ", ".join(videos), "counter, roll, water and stills would come from it"),
        ("narration", f"{cues} cues" if cues else "", "findings would be drafted from it"),
        ("typed findings", _count(job.typed, "finding"), "findings.csv may hold your own"),
        ("edits", _count(job.edits, "edit"), "findings.csv may change what was drafted"),
        ("pipe segments", _count(job.line.segments, "segment"), "material and bore by station"),
        ("fixtures", _count(job.line.fixtures, "kind"), "the peak flow would come from them"),
        ("start point", "given" if job.start_point else "", "where the line leaves the house"),
        ("marks", _count(job.marks, "mark"), "ties need marks to start from"),
        ("ties", _count(job.ties, "tie"), "two tapes fix a point without a receiver"),
        ("locates", _count(job.locates, "locate"), "without them there is no plan"),
        ("ground levels", _count(job.levels, "level"), "the fall of the line needs them"),
        ("parcels", _count(job.parcels, "outline"), "whose stretch is whose"),
        ("public main", _count(job.mains, "main"), "where the line should end"),
        ("ownership rule", _rule(job), "without a cited rule the owner of the pipe stays unknown"),
        ("jetting passes", _count(job.passes, "pass", "passes"), "pressures would be checked"),
        ("earlier visits", _count(job.history.services, "visit"), "when to come back"),
        ("former record", _count(job.history.visits, "record"), "what has changed"),
        ("price list", job.prices.name if job.prices else "", "the built-in planning prices serve"),
    )


def _rule(job: Job) -> str:
    return job.place.ownership.citation if job.place.ownership else ""


def _count(items: Sized, one: str, many: str = "") -> str:
    return f"{len(items)} {one if len(items) == 1 else many or one + 's'}" if items else ""
