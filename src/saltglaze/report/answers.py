"""Page one: what is wrong, how bad, where, whose, what to do, by when, what it costs."""

from __future__ import annotations

from collections import Counter

from saltglaze.model.appraisal import Remedy
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Certainty, Feature
from saltglaze.report.blocks import Answer, Answers
from saltglaze.report.frame import Frame, lower_first
from saltglaze.report.grounds import filmed
from saltglaze.report.numbering import Numbered
from saltglaze.report.unjudged import unjudged_share, unjudged_spans

MATTERS = 3
"""Grades from here on are named on page one."""
_MOST_NAMED = 5


def answers(frame: Frame) -> Answers:
    """Return the owner's questions in the order people ask them."""
    return Answers(
        (
            _what(frame),
            _how_bad(frame),
            _where(frame),
            _whose(frame),
            _what_to_do(frame),
            _by_when(frame),
            _cost(frame),
            _unseen(frame),
        )
    )


def headline(frame: Frame) -> str:
    """Return the one sentence above the answers."""
    grade = frame.appraisal.grade
    own = frame.words("headline.unknown")
    if grade.worst is not None:
        own = frame.words(f"headline.grade.{grade.worst}")
        if found := serious(frame):
            where = frame.measures.stretch(
                found[0].item.place.station_m, found[0].item.place.end_station_m, short=True
            )
            name = lower_first(frame.name(found[0]))
            own = frame.words("headline.worst", plain=own, name=name, where=where)
    return frame.told(grade.plain, own)


def serious(frame: Frame) -> tuple[Numbered, ...]:
    """Return the findings that page one names: grade three and worse, worst first."""
    return tuple(f for f in frame.worst_first if (f.grade or 0) >= MATTERS)


def _what(frame: Frame) -> Answer:
    words = frame.words
    question = words("ask.what")
    found = serious(frame)
    if not frame.findings:
        return Answer(question, words("what.nothing_recorded"), words("what.nothing_detail"))
    if not found:
        key = "what.nothing_serious" if frame.worst_first else "what.ungraded"
        return Answer(question, words.counted(key, len(frame.findings)))
    first = found[0]
    plain = frame.plain_here(first)
    return Answer(question, plain, _counts(frame, found))


def _counts(frame: Frame, serious: tuple[Numbered, ...]) -> str:
    """Return what matters, counted by feature: "Break (1), roots (2)"."""
    tally = Counter(f.item.finding.facts.feature for f in serious)
    named = [
        frame.words("what.tally", name=_tally_name(frame, feature, i), count=count)
        for i, (feature, count) in enumerate(tally.items())
    ]
    kinds = len(named) - _MOST_NAMED
    if kinds > 1:
        named = [*named[:_MOST_NAMED], frame.words("what.kinds_more", count=kinds)]
    text = frame.words("what.counted", names=frame.words.listed(named))
    more = len(frame.findings) - len(serious)
    supposed = sum(f.item.finding.facts.certainty is Certainty.SUPPOSED for f in serious)
    if supposed:
        text += " " + frame.words.counted("what.supposed", supposed)
    if more > 0:
        text += " " + frame.words.counted("what.more", more)
    return text


def _tally_name(frame: Frame, feature: Feature, index: int) -> str:
    name = frame.words(f"feature.{feature}")
    return name if index == 0 else lower_first(name)


def _how_bad(frame: Frame) -> Answer:
    words, grade = frame.words, frame.appraisal.grade
    question = words("ask.how_bad")
    if grade.worst is None:
        return Answer(question, words("bad.unknown"), frame.told(grade.plain, ""))
    parts = [
        words("bad.part", part=words(f"aspect.{name}"), grade=value)
        for name in ("structure", "service", "tightness")
        if (value := getattr(grade, name)) is not None
    ]
    detail = words("bad.scale", parts=", ".join(parts)) if parts else ""
    return Answer(
        question,
        words("bad.grade", grade=grade.worst, meaning=words(f"grade.{grade.worst}")),
        detail,
    )


def _where(frame: Frame) -> Answer:
    words = frame.words
    question = words("ask.where")
    found = serious(frame) or frame.worst_first
    if not found:
        return Answer(question, words("where.nothing"))
    first = found[0]
    detail = [words("where.is_number", tagged=frame.tagged(first.item.finding.id))]
    dig = next(
        (d for d in frame.appraisal.position.digs if d.finding_id == first.item.finding.id), None
    )
    if dig is not None and dig.ground:
        detail.append(words("where.ground", ground=dig.ground))
    elif first.item.place.point is None:
        because = first.item.place.point_unknown_because or words("sheet.no_plan_reason")
        detail.append(words("where.no_point", because=because.rstrip(". ")))
    others = [f for f in found[1:] if f.station_m is not None][:4]
    if others:
        listed = [
            words(
                "where.other",
                number=f.number,
                name=lower_first(frame.name(f)),
                where=frame.measures.stretch(f.item.place.station_m, f.item.place.end_station_m),
            )
            for f in others
        ]
        detail.append(words("where.others", others="; ".join(listed)))
    return Answer(question, words.sentence(frame.where(first)), " ".join(detail))


def _whose(frame: Frame) -> Answer:
    words, owned = frame.words, frame.appraisal.ownership
    question = words("ask.whose")
    found = serious(frame) or frame.worst_first
    name = ""
    if found:
        ident = found[0].item.finding.id
        name = found[0].item.owner or owned.by_finding.get(ident, "")
    if name:
        return Answer(question, words("whose.named", name=name), frame.told(owned.plain, ""))
    if owned.plain:
        return Answer(question, frame.told(owned.plain, words("whose.by_stretch")))
    return Answer(question, words("whose.unknown"), words("whose.unknown_detail"))


def chosen(frame: Frame) -> Remedy | None:
    """Return the advised option, where there is one."""
    remedy = frame.appraisal.remedy
    if remedy.chosen is None:
        return None
    return next((o for o in remedy.options if o.kind is remedy.chosen), None)


def _what_to_do(frame: Frame) -> Answer:
    words, remedy = frame.words, frame.appraisal.remedy
    question = words("ask.do")
    option = chosen(frame)
    plain = _advised(frame, option) if option is not None else frame.told(remedy.plain, "")
    if not plain:
        return Answer(question, words("do.unknown"), words("do.unknown_detail"))
    detail = ""
    if option is not None and option.leaves:
        left = [frame.tagged(i) for i in option.leaves]
        if len(left) > _MOST_NAMED:
            left = [*left[:4], words("do.more", count=len(left) - 4)]
        detail = words("do.leaves", left=words.listed(left))
    return Answer(question, plain, detail)


def _advised(frame: Frame, option: Remedy) -> str:
    """Return the advice alone: date and cost have answers of their own below it.

    Where the record's sentence does not open with the option's name, its opening is the
    advice ("No repair is called for").
    """
    title = frame.words.sentence(option.title)
    plain = frame.told(frame.appraisal.remedy.plain, title)
    if not plain.startswith(option.title):
        return frame.words.sentence(plain.partition(". ")[0])
    if option.feasible is None:
        return f"{title} {frame.words('do.first_sure')}"
    return title


def _by_when(frame: Frame) -> Answer:
    words, remedy = frame.words, frame.appraisal.remedy
    advice = frame.appraisal.cleaning.advice
    question = words("ask.when")
    if remedy.by is not None:
        text = words("when.by", date=frame.measures.date(remedy.by))
        if remedy.urgency:
            text = words(
                "when.by_urgency", urgency=remedy.urgency, date=frame.measures.date(remedy.by)
            )
    elif remedy.urgency:
        text = words.sentence(remedy.urgency)
    else:
        text = words("when.unknown")
    detail = frame.return_plain
    if advice.due is not None and f"{advice.due:%B %Y}" not in detail:
        due = words("when.return", date=frame.measures.date(advice.due))
        detail = f"{detail} {due}".strip()
    return Answer(question, text, detail)


def _cost(frame: Frame) -> Answer:
    words, remedy = frame.words, frame.appraisal.remedy
    question = words("ask.cost")
    option = chosen(frame)
    if option is None or option.first_cost is None or not option.first_cost.known:
        because = option.first_cost if option is not None else None
        detail = (
            frame.measures.unknown(because) if because is not None else words("cost.unknown_detail")
        )
        return Answer(question, words("cost.unknown"), words.sentence(detail))
    text = words.sentence(frame.measures.money(option.first_cost, remedy.currency))
    detail = ""
    if option.whole_life_cost is not None and option.whole_life_cost.known:
        detail = over_the_years(frame, option.whole_life_cost)
    return Answer(question, text, f"{detail} {words('cost.not_an_offer')}".strip())


def over_the_years(frame: Frame, whole_life_cost: Estimate) -> str:
    """Return what a way costs over the years, and over how many."""
    remedy = frame.appraisal.remedy
    whole = frame.measures.money(whole_life_cost, remedy.currency)
    if remedy.horizon_years is None:
        return frame.words("cost.whole_life", cost=whole)
    return frame.words("cost.whole_life_years", cost=whole, years=remedy.horizon_years)


def _unseen(frame: Frame) -> Answer:
    words = frame.words
    question = words("ask.unseen")
    parts = frame.appraisal.not_seen
    skipped = [s for s in frame.appraisal.stages if not s.done]
    if not parts and not skipped:
        return Answer(question, words("unseen.nothing"), filmed(frame))
    whys = list(dict.fromkeys(words.sentence(n.why) for n in parts))[:3]
    whys += [words.sentence(s.why) for s in skipped[:2] if s.why]
    return Answer(question, _how_much(frame), " ".join(dict.fromkeys(whys)))


def _how_much(frame: Frame) -> str:
    """Return how many stretches could not be judged, and what share of the film."""
    words = frame.words
    if not frame.appraisal.not_seen:
        return words("unseen.skipped")
    count = len(unjudged_spans(frame.appraisal)) or len(frame.appraisal.not_seen)
    share = unjudged_share(frame.appraisal)
    if not share:
        return words.counted("unseen.parts", count)
    return words.counted("unseen.share", count, share=frame.measures.probability(share))
