"""The estimate: the advised remedy priced line by line, and what would change it."""

from __future__ import annotations

from saltglaze.model.appraisal import CostLine, Remedy, RemedyKind
from saltglaze.model.base import Estimate
from saltglaze.report.answers import chosen, over_the_years
from saltglaze.report.blocks import Block, Bullets, Facts, Lines, Note, Paper, Para, Section, Table
from saltglaze.report.frame import Frame
from saltglaze.report.worth import prices_named

_DIGS = (RemedyKind.SPOT_DIG, RemedyKind.OPEN_CUT, RemedyKind.BURST_AND_REPLACE)


def estimate(frame: Frame) -> Paper | None:
    """Return the priced offer for the advised option; ``None`` where none is advised."""
    option = chosen(frame)
    if option is None:
        return None
    words, job = frame.words, frame.appraisal.job
    opening: list[Block] = [
        *frame.invented,
        Para(words.sentence(option.title), "lead"),
        _who(frame),
    ]
    sections = (
        Section("scope", words("estimate.scope"), _scope(frame, option)),
        Section("price", words("estimate.price"), _price(frame, option)),
        Section("terms", words("estimate.terms"), _terms(frame, option), together=True),
    )
    return Paper(
        language=words.language,
        title=words("estimate.title", site=frame.short_site),
        subtitle=frame.seen_on,
        heading=words("estimate.heading", firm=frame.firm),
        foot=frame.foot,
        size="dense",
        one_page=True,
        author=job.firm.name if job.firm else "",
        opening=tuple(opening),
        sections=sections,
    )


def _who(frame: Frame) -> Facts:
    words, job = frame.words, frame.appraisal.job
    return Facts(
        (
            (words("estimate.for"), ", ".join(frame.party(job.owner, words("owner.unknown")))),
            (words("estimate.by"), ", ".join(frame.party(job.firm, words("firm.unknown")))),
            (words("estimate.at"), frame.site),
            (words("estimate.prices"), prices_named(frame)),
        )
    )


def _scope(frame: Frame, option: Remedy) -> tuple[Block, ...]:
    words, measures = frame.words, frame.measures
    pairs = []
    if option.from_m is not None and option.to_m is not None:
        stretch = words(
            "number.stretch",
            start=measures.bare_length(option.from_m, 0).split()[0],
            end=measures.bare_length(option.to_m, 0),
        )
        pairs.append(
            (
                words("estimate.stretch"),
                words("where.along", stretch=stretch, start=frame.start_name),
            )
        )
    if option.size_note:
        pairs.append((words("estimate.size"), words.sentence(option.size_note)))
    pairs.append((words("estimate.fixes"), _listed(frame, option.fixes)))
    pairs.append((words("estimate.leaves"), _listed(frame, option.leaves)))
    return (Facts(tuple(pairs)),)


def _listed(frame: Frame, ids: tuple[str, ...]) -> str:
    return frame.words.listed([frame.tagged(i) for i in ids]) or frame.words("estimate.nothing")


def _price(frame: Frame, option: Remedy) -> tuple[Block, ...]:
    """Return what is paid now, line by line, and what the years after may add."""
    words, measures = frame.words, frame.measures
    currency = frame.appraisal.remedy.currency
    now = [line for line in option.lines if line.year_of_cost == 0]
    later = [line for line in option.lines if line.year_of_cost > 0]
    blocks: list[Block] = []
    if now:
        total = (
            words("estimate.total"),
            "",
            "",
            measures.amount(sum(line.cost for line in now), currency),
            _range(frame, option.first_cost),
            "",
        )
        blocks.append(_lines(frame, now, "", total))
    told = measures.money(option.first_cost, currency)
    if now:
        blocks.append(Para(words("estimate.middle"), "small"))
    blocks.append(Para(words("estimate.total_text", total=told), "strong"))
    if later:
        blocks.append(_lines(frame, later, words("estimate.later"), None))
    if option.whole_life_cost is not None and option.whole_life_cost.known:
        blocks.append(Para(over_the_years(frame, option.whole_life_cost), "small"))
    return tuple(blocks)


def _lines(
    frame: Frame, lines: list[CostLine], caption: str, total: tuple[str, ...] | None
) -> Table:
    words, measures = frame.words, frame.measures
    currency = frame.appraisal.remedy.currency
    rows: list[tuple[str, ...]] = [
        (
            words.sentence(line.item).rstrip("."),
            measures.priced_quantity(line.quantity, line.unit),
            measures.unit_price(line.price, line.unit, currency),
            measures.amount(line.cost, currency),
            words(
                "number.range",
                low=measures.amount(line.cost_low, currency),
                high=measures.amount(line.cost_high, currency),
            ),
            line.source,
        )
        for line in lines
    ]
    strong: tuple[int, ...] = ()
    if total is not None:
        rows.append(total)
        strong = (len(rows) - 1,)
    head = tuple(
        words(f"head.{k}") for k in ("item", "quantity", "price", "cost", "range", "source")
    )
    widths = (2.6, 1.2, 1, 1, 1.6, 1.6)
    return Table(caption, head, tuple(rows), numeric=(2, 3), widths=widths, strong_rows=strong)


def _range(frame: Frame, cost: Estimate | None) -> str:
    if cost is None or cost.value is None:
        return frame.words("number.unknown")
    low, high = cost.interval95
    currency = frame.appraisal.remedy.currency
    return frame.words(
        "number.range",
        low=frame.measures.amount(low, currency),
        high=frame.measures.amount(high, currency),
    )


def _terms(frame: Frame, option: Remedy) -> tuple[Block, ...]:
    words = frame.words
    changes = [
        words.sentence(t) for t in (*option.assumptions, *frame.appraisal.remedy.would_change_it)
    ]
    blocks: list[Block] = [Para(words("estimate.excluded_title"), "strong")]
    blocks.append(Bullets(tuple(words(f"estimate.excluded.{n}") for n in range(1, 6))))
    if changes:
        blocks.append(Para(words("estimate.assumed_title"), "strong"))
        blocks.append(Bullets(tuple(changes)))
    if option.kind in _DIGS:
        call = words("dig.one_call", number=frame.appraisal.job.place.one_call)
        blocks.append(Note(call, "caution", words("dig.one_call_title")))
    blocks.append(Note(words("estimate.not_binding")))
    blocks.append(
        Lines((words("estimate.valid"), words("estimate.sign_firm"), words("estimate.sign_owner")))
    )
    return tuple(blocks)
