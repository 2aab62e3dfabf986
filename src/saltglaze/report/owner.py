"""The owner's report: page one, the sheet, findings, and everything behind them."""

from __future__ import annotations

from pathlib import Path

from saltglaze.model.appraisal import Reason, Remedy, Verdict
from saltglaze.report.answers import answers, chosen, headline, serious
from saltglaze.report.blocks import (
    Block,
    Bullets,
    Facts,
    Figures,
    Note,
    Paper,
    Para,
    Section,
    Table,
)
from saltglaze.report.cards import cards, film_time
from saltglaze.report.frame import Frame
from saltglaze.report.sheet.scene import Scene
from saltglaze.report.sheet.strip import strip
from saltglaze.report.sheet.survey import survey


def owner_report(frame: Frame, scenes: tuple[Scene, ...], folder: Path) -> Paper:
    """Return the whole report; stills are read from ``folder``."""
    words = frame.words
    job = frame.appraisal.job
    opening: list[Block] = [*frame.invented, Para(headline(frame), "lead")]
    line = strip(survey(frame.appraisal), serious(frame), frame.measures)
    if line is not None:
        opening.append(Figures((frame.drawing(line, "strip"),)))
    opening.append(answers(frame))
    drawings = tuple(frame.drawing(s, f"sheet{i}") for i, s in enumerate(scenes, start=1))
    sections = [
        Section("sheet", words("section.sheet"), (Figures(drawings, landscape=True),)),
        _findings(frame, folder),
        _changes(frame),
        _drainage(frame),
        _options(frame),
        _not_seen(frame),
        _cleaning(frame),
        _ownership(frame),
        _method(frame),
        _reasons(frame),
        _checks(frame),
        _cautions(frame),
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
                measures.clock(place.clock) if place.clock else words("number.unknown"),
                str(finding.grade) if finding.grade is not None else "–",
                finding.item.owner or "–",
            )
        )
    keys = ("number", "seen", "along", "deep", "in_pipe", "grade", "owner")
    head = tuple(words(f"head.{key}") for key in keys)
    widths = (0.5, 2.4, 1.9, 1.2, 1.9, 0.7, 1.9)
    return Table(words("findings.glance", start=frame.start_name), head, tuple(rows), widths=widths)


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
                words.sentence(change.plain),
            )
        )
    last = [v.date for v in frame.appraisal.job.history.visits]
    caption = words("changes.caption", date=measures.date(max(last))) if last else ""
    head = (words("head.number"), words("head.change"), words("head.place"), words("head.what"))
    return Section(
        "changes", title, (Table(caption, head, tuple(rows), widths=(0.5, 1.2, 2.2, 5)),)
    )


def _drainage(frame: Frame) -> Section:
    words, measures, drainage = frame.words, frame.measures, frame.appraisal.drainage
    title = words("section.drainage")
    plain = words.sentence(drainage.plain) or words("drainage.unknown")
    blocks: list[Block] = [Para(plain)]
    blocks += [
        Para(
            words(
                "drainage.sag",
                stretch=measures.stretch(sag.start_m, sag.end_m),
                depth=measures.small(sag.depth_m),
                volume=measures.volume(sag.volume_m3),
            )
        )
        for sag in frame.appraisal.position.sags
    ]
    if drainage.peak_load:
        blocks.append(Para(words("drainage.load", load=drainage.peak_load.rstrip(". ")), "small"))
    rows = tuple(
        (
            words(
                "number.range",
                low=measures.bare_length(s.from_m, 0).split()[0],
                high=measures.bare_length(s.to_m, 0),
            ),
            measures.bore(s.diameter_m),
            measures.slope(s.slope),
            measures.flow(s.full_flow_m3_s),
            measures.share(s.peak_depth_share),
            measures.velocity(s.peak_velocity_m_s),
            _yes_no(frame, s.self_cleansing),
        )
        for s in drainage.stretches
    )
    if rows:
        keys = ("stretch", "size", "fall", "full_flow", "peak_depth", "peak_speed", "keeps_clean")
        head = tuple(words(f"head.{key}") for key in keys)
        blocks.append(
            Table(words("drainage.caption"), head, rows, widths=(1.1, 0.8, 1.8, 1.5, 1.3, 1.5, 0.9))
        )
    return Section("drainage", title, tuple(blocks))


def _yes_no(frame: Frame, value: bool | None) -> str:
    return frame.words(
        "answer.unknown" if value is None else "answer.yes" if value else "answer.no"
    )


def _options(frame: Frame) -> Section:
    words, measures, remedy = frame.words, frame.measures, frame.appraisal.remedy
    title = words("section.options")
    if not remedy.options:
        return Section("options", title, (Para(words("options.none")),))
    best = chosen(frame)
    ordered = sorted(remedy.options, key=lambda o: (o.rank is None, o.rank or 0))
    rows = tuple(
        (
            words("options.advised", title=option.title) if option is best else option.title,
            _feasible(frame, option),
            measures.money(option.first_cost, remedy.currency),
            measures.money(option.whole_life_cost, remedy.currency),
            _life(frame, option),
            _numbers(frame, option.leaves),
        )
        for option in ordered
    )
    keys = ("option", "possible", "first_cost", "whole_life", "life", "leaves")
    head = tuple(words(f"head.{key}") for key in keys)
    strong = tuple(i for i, option in enumerate(ordered) if option is best)
    table = Table(
        words("options.caption", prices=prices_named(frame)),
        head,
        rows,
        widths=(2.4, 2.2, 1.7, 1.7, 0.9, 1),
        strong_rows=strong,
    )
    blocks: list[Block] = [Para(words.sentence(remedy.plain)), table] if remedy.plain else [table]
    if remedy.would_change_it:
        blocks.append(Para(words("options.would_change"), "strong"))
        blocks.append(Bullets(tuple(words.sentence(t) for t in remedy.would_change_it)))
    return Section("options", title, tuple(blocks))


def _feasible(frame: Frame, option: Remedy) -> str:
    words = frame.words
    verdict = _yes_no(frame, option.feasible)
    reasons = [r.because.rstrip(". ") for r in option.why[:2]] or [
        o.rstrip(". ") for o in option.obstacles[:2]
    ]
    return (
        words("options.because", verdict=verdict, because="; ".join(reasons))
        if reasons
        else verdict
    )


def _life(frame: Frame, option: Remedy) -> str:
    if option.life_years is None:
        return frame.words("number.unknown")
    return f"{option.life_years:.0f} {frame.words('unit.years')}"


def _numbers(frame: Frame, ids: tuple[str, ...]) -> str:
    numbers = sorted(frame.by_id[i].number for i in ids if i in frame.by_id)
    return ", ".join(str(n) for n in numbers) if numbers else frame.words("options.leaves_nothing")


def prices_named(frame: Frame) -> str:
    """Return the price list with its date, or that there is none."""
    prices = frame.appraisal.job.prices
    name = frame.appraisal.remedy.price_list or (prices.name if prices else "")
    if not name:
        return frame.words("prices.unknown")
    if prices is None or prices.date is None:
        return frame.words("prices.undated", name=name)
    return frame.words("prices.dated", name=name, date=frame.measures.date(prices.date))


def _not_seen(frame: Frame) -> Section:
    words, measures = frame.words, frame.measures
    items = []
    for part in frame.appraisal.not_seen:
        if part.from_m is not None and part.from_m.known:
            where = words.sentence(measures.stretch(part.from_m, part.to_m)).rstrip(".")
        elif part.from_s is not None:
            end = film_time(part.to_s) if part.to_s is not None else words("not_seen.film_end")
            where = words("not_seen.film", start=film_time(part.from_s), end=end)
        else:
            where = words("not_seen.somewhere")
        items.append(words("not_seen.item", where=where, why=part.why.rstrip(". ")))
    items += [
        words(
            "not_seen.stage", stage=words.get(f"stage.{s.stage}") or s.stage, why=s.why.rstrip(". ")
        )
        for s in frame.appraisal.stages
        if not s.done and s.why
    ]
    items += [
        words(
            "not_seen.unspoken",
            look=words.get(f"look.{u.look}") or u.look.replace("_", " "),
            where=measures.length(u.station_m),
            time=film_time(u.time_s),
        )
        for u in frame.appraisal.unspoken[:8]
    ]
    blocks: tuple[Block, ...] = (
        (Bullets(tuple(items)),) if items else (Para(words("unseen.nothing")),)
    )
    return Section("not-seen", words("section.not_seen"), blocks)


def _cleaning(frame: Frame) -> Section:
    words, measures, cleaning = frame.words, frame.measures, frame.appraisal.cleaning
    advice = cleaning.advice
    blocks: list[Block] = []
    blocks.append(
        Para(
            words.sentence(advice.plain)
            or words("cleaning.unknown", because=measures.unknown(advice.interval_years))
        )
    )
    pairs = []
    if advice.interval_years.known:
        pairs.append((words("cleaning.interval"), measures.years(advice.interval_years)))
    if advice.due is not None:
        pairs.append((words("cleaning.due"), measures.date(advice.due)))
    if advice.jet_pressure_limit_pa is not None:
        pairs.append((words("cleaning.limit"), measures.pressure(advice.jet_pressure_limit_pa)))
    if pairs:
        blocks.append(Facts(tuple(pairs)))
    reviews = tuple(words.sentence(p.plain) for p in cleaning.passes if p.plain)
    if reviews:
        blocks.append(Bullets(reviews))
    return Section("cleaning", words("section.cleaning"), tuple(blocks))


def _ownership(frame: Frame) -> Section:
    words, measures, owned = frame.words, frame.measures, frame.appraisal.ownership
    blocks: list[Block] = [Para(words.sentence(owned.plain) or words("whose.unknown_detail"))]
    rows = tuple(
        (
            measures.stretch(s.from_m, s.to_m),
            s.ground,
            s.pipe_owner or words("number.unknown"),
            measures.probability(s.probability)
            if s.probability is not None
            else words("number.unknown"),
        )
        for s in owned.stretches
    )
    if rows:
        head = tuple(words(f"head.{key}") for key in ("stretch", "under", "pipe_owner", "how_sure"))
        blocks.append(Table("", head, rows, widths=(2.2, 2.4, 2.4, 1)))
    for tap in owned.taps:
        served = words.listed(
            [
                words("taps.may", name=name, share=measures.probability(p))
                for name, p in tap.may_serve
            ]
        )
        text = words.sentence(tap.plain)
        if served:
            text += " " + words("taps.serves", served=served)
        text += " " + words("taps.test", test=words.sentence(tap.test))
        blocks.append(Note(text, title=words("taps.title", tagged=frame.tagged(tap.finding_id))))
    rule = frame.appraisal.job.place.ownership
    if rule is not None:
        blocks.append(Para(words("whose.rule", citation=rule.citation.rstrip(". ")), "small"))
    return Section("ownership", words("section.ownership"), tuple(blocks))


def _method(frame: Frame) -> Section:
    words, measures, position = frame.words, frame.measures, frame.appraisal.position
    blocks: list[Block] = [Para(words("method.margins", unit=measures.long_unit))]
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
    blocks += [
        Note(
            words(
                "method.conflict",
                item=conflict.item,
                misfit=conflict.misfit.rstrip(". "),
                with_it=conflict.with_it.rstrip(". "),
                without_it=conflict.without_it.rstrip(". "),
            ),
            title=words("method.conflict_title"),
        )
        for conflict in position.conflicts
    ]
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


def _counter(frame: Frame, scale: float | None, sd: float) -> str:
    if scale is None:
        return frame.words("method.counter_unknown")
    off = (scale - 1.0) * 100.0
    if abs(off) < 2 * sd * 100.0 and abs(off) < 0.5:
        return frame.words("method.counter_true")
    key = "method.counter_short" if off > 0 else "method.counter_long"
    return frame.words(key, share=f"{abs(off):.1f} ± {196 * sd:.1f}")


def _reasons(frame: Frame) -> Section:
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
        (words(key), words.sentence(r.because), r.rule or "–", r.source or "–")
        for key, reasons in groups
        for r in reasons
    )
    if not rows:
        return Section("reasons", words("section.reasons"), ())
    head = tuple(words(f"head.{key}") for key in ("about", "because", "rule", "source"))
    return Section(
        "reasons", words("section.reasons"), (Table("", head, rows, widths=(1.2, 3, 1.8, 1.8)),)
    )


def _checks(frame: Frame) -> Section:
    words, a = frame.words, frame.appraisal
    every = (
        *a.checks,
        *a.position.checks,
        *a.drainage.checks,
        *(c for h in a.heard for c in h.checks),
    )
    order = list(Verdict)
    rows = tuple(
        (
            c.name,
            words(f"verdict.{c.verdict}"),
            words.sentence(c.reason),
            words.sentence(c.mend) or "–",
        )
        for c in sorted(
            every, key=lambda c: -order.index(c.verdict) if c.verdict is not Verdict.SKIPPED else 1
        )
    )
    if not rows:
        return Section("checks", words("section.checks"), ())
    head = tuple(words(f"head.{key}") for key in ("check", "verdict", "reason", "mend"))
    return Section(
        "checks", words("section.checks"), (Table("", head, rows, widths=(1.8, 0.9, 3, 2)),)
    )


def _cautions(frame: Frame) -> Section:
    words, a = frame.words, frame.appraisal
    texts = dict.fromkeys(
        words.sentence(t)
        for t in (
            *a.cautions,
            *a.cleaning.cautions,
            *(c for d in a.position.digs for c in d.cautions),
        )
    )
    standing = (
        words("caution.dig", number=a.job.place.one_call),
        words("caution.enter"),
        words("caution.advice"),
    )
    items = tuple(t for t in (*texts, *standing) if t)
    return Section("cautions", words("section.cautions"), (Bullets(items),))
