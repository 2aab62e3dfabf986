"""Findings one by one: still, place in the pipe, words, and how sure."""

from __future__ import annotations

from pathlib import Path

from saltglaze.model.appraisal import Code
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Certainty, DraftedBy, Facts, Feature
from saltglaze.report.blocks import Card, Cards, Picture
from saltglaze.report.frame import Frame, lower_first
from saltglaze.report.numbering import Numbered
from saltglaze.report.prose import without_name
from saltglaze.report.sheet.pipe_round import pipe_round
from saltglaze.report.stills import picture, width_for

NO_PLACE_ON_THE_WALL = {
    Feature.START,
    Feature.END,
    Feature.BEND,
    Feature.DIAMETER_CHANGE,
    Feature.MATERIAL_CHANGE,
    Feature.LINER,
    Feature.CAMERA_UNDER_WATER,
    Feature.LENS_FOULED,
    Feature.COULD_NOT_PASS,
}
"""Features that take the whole pipe: a missing clock position is no lack."""


def cards(frame: Frame, folder: Path) -> Cards:
    """Return a card for each finding; stills are read from ``folder``."""
    width = width_for(len(frame.stills))
    return Cards(tuple(_card(frame, finding, folder, width) for finding in frame.findings))


def _card(frame: Frame, finding: Numbered, folder: Path, width: int) -> Card:
    item = finding.item
    facts = item.finding.facts
    still, still_words = _still(frame, finding, folder, width)
    water = facts.water_share.value if facts.water_share is not None else None
    clock = item.place.clock
    drawn = None
    if clock is not None or facts.feature not in NO_PLACE_ON_THE_WALL:
        scene = pipe_round(facts, clock, water, frame.measures)
        drawn = frame.drawing(scene, f"r{finding.number}")
    return Card(
        anchor=f"finding-{finding.number}",
        number=finding.number,
        title=frame.name(finding),
        grade=finding.grade,
        grade_words=frame.grade_words(finding.grade),
        plain=frame.plain_here(finding),
        pairs=_pairs(frame, finding),
        section=drawn,
        still=still,
        still_words=still_words,
        why_label=frame.words("card.why" if finding.grade is not None else "card.why_none"),
        why=_why(frame, finding),
        code_label=frame.words("card.code"),
        code=coded(frame, item.code),
    )


def _still(frame: Frame, finding: Numbered, folder: Path, width: int) -> tuple[Picture | None, str]:
    words = frame.words
    still = frame.stills.get(finding.item.finding.id)
    if still is None:
        return None, words("still.none")
    alt = words("still.alt", name=frame.name(finding), where=frame.where(finding))
    found = picture(folder, still.path, alt, width)
    if isinstance(found, str):
        return None, words(f"still.{found}")
    turned = "still.upright" if still.roll_deg is not None else "still.as_filmed"
    return found, words(turned, time=film_time(still.time_s))


def film_time(time_s: float) -> str:
    """Return seconds of film as m:ss, or h:mm:ss."""
    whole = max(0, round(time_s))
    hours, rest = divmod(whole, 3600)
    minutes, seconds = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{seconds:02d}" if hours else f"{minutes}:{seconds:02d}"


def _pairs(frame: Frame, finding: Numbered) -> tuple[tuple[str, str], ...]:
    words, item = frame.words, finding.item
    pairs = [
        (words("card.where"), words.sentence(frame.place(finding))),
    ]
    if item.place.clock is not None or item.finding.facts.feature not in NO_PLACE_ON_THE_WALL:
        pairs.append((words("card.clock"), _clock(frame, finding)))
    if size := sizes(frame, item.finding.facts):
        pairs.append((words("card.size"), size))
    if item.owner and not _one_owner(frame):
        pairs.append((words("card.owner"), item.owner))
    if change := frame.changes.get(item.finding.id):
        told = frame.told(change.plain, words(f"change_told.{change.kind}"))
        pairs.append((words("card.change"), without_name(told)))
    pairs.append((words("card.sure"), _sure(frame, finding)))
    if heard := item.finding.evidence.words:
        quoted = " ".join(words("card.quote", words=text) for text in heard[:3])
        pairs.append((words("card.heard"), quoted))
    return tuple(pairs)


def _one_owner(frame: Frame) -> bool:
    """Whether all findings belong to the same owner: the table above says so once."""
    return len({f.item.owner for f in frame.findings}) == 1


def _clock(frame: Frame, finding: Numbered) -> str:
    words, place = frame.words, finding.item.place
    if place.clock is None:
        because = place.clock_unknown_because
        unknown = words("clock.unknown")
        return words.sentence(f"{unknown}: {because}" if because else unknown)
    text = frame.measures.clock(place.clock)
    if place.clock.view is not None and not place.clock.all_round:
        here = words("clock.view", clock=text, view=words(f"view.{place.clock.view}"))
        behind = frame.measures.clock(place.clock_other_view)
        if place.clock_other_view is None or behind == text:
            return words.sentence(here)
        text = words("clock.both", clock=here, other=behind)
    return words.sentence(text)


_SIZES = (
    ("width_m", "small"),
    ("length_m", "length"),
    ("section_share", "share"),
    ("round_share", "share"),
    ("water_share", "share"),
    ("deformation_share", "share"),
)


def sizes(frame: Frame, facts: Facts) -> str:
    """Return all sizes of a finding in words, empty where none was given."""
    words, measures = frame.words, frame.measures
    parts: list[str] = []
    for name, method in _SIZES:
        estimate: Estimate | None = getattr(facts, name)
        if estimate is not None and estimate.known:
            key = f"size.{facts.feature}.{name}"
            value = getattr(measures, method)(estimate)
            parts.append(words(key if words.get(key) else f"size.{name}", value=value))
    parts += _things(frame, facts)
    return words.sentence("; ".join(parts))


def _things(frame: Frame, facts: Facts) -> list[str]:
    """Return the plain facts: angle, turn, joints, bore, material, soil, void, tap."""
    words, measures = frame.words, frame.measures
    parts: list[str] = []
    if facts.angle_deg is not None and facts.angle_deg.known:
        parts.append(words("size.angle", value=measures.quantity(facts.angle_deg, 1.0, "°", 1.0)))
    if facts.turn is not None:
        parts.append(words(f"turn.{facts.turn}"))
    if facts.joints:
        parts.append(words.counted("size.joints", facts.joints))
    elif facts.at_joint:
        parts.append(words("size.at_joint"))
    if facts.diameter_m is not None and facts.diameter_after_m is not None:
        parts.append(
            words(
                "size.bore_change",
                before=measures.bore(facts.diameter_m.value),
                after=measures.bore(facts.diameter_after_m.value),
            )
        )
    if facts.material is not None and facts.material_after is not None:
        parts.append(
            words(
                "size.material_change",
                before=lower_first(words(f"material.{facts.material}")),
                after=lower_first(words(f"material.{facts.material_after}")),
            )
        )
    parts += [
        words(f"size.{flag}") for flag in ("soil_visible", "void_visible") if getattr(facts, flag)
    ]
    if facts.feature in (Feature.TAP, Feature.INTRUDING_TAP):
        parts += [
            words(f"size.{flag}.{'yes' if value else 'no'}")
            for flag in ("active", "capped")
            if (value := getattr(facts, flag)) is not None
        ]
    if facts.remark:
        parts.append(facts.remark.rstrip(". "))
    return parts


def _sure(frame: Frame, finding: Numbered) -> str:
    words, item = frame.words, finding.item
    facts, evidence = item.finding.facts, item.finding.evidence
    parts = [words(f"sure.{'supposed' if facts.certainty is Certainty.SUPPOSED else 'certain'}")]
    parts.append(words(f"sure.by.{evidence.drafted_by}"))
    if evidence.drafted_by is DraftedBy.TYPED and evidence.typed_in:
        parts.append(words("sure.typed_in", where=evidence.typed_in))
    edit = item.finding.edit
    if edit is not None:
        parts.append(words("sure.edited", by=edit.by or words("sure.somebody")))
    return " ".join(parts)


def _why(frame: Frame, finding: Numbered) -> str:
    words, grade = frame.words, finding.item.grade
    if grade.worst is None:
        return words.sentence(grade.ungraded_because or "")
    sentences = []
    for reason in grade.reasons[:4]:
        text = words.sentence(reason.because)
        if reason.source:
            text = words("card.reason_source", because=text.rstrip("."), source=reason.source)
        sentences.append(text)
    return " ".join(sentences)


def coded(frame: Frame, code: Code) -> str:
    """Return the EN 13508-2 code and how sure its letters are; empty where there is none."""
    if code.main is None:
        return ""
    letters = " ".join(part for part in (code.main, code.ch1, code.ch2) if part)
    status = frame.words.get(f"code.status.{code.status}")
    return frame.words("code.text", letters=letters, status=status) if status else letters
