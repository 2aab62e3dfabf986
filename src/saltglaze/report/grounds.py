"""What the answer rests on: margins, reasons, checks, what was not seen, cautions."""

from __future__ import annotations

import re
from collections import Counter

from saltglaze.checks import all_checks
from saltglaze.model.appraisal import Check, Conflict, Reason, Verdict
from saltglaze.model.base import Estimate
from saltglaze.report.blocks import (
    Block,
    Bullets,
    Facts,
    Note,
    Para,
    Section,
    Table,
    without_blank_columns,
)
from saltglaze.report.cards import film_time
from saltglaze.report.frame import Frame
from saltglaze.report.unjudged import told_by_reason


def not_seen(frame: Frame) -> Section:
    """Return what could not be judged, stages skipped, and sights nobody spoke of."""
    words, measures = frame.words, frame.measures
    items = told_by_reason(frame)
    items += [
        words(
            "not_seen.stage", stage=words.get(f"stage.{s.stage}") or s.stage, why=s.why.rstrip(". ")
        )
        for s in frame.appraisal.stages
        if not s.done and s.why
    ]
    seen = [
        words(
            "not_seen.unspoken",
            look=words.get(f"look.{u.look}") or u.look.replace("_", " "),
            where=measures.length(u.station_m),
            time=film_time(u.time_s),
        )
        for u in frame.appraisal.unspoken[:8]
    ]
    items += dict.fromkeys(seen)
    blocks: tuple[Block, ...] = (
        (Bullets(tuple(items)),) if items else (Para(words("unseen.nothing")),)
    )
    if covered := filmed(frame):
        blocks = (Para(covered), *blocks)
    return Section("not-seen", words("section.not_seen"), blocks)


def filmed(frame: Frame) -> str:
    """Return which stretch each run filmed, empty where no run has stations."""
    runs = [s.samples for s in frame.appraisal.position.stationings if s.samples]
    told = []
    for samples in runs:
        first = min(samples, key=lambda s: s.station_m)
        last = max(samples, key=lambda s: s.station_m)
        told.append(
            frame.measures.stretch(
                Estimate.of(first.station_m, first.sd_m), Estimate.of(last.station_m, last.sd_m)
            )
        )
    return frame.words("not_seen.filmed", stretches=frame.words.listed(told)) if told else ""


def method(frame: Frame) -> Section:
    """Return margins, course, counter, misfits, and what is worth measuring next."""
    words, measures, position = frame.words, frame.measures, frame.appraisal.position
    blocks: list[Block] = [
        Para(words("method.margins", unit=measures.long_unit)),
        Para(words("method.depths", start=frame.start_name)),
    ]
    pairs = [(words("method.length"), measures.length(position.length_m))]
    pairs += [
        (words("method.counter"), _counter(frame, s.counter_scale.value, s.counter_scale.spread))
        for s in position.stationings
    ]
    for path in position.paths[:4]:
        label = (
            words("method.path", share=measures.probability(path.weight))
            if len(position.paths) > 1
            else words("method.path_one")
        )
        pairs.append((label, words.sentence(path.because or path.name)))
    for surface in (position.surface,):
        used = sum(p.used for p in surface)
        if surface:
            pairs.append(
                (
                    words("method.locates"),
                    words("method.locates_used", used=used, count=len(surface)),
                )
            )
    blocks.append(Facts(tuple(pairs)))
    blocks += [_conflict(frame, conflict) for conflict in position.conflicts]
    worth = [m for m in position.next_measurements if m.worth_it]
    if worth:
        blocks.append(Para(words("method.next"), "strong"))
        blocks.append(
            Bullets(
                tuple(
                    words(
                        "method.next_item",
                        action=m.action.rstrip(". "),
                        before=measures.bare_length(m.margin_before_m, 1),
                        after=measures.bare_length(m.margin_after_m, 1),
                        because=m.because.rstrip(". "),
                    )
                    for m in worth
                )
            )
        )
    return Section("method", words("section.method"), tuple(blocks))


def _conflict(frame: Frame, conflict: Conflict) -> Note:
    """Return what does not fit, what either answer would mean, and which was taken."""
    words = frame.words
    told = words(
        "method.conflict",
        item=words.sentence(conflict.item).rstrip("."),
        misfit=conflict.misfit.rstrip(". "),
        with_it=conflict.with_it.rstrip(". "),
        without_it=conflict.without_it.rstrip(". "),
    )
    parts = [told, words(f"method.conflict_{'kept' if conflict.used else 'aside'}")]
    known = [frame.tagged(ident) for ident in conflict.finding_ids if ident in frame.by_id]
    if known:
        parts.append(words("method.conflict_about", findings=words.listed(known)))
    return Note(" ".join(parts), title=words("method.conflict_title"))


def _counter(frame: Frame, scale: float | None, sd: float) -> str:
    if scale is None:
        return frame.words("method.counter_unknown")
    off = (scale - 1.0) * 100.0
    if abs(off) < 2 * sd * 100.0 and abs(off) < 0.5:
        return frame.words("method.counter_true")
    key = "method.counter_short" if off > 0 else "method.counter_long"
    return frame.words(key, share=f"{abs(off):.1f} ± {196 * sd:.1f}")


def reasons(frame: Frame) -> Section:
    """Return the reasons of all conclusions with rule and source."""
    words, a = frame.words, frame.appraisal
    groups: list[tuple[str, tuple[Reason, ...]]] = [
        ("reasons.grade", a.grade.reasons),
        ("reasons.remedy", a.remedy.reasons),
        ("reasons.return", a.cleaning.advice.reasons),
        ("reasons.drainage", a.drainage.reasons),
        ("reasons.owner", a.ownership.reasons),
        ("reasons.place", tuple(r for s in a.position.stationings for r in s.reasons)),
    ]
    rows = tuple(
        (words(key), words.sentence(r.because), _rule(frame, r), r.source or "–")
        for key, reasons in groups
        for r in reasons
    )
    if not rows:
        return Section("reasons", words("section.reasons"), ())
    head = tuple(words(f"head.{key}") for key in ("about", "because", "rule", "source"))
    table = without_blank_columns(Table("", head, rows, widths=(0.9, 3, 1.9, 2.3)))
    return Section("reasons", words("section.reasons"), (table,))


def _named(check: Check) -> str:
    """Return a check's name, with the stretch that it is about."""
    return f"{check.name}, {check.about}" if _STRETCH.search(check.about) else check.name


_STRETCH = re.compile(r"\d (?:ft|m) to \d")


def _rule(frame: Frame, reason: Reason) -> str:
    """Return the rule in words, a dash where none is cited."""
    split = reason.rule.removeprefix("split at ")
    return frame.words.get(f"split.{split}") or reason.rule or "–"


def checks(frame: Frame) -> Section:
    """Return the checks of evidence and answer, doubts first."""
    words, a = frame.words, frame.appraisal
    every = all_checks(a)
    order = list(Verdict)
    ordered = sorted(
        every, key=lambda c: -order.index(c.verdict) if c.verdict is not Verdict.SKIPPED else 1
    )
    alike = Counter(
        (_named(c), words(f"verdict.{c.verdict}"), words.sentence(c.reason), words.sentence(c.mend))
        for c in ordered
    )
    rows: tuple[tuple[str, ...], ...] = tuple(
        (
            name if count == 1 else words("checks.times", name=name, count=count),
            verdict,
            why,
            mend or "–",
        )
        for (name, verdict, why, mend), count in alike.items()
    )
    if not rows:
        return Section("checks", words("section.checks"), ())
    keys: tuple[str, ...] = ("check", "verdict", "reason", "mend")
    widths: tuple[float, ...] = (1.8, 0.9, 3, 2)
    if sum(row[3] != "–" for row in rows) * 3 <= len(rows):
        # Too few to fill a column: what would help follows the reason.
        rows = tuple((*r[:2], r[2] if r[3] == "–" else f"{r[2]} {r[3]}") for r in rows)
        keys, widths = keys[:3], (1.8, 0.9, 5)
    head = tuple(words(f"head.{key}") for key in keys)
    table = without_blank_columns(Table("", head, rows, widths=widths))
    return Section("checks", words("section.checks"), (table,))


def cautions(frame: Frame) -> Section:
    """Return the cautions of the record; the standing ones where it has none."""
    words, a = frame.words, frame.appraisal
    texts = dict.fromkeys(words.sentence(t) for t in (*a.cautions, *a.cleaning.cautions))
    standing = (
        words("caution.dig", number=a.job.place.one_call),
        words("caution.enter"),
        words("caution.advice"),
    )
    items = tuple(t for t in (*texts, *(() if a.cautions else standing)) if t)
    return Section("cautions", words("section.cautions"), (Bullets(items),))
