"""The owner's report: page one, the sheet, findings, and everything behind them."""

from __future__ import annotations

from pathlib import Path

from saltglaze.model.appraisal import Change
from saltglaze.report.answers import answers, headline, serious
from saltglaze.report.blocks import (
    Block,
    Figures,
    Note,
    Paper,
    Para,
    Section,
    Table,
)
from saltglaze.report.cards import NO_PLACE_ON_THE_WALL, cards
from saltglaze.report.frame import Frame
from saltglaze.report.grounds import cautions, checks, method, not_seen, reasons
from saltglaze.report.numbering import Numbered
from saltglaze.report.prose import without_name
from saltglaze.report.sheet.scene import Scene
from saltglaze.report.sheet.strip import strip
from saltglaze.report.sheet.survey import survey
from saltglaze.report.worth import cleaning, drainage, options, ownership


def owner_report(frame: Frame, scenes: tuple[Scene, ...], folder: Path) -> Paper:
    """Return the whole report; stills are read from ``folder``."""
    words = frame.words
    job = frame.appraisal.job
    opening: list[Block] = [*frame.invented, Para(headline(frame), "lead")]
    line = strip(survey(frame.appraisal), serious(frame), frame.measures)
    if line is not None:
        opening.append(Figures((frame.drawing(line, "strip"),)))
    opening.append(answers(frame))
    opening.append(Note(words("caution.first", number=job.place.one_call), "caution"))
    drawings = tuple(frame.drawing(s, f"sheet{i}") for i, s in enumerate(scenes, start=1))
    sections = [
        Section("sheet", words("section.sheet"), (Figures(drawings, landscape=True),)),
        _findings(frame, folder),
        _changes(frame),
        drainage(frame),
        options(frame),
        not_seen(frame),
        cleaning(frame),
        ownership(frame),
        method(frame),
        reasons(frame),
        checks(frame),
        cautions(frame),
    ]
    return Paper(
        language=words.language,
        title=_title(frame),
        subtitle=_subtitle(frame),
        heading=words("report.heading", firm=frame.firm),
        author=job.firm.name if job.firm else "",
        foot=frame.foot,
        opening=tuple(opening),
        sections=tuple(s for s in sections if s.blocks),
    )


def _title(frame: Frame) -> str:
    job = frame.appraisal.job
    known = job.place.address or job.title
    key = "report.title" if known else "report.title_unknown"
    return frame.words(key, site=frame.short_site)


def _subtitle(frame: Frame) -> str:
    words, job = frame.words, frame.appraisal.job
    parts = [frame.seen_on]
    if job.technician:
        parts.append(words("report.by", name=job.technician))
    if job.owner is not None:
        parts.append(words("report.for", name=job.owner.name))
    return " · ".join(parts)


def _findings(frame: Frame, folder: Path) -> Section:
    words = frame.words
    rejected = _rejected(frame)
    if not frame.findings:
        blocks: tuple[Block, ...] = (Para(words("findings.none")), *rejected)
    else:
        intro = Para(words("findings.intro"), "small")
        blocks = (_at_a_glance(frame), intro, cards(frame, folder), *rejected)
    return Section("findings", words("section.findings"), blocks, new_page=True)


def _at_a_glance(frame: Frame) -> Table:
    """Return all findings in one table, in the order of their numbers."""
    words, measures = frame.words, frame.measures
    rows = []
    for finding in frame.findings:
        place = finding.item.place
        known = place.station_m.known
        depth = place.depth_m
        rows.append(
            (
                str(finding.number),
                frame.name(finding),
                measures.stretch(place.station_m, place.end_station_m, short=True)
                if known
                else words("number.unknown"),
                measures.length(depth)
                if depth is not None and depth.known
                else words("number.unknown"),
                _on_the_wall(frame, finding),
                str(finding.grade) if finding.grade is not None else "–",
                finding.item.owner or "–",
            )
        )
    keys = ("number", "seen", "along", "deep", "in_pipe", "grade", "owner")
    head = tuple(words(f"head.{key}") for key in keys)
    widths = (0.5, 2.4, 1.9, 1.2, 1.9, 0.7, 1.9)
    anchors = tuple(f"finding-{finding.number}" for finding in frame.findings)
    caption = words("findings.glance", start=frame.start_name)
    return Table(caption, head, tuple(rows), widths=widths, anchors=anchors)


def _on_the_wall(frame: Frame, finding: Numbered) -> str:
    """Return the clock position; a dash where a feature takes the whole pipe."""
    clock = finding.item.place.clock
    if clock is not None:
        return frame.measures.clock(clock)
    if finding.item.finding.facts.feature in NO_PLACE_ON_THE_WALL:
        return "–"
    return frame.words("number.unknown")


def _rejected(frame: Frame) -> tuple[Block, ...]:
    """Say which drafted findings a person turned down, and why."""
    words = frame.words
    edits = [item.finding.edit for item in frame.appraisal.findings if not item.finding.stands]
    if not edits:
        return ()
    who = words.listed(sorted({e.by or words("sure.somebody") for e in edits if e is not None}))
    why = "; ".join(dict.fromkeys(e.because for e in edits if e is not None and e.because))
    text = words.counted("findings.rejected", len(edits), by=who)
    return (Para(f"{text}: {why}." if why else f"{text}.", "small"),)


def _change_told(frame: Frame, change: Change) -> str:
    """Return a change told from our own texts: what it is, and how it compares."""
    words = frame.words
    told = words(f"change_told.{change.kind}")
    found = frame.by_id.get(change.finding_id or "")
    if found is not None:
        return f"{frame.name(found)}. {told}"
    for visit in frame.appraisal.job.history.visits:
        for prior in visit.findings:
            if prior.id == change.prior_id:
                return f"{words(f'feature.{prior.facts.feature}')}. {told}"
    return told


def _what_changed(frame: Frame, change: Change) -> str:
    """Return the change in words; its place stands beside it."""
    found = frame.by_id.get(change.finding_id or "")
    plain = change.plain
    if found is not None and plain:
        plain = f"{frame.name(found)}. {without_name(plain)}"
    return frame.told(plain, _change_told(frame, change))


def _changes(frame: Frame) -> Section:
    words, measures = frame.words, frame.measures
    title = words("section.changes")
    changes = frame.appraisal.changes
    if not changes:
        visits = frame.appraisal.job.history.visits
        key = "changes.none_found" if visits else "changes.no_history"
        return Section("changes", title, (Para(words(key)),))
    rows = []
    for change in changes:
        number = frame.by_id.get(change.finding_id or "")
        place = (
            measures.stretch(number.item.place.station_m, number.item.place.end_station_m)
            if number is not None
            else measures.length(change.prior_station_m)
        )
        rows.append(
            (
                str(number.number) if number is not None else "–",
                words(f"change.{change.kind}"),
                place,
                _what_changed(frame, change),
            )
        )
    last = [v.date for v in frame.appraisal.job.history.visits]
    caption = words("changes.caption", date=measures.date(max(last))) if last else ""
    head = (words("head.number"), words("head.change"), words("head.place"), words("head.what"))
    return Section(
        "changes", title, (Table(caption, head, tuple(rows), widths=(0.5, 1.2, 2.2, 5)),)
    )
