"""``saltglaze new``: an empty job folder."""

from __future__ import annotations

from pathlib import Path

import typer

from saltglaze.commands.choices import units_of
from saltglaze.store.jobfolder import new_job


def make_new(jobdir: Path, units: str) -> None:
    """Make the folder and say what to do next."""
    written = new_job(jobdir, units_of(units))
    typer.echo(f"Made {jobdir} with {len(written)} files.")
    typer.echo("Fill in job.toml, put the video and the talk beside it, then run:")
    typer.echo(f"  saltglaze check {jobdir}")
    typer.echo(f"  saltglaze appraise {jobdir}")
