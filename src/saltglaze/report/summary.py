"""The job summary for the office: plain text that mails and prints anywhere."""

from __future__ import annotations

import textwrap

from saltglaze.report.answers import chosen, headline
from saltglaze.report.frame import Frame

_WIDTH = 88


def summary(frame: Frame) -> str:
    """Return the summary, wrapped at 88 columns."""
    parts = [
        *_head(frame),
        "",
        *_done(frame),
        "",
        *_findings(frame),
        "",
        *_next(frame),
        "",
        *_doubts(frame),
    ]
    return "\n".join(line.rstrip() for line in parts).strip() + "\n"


def _row(label: str, value: str) -> list[str]:
    return textwrap.wrap(f"{label + ':':<16}{value}", _WIDTH, subsequent_indent=" " * 16)


def _title(text: str) -> list[str]:
    return [text, "-" * len(text)]


def _head(frame: Frame) -> list[str]:
    words, job = frame.words, frame.appraisal.job
    lines = _title(words("summary.title", id=job.id))
    if job.invented:
        lines.append(words("invented.short"))
    lines += _row(words("summary.site"), frame.site)
    lines += _row(words("summary.date"), frame.measures.date(frame.day))
    lines += _row(words("estimate.for"), ", ".join(frame.party(job.owner, words("owner.unknown"))))
    lines += _row(
        words("estimate.by"), f"{frame.firm}{', ' + job.technician if job.technician else ''}"
    )
    return lines


def _done(frame: Frame) -> list[str]:
    words, measures, a = frame.words, frame.measures, frame.appraisal
    lines = _title(words("summary.done"))
    lines += _row(words("summary.runs"), str(len(a.job.runs)))
    lines += _row(words("method.length"), measures.length(a.position.length_m))
    for jet in a.job.passes:
        pressure = (
            measures.pressure(jet.pump_pressure_pa)
            if jet.pump_pressure_pa
            else words("number.unknown")
        )
        lines += _row(
            words("summary.jet"),
            f"{jet.nozzle or jet.nozzle_kind or words('number.unknown')}, {pressure}",
        )
    lines += _row(
        words("summary.stages"),
        ", ".join(words.get(f"stage.{s.stage}") or s.stage for s in a.stages if s.done)
        or words("estimate.nothing"),
    )
    return lines


def _findings(frame: Frame) -> list[str]:
    words = frame.words
    lines = _title(words("summary.findings", count=len(frame.findings)))
    lines += textwrap.wrap(headline(frame), _WIDTH)
    for f in frame.findings:
        place = f.item.place
        where = frame.measures.stretch(place.station_m, place.end_station_m)
        grade = str(f.grade) if f.grade is not None else "-"
        lines += textwrap.wrap(
            f"{f.number:>3}  [{grade}]  {frame.name(f)}, {where}",
            _WIDTH,
            subsequent_indent=" " * 10,
        )
    return lines


def _next(frame: Frame) -> list[str]:
    words, measures, a = frame.words, frame.measures, frame.appraisal
    lines = _title(words("summary.next"))
    option = chosen(frame)
    lines += _row(words("summary.advised"), option.title if option else words("do.unknown"))
    if option is not None:
        lines += _row(
            words("head.first_cost"), measures.money(option.first_cost, a.remedy.currency)
        )
    if a.remedy.by is not None:
        lines += _row(words("summary.by"), measures.date(a.remedy.by))
    due = a.cleaning.advice.due
    lines += _row(
        words("summary.due"),
        measures.date(due) if due else measures.unknown(a.cleaning.advice.interval_years),
    )
    return lines


def _doubts(frame: Frame) -> list[str]:
    words, a = frame.words, frame.appraisal
    every = (*a.checks, *a.position.checks, *a.drainage.checks)
    doubts = [f"{c.name}: {c.reason}" for c in every if c.verdict == "doubt"]
    doubts += [
        f"{words.get(f'stage.{s.stage}') or s.stage}: {s.why}" for s in a.stages if not s.done
    ]
    lines = _title(words("summary.doubts"))
    if not doubts:
        return [*lines, words("summary.no_doubts")]
    for doubt in doubts:
        lines += textwrap.wrap(f"- {doubt}", _WIDTH, subsequent_indent="  ")
    return lines
