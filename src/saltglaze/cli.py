"""The command line: one small function a command, each translating and nothing more."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path
from types import FrameType
from typing import Annotated

import typer

from saltglaze import __version__
from saltglaze.errors import SaltglazeError

app = typer.Typer(
    help="From a camera run through a drain to a located, graded, costed record.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

STOPPED = 130
"""Exit code of a command stopped by Ctrl-C."""

JobDir = Annotated[Path, typer.Argument(metavar="JOBDIR", help="Job folder.")]
Units = Annotated[str, typer.Option(help="Units of the papers: us or metric.")]
Page = Annotated[str, typer.Option(help="Page size of the papers: letter or a4.")]


@app.command()
def new(
    jobdir: JobDir,
    units: Annotated[str, typer.Option(help="Units of the tables: us or metric.")] = "us",
) -> None:
    """Make an empty job folder with a commented job.toml."""
    from saltglaze.commands.new import make_new

    make_new(jobdir, units)


@app.command()
def check(jobdir: JobDir) -> None:
    """Say what is in a job folder, what is missing, and what is wrong."""
    from saltglaze.commands.check import check_job

    raise typer.Exit(check_job(jobdir))


@app.command()
def appraise(
    jobdir: JobDir,
    units: Units = "us",
    page: Page = "letter",
    watch_again: Annotated[
        bool, typer.Option("--watch-again", help="Watch the films again, even if they were.")
    ] = False,
) -> None:
    """Run the main job on a folder: record, report, sheet and exchange files go to JOBDIR/out."""
    from saltglaze.commands.appraise import appraise_job

    appraise_job(jobdir, units, page, watch_again=watch_again)


@app.command()
def demo(
    jobdir: JobDir,
    units: Units = "us",
    page: Page = "letter",
    short: Annotated[bool, typer.Option(help="A half-minute film instead of the whole.")] = False,
) -> None:
    """Make the invented job, film it, and run the main job on it."""
    from saltglaze.commands.demo import run_demo

    run_demo(jobdir, units, page, short=short)


@app.command()
def listen(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Transcript, audio or video file.")],
    json: Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")] = False,
    model: Annotated[
        Path | None, typer.Option(help="Folder of a speech model, for audio and video.")
    ] = None,
) -> None:
    """Print the findings and line facts drafted from what was said."""
    from saltglaze.commands.listen import listen_to

    listen_to(file, as_json=json, model=model)


@app.command()
def redact(
    jobdir: JobDir,
    copydir: Annotated[
        Path, typer.Argument(metavar="COPYDIR", help="New or empty folder for the copy.")
    ],
    units: Units = "us",
    page: Page = "letter",
) -> None:
    """Make a copy of the record and its papers without names, exact place, words or pictures."""
    from saltglaze.commands.redact import redact_record

    redact_record(jobdir, copydir, units, page)


@app.command()
def pack(
    jobdir: JobDir,
    zipfile: Annotated[Path, typer.Argument(metavar="ZIPFILE", help="ZIP file to write.")],
    film: Annotated[
        bool, typer.Option("--film/--no-film", help="Pack the films too, or leave them out.")
    ] = True,
) -> None:
    """Pack the whole job folder into one ZIP file."""
    from saltglaze.commands.pack import pack_job

    pack_job(jobdir, zipfile, film=film)


@app.command()
def schema() -> None:
    """Print the JSON Schema of record.json."""
    from saltglaze.store.record import schema_text

    typer.echo(schema_text(), nl=False)


@app.command()
def version() -> None:
    """Print the version."""
    typer.echo(__version__)


def main() -> None:
    """Run the command line; a deliberate error is one sentence and exit code 2."""
    # The matrices here are small: threads of the linear algebra would only wait on each other.
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    ctrl_c = _CtrlC()
    signal.signal(signal.SIGINT, ctrl_c)
    try:
        app()
    except (Exception, KeyboardInterrupt, SystemExit) as leaving:
        finished = isinstance(leaving, SystemExit) and not leaving.code
        if ctrl_c.pressed and not finished:
            typer.echo(
                "saltglaze: stopped; what was finished is kept, run it again to go on.", err=True
            )
            sys.exit(STOPPED)
        if isinstance(leaving, SaltglazeError):
            typer.echo(f"saltglaze: {leaving}", err=True)
            sys.exit(2)
        raise


class _CtrlC:
    """Interrupts as Python does, and remembers it.

    An interrupt is not always seen as one: the command line library makes an exit code of
    it, and a compiled module that is just being loaded makes an ImportError of it.
    """

    def __init__(self) -> None:
        self.pressed = False

    def __call__(self, number: int, frame: FrameType | None) -> None:
        self.pressed = True
        raise KeyboardInterrupt
