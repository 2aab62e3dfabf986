"""``saltglaze redact``: a copy of a record for sharing."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import typer

from saltglaze.commands.choices import page_of, units_of
from saltglaze.errors import InputError
from saltglaze.exchange.redact import redact
from saltglaze.exchange.write import write_exchange
from saltglaze.report.papers import write_papers
from saltglaze.store.jobfolder import OUT
from saltglaze.store.record import FILE, load_record, save_record

TO_SOMEONE: Final = ("records-letter.pdf", "return-card.pdf")
"""Papers written to somebody; a copy has nobody to write to."""

TO_DIG_BY: Final = ("dig-sheets.pdf",)
"""Papers to dig by; a copy shows no other utilities, so that nobody should."""


def redact_record(jobdir: Path, copydir: Path, units: str, page: str) -> None:
    """Write the redacted record, its papers and exchange files; say what to look at.

    Raises InputError where there is no record yet, or the copy's folder holds
    something or lies in the job's output.
    """
    system, sheet = units_of(units), page_of(page)
    _check_free(copydir, jobdir / OUT)
    record = jobdir / OUT / FILE
    if not record.exists():
        raise InputError(
            "there is no record yet", where=str(record), mend=f"run: saltglaze appraise {jobdir}"
        )
    copy = redact(load_record(record))
    save_record(copy, copydir)
    papers = [
        path
        for path in write_papers(copy, copydir, units=system, page=sheet)
        if path.name not in (*TO_SOMEONE, *TO_DIG_BY)
    ]
    for name in (*TO_SOMEONE, *TO_DIG_BY):
        (copydir / name).unlink(missing_ok=True)
    exchange = write_exchange(copy, copydir)
    typer.echo(f"{len(papers) + len(exchange) + 1} files in {copydir}")
    typer.echo("Read the copy before you share it: a name that was only ever spoken is not known.")


def _check_free(copydir: Path, out: Path) -> None:
    if copydir.resolve().is_relative_to(out.resolve()):
        raise InputError(
            "the copy would lie among the papers that name people",
            where=str(copydir),
            mend="name a folder outside the job",
        )
    if copydir.exists() and (not copydir.is_dir() or any(copydir.iterdir())):
        raise InputError(
            "there is something here already",
            where=str(copydir),
            expected="a new or empty folder",
            mend="name another folder",
        )
