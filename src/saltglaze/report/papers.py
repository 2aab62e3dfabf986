"""Writes all papers of one appraisal to the output folder, each at one stroke."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from saltglaze import atomic
from saltglaze.errors import InputError
from saltglaze.model.appraisal import Appraisal
from saltglaze.report.blocks import Paper
from saltglaze.report.digs import dig_sheets
from saltglaze.report.estimate import estimate
from saltglaze.report.frame import Frame
from saltglaze.report.ids import numbers_for_ids
from saltglaze.report.letters import records_letter, return_card
from saltglaze.report.measures import Measures, UnitSystem
from saltglaze.report.owner import owner_report
from saltglaze.report.page import html
from saltglaze.report.prose import in_reader_units
from saltglaze.report.sheet.sheet import SHEET_MM, Page, sheets
from saltglaze.report.sheet.stack import stacked
from saltglaze.report.sheet.svg import svg
from saltglaze.report.sheetpdf import sheet_paper
from saltglaze.report.summary import summary
from saltglaze.report.typeset import pdf
from saltglaze.report.wording import Words

Progress = Callable[[str], None]


def write_papers(
    appraisal: Appraisal,
    out: Path,
    *,
    units: UnitSystem = "us",
    page: Page = "letter",
    language: str = "en",
    on_progress: Progress | None = None,
) -> tuple[Path, ...]:
    """Write every paper into ``out`` and return their paths.

    Stills are read from ``out`` under the paths the appraisal gives; a missing or
    unreadable one is said in its place. Each file is written beside its place and
    moved there whole. Dig sheets are written only where there is a dig, the estimate
    only where there is an option.

    Raises
    ------
    InputError
        For an unknown unit system, page or language.
    """
    if units not in ("us", "metric"):
        raise InputError(f"no units {units!r}", where="units", expected="us or metric")
    if page not in SHEET_MM:
        raise InputError(f"no page {page!r}", where="page", expected=" or ".join(SHEET_MM))
    words = Words(language)
    told = in_reader_units(appraisal, units)
    frame = Frame(told, words, Measures(units, words), page)
    out.mkdir(parents=True, exist_ok=True)
    written = []
    for name, make in _papers(frame, out).items():
        if on_progress is not None:
            on_progress(name)
        content = make()
        path = out / name
        if content is None:
            path.unlink(missing_ok=True)
            continue
        atomic.write_bytes(path, content)
        written.append(path)
    return tuple(written)


def _papers(frame: Frame, out: Path) -> dict[str, Callable[[], bytes | None]]:
    """Return each paper's maker by file name; the sheet is drawn once for all."""
    scenes = sheets(frame.appraisal, frame.measures, frame.page)
    report = numbers_for_ids(frame, owner_report(frame, scenes, out))
    made_at = frame.appraisal.made_at

    def paged(paper: Paper | None) -> bytes | None:
        return None if paper is None else pdf(numbers_for_ids(frame, paper), frame.page, made_at)

    return {
        "report.pdf": lambda: pdf(report, frame.page, made_at),
        "report.html": lambda: html(report, frame.words).encode(),
        "sheet.svg": lambda: svg(stacked(scenes)).encode(),
        "sheet.pdf": lambda: pdf(sheet_paper(frame, scenes), frame.page, made_at),
        "dig-sheets.pdf": lambda: paged(dig_sheets(frame)),
        "estimate.pdf": lambda: paged(estimate(frame)),
        "return-card.pdf": lambda: paged(return_card(frame)),
        "records-letter.pdf": lambda: paged(records_letter(frame)),
        "job-summary.txt": lambda: summary(frame).encode(),
    }
