"""What it does and what can be done: drainage, options, cleaning, ownership."""

from __future__ import annotations

from collections.abc import Callable

from saltglaze.model.appraisal import PassReview, Remedy, StretchFlow, TapQuestion
from saltglaze.model.base import Estimate
from saltglaze.report.answers import chosen
from saltglaze.report.blocks import Block, Bullets, Facts, Note, Para, Section, Table
from saltglaze.report.frame import Frame
from saltglaze.report.prose import without_name


def drainage(frame: Frame) -> Section:
    """Return whether it drains, the sags, and the flow by stretch."""
    words, measures, drainage = frame.words, frame.measures, frame.appraisal.drainage
    title = words("section.drainage")
    verdict = {True: "drainage_told.yes", False: "drainage_told.no", None: "drainage.unknown"}
    plain = frame.told(drainage.plain, words(verdict[drainage.drains]))
    blocks: list[Block] = [Para(plain)]
    for sag in frame.appraisal.position.sags:
        told = words(
            "drainage.sag",
            stretch=measures.stretch(sag.start_m, sag.end_m),
            depth=measures.small(sag.depth_m),
            volume=measures.volume(sag.volume_m3),
        )
        blocks.append(Para(f"{told} {words.sentence(sag.because)}".strip()))
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
            _brief(frame, s.slope, measures.slope),
            _brief(frame, s.full_flow_m3_s, measures.flow),
            _brief(frame, s.peak_depth_share, measures.share),
            _brief(frame, s.peak_velocity_m_s, measures.velocity),
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
        if unknown := _unknowns(frame, drainage.stretches):
            blocks.append(Para(words("drainage.blanks", reasons=" ".join(unknown)), "small"))
    return Section("drainage", title, tuple(blocks))


def _brief(frame: Frame, estimate: Estimate, told: Callable[[Estimate], str]) -> str:
    """Return an estimate for a table: told in full, or only that it is not known."""
    return told(estimate) if estimate.known else frame.words("number.unknown")


def _unknowns(frame: Frame, stretches: tuple[StretchFlow, ...]) -> list[str]:
    """Return each reason once for the blanks of the flow table."""
    reasons = [
        estimate.unknown_because
        for s in stretches
        for estimate in (s.slope, s.full_flow_m3_s, s.peak_depth_share, s.peak_velocity_m_s)
        if estimate.unknown_because
    ]
    return [frame.words.sentence(r) for r in dict.fromkeys(reasons)]


def _yes_no(frame: Frame, value: bool | None) -> str:
    return frame.words(
        "answer.unknown" if value is None else "answer.yes" if value else "answer.no"
    )


def options(frame: Frame) -> Section:
    """Return the options side by side and what would change the advice."""
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
    plain = frame.told(remedy.plain, words.sentence(best.title) if best else "")
    blocks: list[Block] = [Para(plain), table] if plain else [table]
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


def cleaning(frame: Frame) -> Section:
    """Return when to come back, the pressure limit, and the passes looked at."""
    words, measures, cleaning = frame.words, frame.measures, frame.appraisal.cleaning
    advice = cleaning.advice
    blocks: list[Block] = []
    blocks.append(
        Para(
            frame.return_plain
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
    reviews = tuple(frame.told(p.plain, _reviewed(frame, p)) for p in cleaning.passes)
    reviews = tuple(dict.fromkeys(r for r in reviews if r))
    if reviews:
        blocks.append(Bullets(reviews))
    return Section("cleaning", words("section.cleaning"), tuple(blocks))


def _reviewed(frame: Frame, review: PassReview) -> str:
    """Return a pass told from its numbers alone."""
    words, measures = frame.words, frame.measures
    if review.nozzle_pressure_pa is None or not review.nozzle_pressure_pa.known:
        return ""
    told = measures.pressure(review.nozzle_pressure_pa)
    if review.limit_pa is None or review.within_limit is None:
        return words("cleaning.pass", pressure=told)
    key = "cleaning.pass_within" if review.within_limit else "cleaning.pass_above"
    return words(key, pressure=told, limit=measures.pressure(review.limit_pa))


def _owned(frame: Frame) -> str:
    words, owned = frame.words, frame.appraisal.ownership
    key = "whose.by_stretch" if owned.stretches else "whose.unknown_detail"
    return frame.told(owned.plain, words(key))


def _tap(frame: Frame, tap: TapQuestion) -> Note:
    """Return whom a tap may serve, each with its chance, and how to find out."""
    words = frame.words
    parts = [without_name(frame.told(tap.plain, words("taps.unknown")))]
    served = [
        words("taps.may", name=name, share=frame.measures.probability(p))
        for name, p in tap.may_serve
    ]
    if served:
        # The likeliest alone, which the record's sentence goes on to name, leads the list.
        parts = [words.sentence(parts[0].partition(". ")[0])]
        parts.append(words("taps.serves", served=words.listed(served)))
    parts.append(words("taps.test", test=words.sentence(tap.test)))
    return Note(" ".join(parts), title=words("taps.title", tagged=frame.tagged(tap.finding_id)))


def ownership(frame: Frame) -> Section:
    """Return whose is which stretch, and the taps nobody knows."""
    words, measures, owned = frame.words, frame.measures, frame.appraisal.ownership
    blocks: list[Block] = [Para(_owned(frame))]
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
    blocks += [_tap(frame, tap) for tap in owned.taps]
    rule = frame.appraisal.job.place.ownership
    if rule is not None:
        blocks.append(Para(words("whose.rule", citation=rule.citation.rstrip(". ")), "small"))
    return Section("ownership", words("section.ownership"), tuple(blocks))
