"""``saltglaze demo``: make the invented job, film it, run the main job on it."""

from __future__ import annotations

import sys
from pathlib import Path

import typer
from rich.console import Console
from rich.progress import Progress

from saltglaze.commands.appraise import appraise_job
from saltglaze.demo.make import make_demo
from saltglaze.errors import InputError
from saltglaze.store.job_toml import FILE


def run_demo(jobdir: Path, units: str, page: str, *, short: bool) -> None:
    """Make the demo job where there is none yet, and appraise it."""
    if not (jobdir / FILE).exists():
        _make(jobdir, short)
    elif not (jobdir / "truth.json").exists():
        raise InputError(
            "there is a job here that is not the demo", where=str(jobdir), mend="name a new folder"
        )
    appraise_job(jobdir, units, page, watch_again=False)


def _make(jobdir: Path, short: bool) -> None:
    typer.echo(f"Filming the invented job in {jobdir} (some minutes) ...")
    console = Console(file=sys.stderr)
    with Progress(console=console, disable=not console.is_terminal) as bars:
        task = bars.add_task("filming", total=1.0)
        make_demo(jobdir, lambda share: bars.update(task, completed=share), short=short)
