"""The return card, and the letter that asks the authority for records of the line."""

from __future__ import annotations

from saltglaze.report.blocks import (
    Block,
    Bullets,
    Facts,
    Letterhead,
    Lines,
    Note,
    Paper,
    Para,
    Section,
)
from saltglaze.report.cards import film_time
from saltglaze.report.frame import Frame

_ASKED = ("card", "permit", "as_built", "main", "camera", "easement", "rule")


def return_card(frame: Frame) -> Paper:
    """Return a card to keep by the clean-out: when to come back, and how to treat the line."""
    words, measures, a = frame.words, frame.measures, frame.appraisal
    advice = a.cleaning.advice
    due = measures.date(advice.due) if advice.due else words("card.due_unknown")
    opening: list[Block] = [
        *frame.invented,
        Para(words("return.lead", date=due) if advice.due else due, "lead"),
    ]
    if plain := frame.return_plain:
        opening.append(Para(plain))
    pairs = [
        (words("return.line"), f"{a.job.line.name or a.job.line.id}, {frame.site}"),
        (words("return.last"), measures.date(frame.day)),
    ]
    if not plain:
        pairs.append((words("cleaning.interval"), measures.years(advice.interval_years)))
    if advice.jet_pressure_limit_pa is not None:
        pairs.append((words("cleaning.limit"), measures.pressure(advice.jet_pressure_limit_pa)))
    if frame.worst_first:
        worst = frame.worst_first[0]
        pairs.append(
            (words("return.watch"), f"{frame.tagged(worst.item.finding.id)}, {frame.where(worst)}")
        )
    pairs.append((words("return.call"), ", ".join(frame.party(a.job.firm, words("firm.unknown")))))
    opening.append(Facts(tuple(pairs)))
    opening.append(Para(words("return.sooner"), "strong"))
    opening.append(Bullets(tuple(words(f"return.sign.{n}") for n in range(1, 5))))
    opening.append(Note(words("return.safe.gas"), "caution"))
    return Paper(
        language=words.language,
        title=words("return.title", site=frame.short_site),
        subtitle="",
        heading=words("return.heading", firm=frame.firm),
        size="card",
        foot=frame.foot,
        opening=tuple(opening),
        author=a.job.firm.name if a.job.firm else "",
    )


def records_letter(frame: Frame) -> Paper:
    """Return a letter to the authority asking for what it holds on this line."""
    words, measures, job = frame.words, frame.measures, frame.appraisal.job
    rule = job.place.ownership
    authority = (
        rule.authority
        if rule and rule.authority
        else words("letter.authority", town=job.place.town or words("letter.this_town"))
    )
    to = (authority, *(t for t in (job.place.town, job.place.region) if t))
    head = Letterhead(
        frame.party(job.firm, words("firm.unknown")), measures.date(frame.day), tuple(to)
    )
    known = [
        (words("letter.address"), frame.site),
        (words("letter.line"), job.line.name or job.line.id),
    ]
    if job.owner is not None:
        known.append((words("letter.owner"), job.owner.name))
    known.append((words("letter.service"), words(f"service.{job.line.service}")))
    known.append((words("method.length"), measures.length(frame.appraisal.position.length_m)))
    if job.line.year_laid:
        known.append((words("letter.year"), str(job.line.year_laid)))
    blocks: list[Block] = [
        *frame.invented,
        head,
        Para(words("letter.opening", site=frame.site, date=measures.date(frame.day))),
        Facts(tuple(known)),
        Para(words("letter.ask")),
        Bullets(tuple(words(f"letter.record.{key}") for key in _ASKED)),
    ]
    if said := _said_of_records(frame):
        blocks += [Para(words("letter.said")), Bullets(said)]
    blocks += [
        Para(words("letter.close")),
        Lines((words("letter.sign"), words("letter.owner_consent"))),
    ]
    return Paper(
        language=words.language,
        title=words("letter.title", site=frame.short_site),
        subtitle="",
        foot=frame.foot,
        author=job.firm.name if job.firm else "",
        sections=(Section("letter", "", tuple(blocks)),),
    )


def _said_of_records(frame: Frame) -> tuple[str, ...]:
    """Return what the talk said about records, with its place on the film."""
    said = [
        frame.words("letter.quote", words=m.text.strip(), time=film_time(m.start_s))
        for heard in frame.appraisal.heard
        for m in heard.mentions
        if m.kind == "records"
    ]
    return tuple(said[:4])
