"""Callouts of findings over the long section: lying in one or two rows, or upright."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from saltglaze.report.measures import Measures
from saltglaze.report.numbering import Numbered
from saltglaze.report.sheet import palette
from saltglaze.report.sheet.labels import spread
from saltglaze.report.sheet.scene import Box, Layer, Pen, Point, Style, Text, shortened, text_width
from saltglaze.report.sheet.symbols import symbol, tag

TAG = 1.9
NAME = 2.5
SMALL = 2.2
PITCH = 5.0
"""Room along the paper for one upright callout, mm."""
_TOP = 1.6
_FLAT = 10.6
"""Height of one lying callout: name, place, tag and symbol."""
_LEADERS = 6.0
_PASSING = 2.6
"""Room kept in the lower row for the leader of an upper callout."""
_LABEL = "label:finding"
_UPRIGHT = 36.0
_TWO_LINES = 5.8
"""Room along the paper for an upright callout with its place on a line of its own, mm."""


class Callout(NamedTuple):
    """Where one callout goes: its middle, its row (0 upper), where its leader comes down."""

    finding: Numbered
    middle: float
    row: int
    leader: float


class Layout(NamedTuple):
    """All callouts of a panel; ``rows`` is 0 for upright ones, of one line each or two."""

    rows: int
    callouts: tuple[Callout, ...]
    lines: int = 2


def finding_name(finding: Numbered, measures: Measures) -> str:
    """Return a finding's short name with its kind: "Roots, mass"."""
    facts = finding.item.finding.facts
    name = measures.words(f"feature.{facts.feature}")
    kind = measures.words.get(f"kind.{facts.kind}") if facts.kind else None
    return f"{name}, {kind}" if kind else name


def laid_out(
    findings: Sequence[Numbered], wanted: Sequence[float], band: Box, measures: Measures
) -> Layout:
    """Return callouts as near to their findings as fit: one row, two rows, or upright.

    Raises
    ------
    ValueError
        If not even upright callouts fit; panels are cut so that this cannot happen.
    """
    widths = [_width(f, measures) for f in findings]
    one = spread(wanted, widths, band.left, band.right)
    if one is not None:
        return Layout(1, _placed(findings, one, one, 1))
    two = _two_rows(findings, wanted, widths, band)
    if two is not None:
        return two
    for lines, pitch in ((2, _TWO_LINES), (1, PITCH)):
        upright = spread(wanted, [pitch] * len(widths), band.left, band.right)
        if upright is not None:
            return Layout(0, _placed(findings, upright, upright, 0), lines)
    raise ValueError("more findings on a panel than callouts fit")


def _placed(
    findings: Sequence[Numbered], middles: Sequence[float], leaders: Sequence[float], rows: int
) -> tuple[Callout, ...]:
    return tuple(
        Callout(f, m, i % 2 if rows == 2 else 1, x)
        for i, (f, m, x) in enumerate(zip(findings, middles, leaders, strict=True))
    )


def _two_rows(
    findings: Sequence[Numbered], wanted: Sequence[float], widths: Sequence[float], band: Box
) -> Layout | None:
    """Set every other callout in the upper row; its leader passes between the lower ones."""
    lower_sizes = [w if i % 2 else _PASSING for i, w in enumerate(widths)]
    lower = spread(wanted, lower_sizes, band.left, band.right)
    if lower is None:
        return None
    upper = spread(lower[::2], widths[::2], band.left, band.right)
    if upper is None:
        return None
    middles = [upper[i // 2] if i % 2 == 0 else lower[i] for i in range(len(widths))]
    return Layout(2, _placed(findings, middles, lower, 2))


def callouts_mm(
    findings: Sequence[Numbered], wanted: Sequence[float], band: Box, measures: Measures
) -> float:
    """Return the height the callouts of a panel need."""
    if not findings:
        return 3.0
    layout = laid_out(findings, wanted, band, measures)
    if layout.rows:
        return _TOP + layout.rows * _FLAT + (layout.rows - 1) * 1.8 + _LEADERS
    longest = max(_upright_mm(f, layout.lines, measures) for f in findings)
    return _TOP + min(longest, _UPRIGHT) + 4 * TAG + 3.0 + _LEADERS


def draw_callouts(
    pen: Pen, findings: Sequence[Numbered], seats: Sequence[Point], band: Box, measures: Measures
) -> None:
    """Draw the callouts in ``band`` with a leader to each seat on the pipe below."""
    if not findings:
        return
    layout = laid_out(findings, [x for x, _ in seats], band, measures)
    for callout, seat in zip(layout.callouts, seats, strict=True):
        if layout.rows:
            foot = _lying(pen, callout, band, layout.rows, measures)
        else:
            foot = _upright(pen, callout, band, layout.lines, measures)
        bend = band.bottom - _LEADERS + 0.8
        line = [foot, (callout.leader, foot[1] + 1.6), (callout.leader, bend)]
        line += [(seat[0], band.bottom - 0.4), seat]
        pen.line(line, Layer.FINDINGS, Style(palette.SOFT, 0.16), means="leader")


def _place(finding: Numbered, measures: Measures) -> str:
    place = finding.item.place
    return measures.stretch(place.station_m, place.end_station_m, short=True)


def _upright_mm(finding: Numbered, lines: int, measures: Measures) -> float:
    """Return how long the lettering of an upright callout is."""
    if lines == 1:
        return text_width(_one_line(finding, measures), NAME)
    return max(
        text_width(finding_name(finding, measures), NAME),
        text_width(_place(finding, measures), SMALL),
    )


def _one_line(finding: Numbered, measures: Measures) -> str:
    return f"{finding_name(finding, measures)}, {_place(finding, measures)}"


def _fitting(finding: Numbered, room: float, measures: Measures) -> str:
    """Return name and place, shortened step by step: margin, kind, then letters."""
    name, place = finding_name(finding, measures), _place(finding, measures)
    bare = measures.words(f"feature.{finding.item.finding.facts.feature}")
    start = f"{place.partition(' ±')[0]} {measures.long_unit}"
    brief = place if "±" not in place else start
    for words in (f"{name}, {place}", f"{name}, {brief}", f"{bare}, {brief}"):
        if text_width(words, NAME) <= room:
            return words
    return shortened(bare, NAME, room)


def _width(finding: Numbered, measures: Measures) -> float:
    words = max(
        text_width(finding_name(finding, measures), NAME, bold=True),
        text_width(_place(finding, measures), SMALL),
    )
    return max(words, 4 * TAG + 1.0) + 3.0


def _lying(pen: Pen, callout: Callout, band: Box, rows: int, measures: Measures) -> Point:
    """Letter name and place over tag and symbol; return where the leader starts."""
    x = callout.middle
    top = band.top + _TOP + (callout.row * (_FLAT + 1.8) if rows == 2 else 0.0)
    name, place = finding_name(callout.finding, measures), _place(callout.finding, measures)
    pen.text(Text((x, top + 2.4), name, Layer.LABELS, NAME, "middle", bold=True, means=_LABEL))
    soft = palette.SOFT
    pen.text(Text((x, top + 5.2), place, Layer.LABELS, SMALL, "middle", colour=soft, means=_LABEL))
    row = top + 6.3 + TAG
    _tag_and_symbol(pen, callout.finding, (x - TAG - 0.3, row), (x + TAG + 0.5, row))
    return (x, row + TAG + 0.2)


def _upright(pen: Pen, callout: Callout, band: Box, lines: int, measures: Measures) -> Point:
    x = callout.middle
    row = band.bottom - _LEADERS - TAG
    above = row - 2 * TAG - 0.7
    _tag_and_symbol(pen, callout.finding, (x, row), (x, above))
    room = above - TAG - 0.8 - (band.top + _TOP)
    foot = above - TAG - 0.8
    if lines == 1:
        words = _fitting(callout.finding, room, measures)
        pen.text(Text((x + 0.85, foot), words, Layer.LABELS, NAME, turn=90.0, means=_LABEL))
    else:
        name = shortened(finding_name(callout.finding, measures), NAME, room)
        place = shortened(_place(callout.finding, measures), SMALL, room)
        soft = palette.SOFT
        pen.text(Text((x - 0.4, foot), name, Layer.LABELS, NAME, turn=90.0, means=_LABEL))
        at = (x + 2.1, foot)
        pen.text(Text(at, place, Layer.LABELS, SMALL, turn=90.0, colour=soft, means=_LABEL))
    return (x, row + TAG + 0.1)


def _tag_and_symbol(pen: Pen, finding: Numbered, at: Point, beside: Point) -> None:
    means = f"section_finding:{finding.item.finding.id}"
    pen.add(tag(finding.number, finding.grade, at, TAG, means=means))
    feature = finding.item.finding.facts.feature
    pen.add(symbol(feature, beside, 1.7, layer=Layer.LABELS, means=f"symbol:{feature}"))
