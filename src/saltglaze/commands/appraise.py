"""``saltglaze appraise``: the main job on a folder."""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import typer
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

from saltglaze.appraise import appraise
from saltglaze.checks import all_checks
from saltglaze.commands.choices import page_of, units_of
from saltglaze.commands.stills import take_stills
from saltglaze.commands.watching import Progress as OnProgress
from saltglaze.commands.watching import watch_films
from saltglaze.condition.wording import METRIC, US
from saltglaze.exchange.write import write_exchange
from saltglaze.model.appraisal import Appraisal, Verdict
from saltglaze.report.papers import write_papers
from saltglaze.store.jobfolder import OUT, load_job
from saltglaze.store.record import save_record


def appraise_job(jobdir: Path, units: str, page: str, *, watch_again: bool) -> Appraisal:
    """Watch, appraise and write; print where the report lies. Returns the answer."""
    system, sheet = units_of(units), page_of(page)
    job = load_job(jobdir)
    out = jobdir / OUT
    with _progress() as on_progress:
        tracks = watch_films(jobdir, job, out, again=watch_again, on_progress=on_progress)
        on_progress("appraising", 0.0)
        appraisal = appraise(job, tracks, words=METRIC if system == "metric" else US)
        appraisal = take_stills(jobdir, out, appraisal)
        appraisal = appraisal.model_copy(update={"made_at": dt.datetime.now(dt.UTC)})
        on_progress("appraising", 1.0)
        save_record(appraisal, out)
        on_progress("papers", 0.0)
        papers = write_papers(appraisal, out, units=system, page=sheet)
        exchange = write_exchange(appraisal, out)
        on_progress("papers", 1.0)
    _tell(appraisal, out, (*papers, *exchange))
    return appraisal


@contextmanager
def _progress() -> Iterator[OnProgress]:
    """A bar for each film and stage on a terminal; silence elsewhere."""
    columns = (TextColumn("{task.description:<12}"), BarColumn(), TimeElapsedColumn())
    console = Console(file=sys.stderr)
    with Progress(*columns, console=console, disable=not console.is_terminal) as bars:
        tasks: dict[str, int] = {}

        def on_progress(name: str, share: float) -> None:
            if name not in tasks:
                tasks[name] = bars.add_task(name, total=1.0)
            bars.update(tasks[name], completed=share)  # type: ignore[arg-type]

        yield on_progress


def _tell(appraisal: Appraisal, out: Path, written: tuple[Path, ...]) -> None:
    typer.echo(appraisal.grade.plain)
    typer.echo(appraisal.remedy.plain)
    for stage in appraisal.stages:
        if not stage.done:
            typer.echo(f"skipped {stage.stage}: {stage.why}")
    for check in all_checks(appraisal):
        if check.verdict is Verdict.DOUBT:
            typer.echo(f"doubt {check.name}: {check.reason}")
    typer.echo(f"{len(written) + 1} files in {out}")
    typer.echo(f"Report: {out / 'report.pdf'} and {out / 'report.html'}")
