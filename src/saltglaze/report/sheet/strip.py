"""The small strip on page one: the whole line as one bar, what matters marked on it."""

from __future__ import annotations

from saltglaze.report.measures import Measures
from saltglaze.report.numbering import Numbered
from saltglaze.report.sheet import palette
from saltglaze.report.sheet.callouts import finding_name
from saltglaze.report.sheet.labels import spread
from saltglaze.report.sheet.scene import Box, Layer, Pen, Scene, Style, Text, text_width
from saltglaze.report.sheet.survey import Survey, ground_names
from saltglaze.report.sheet.symbols import tag

WIDTH, HEIGHT = 162.0, 31.0
_LEFT, _RIGHT = 6.0, 156.0
_PIPE = 17.0
_TAG = 2.3
_SIZE = 2.9
_MOST = 12


def strip(drawn: Survey, serious: tuple[Numbered, ...], measures: Measures) -> Scene | None:
    """Return the strip, or ``None`` where no station is known.

    ``serious`` are the findings to mark, worst first; the rest are small dots. Names
    are lettered where they fit beside each other, else numbers alone.
    """
    if not drawn.measured:
        return None
    pen = Pen()
    shown = sorted(
        (f for f in serious[:_MOST] if f.station_m is not None), key=lambda f: f.station_m or 0.0
    )
    _pipe(pen, drawn, measures)
    numbers = {f.number for f in shown}
    for finding in drawn.placed:
        if finding.number not in numbers:
            at = (_x(drawn, finding.station_m or 0.0), _PIPE)
            pen.disc(at, 0.6, Layer.FINDINGS, Style(palette.INK, 0.2, palette.PAPER))
    _marks(pen, drawn, shown, measures)
    words = measures.words
    names = words.listed([f"{f.number} {finding_name(f, measures)}" for f in shown])
    return pen.finished(
        WIDTH,
        HEIGHT,
        title=words("strip.title"),
        description=words("strip.alt", names=names) if names else words("strip.alt_nothing"),
    )


def _x(drawn: Survey, station_m: float) -> float:
    share = (station_m - drawn.from_m) / (drawn.to_m - drawn.from_m)
    return _LEFT + share * (_RIGHT - _LEFT)


def _pipe(pen: Pen, drawn: Survey, measures: Measures) -> None:
    """Draw the bar, its ends, and whose ground it lies under."""
    bar = Box(_LEFT, _PIPE - 1.3, _RIGHT, _PIPE + 1.3)
    pen.box(bar, Layer.PIPE, Style(palette.INK, 0.4, palette.MARGIN95))
    free_from = 0.0
    for stretch in drawn.appraisal.ownership.stretches:
        low = stretch.from_m.value if stretch.from_m.value is not None else drawn.from_m
        high = stretch.to_m.value if stretch.to_m.value is not None else drawn.to_m
        a, b = max(_x(drawn, low), _LEFT), min(_x(drawn, high), _RIGHT)
        if b - a < 3.0:
            continue
        y = _PIPE + 3.4
        for x in (a, b):
            pen.line(((x, y - 0.9), (x, y + 0.9)), Layer.SCHEDULE, Style(palette.SOFT, 0.25))
        pen.line(((a, y), (b, y)), Layer.SCHEDULE, Style(palette.SOFT, 0.25))
        room = b - max(a, free_from) - 1.0
        names = ground_names(drawn, stretch, measures.words)
        name = next((n for n in names if text_width(n, _SIZE) <= room), "")
        middle = (max(a, free_from) + b) / 2
        pen.text(Text((middle, y + 4.0), name, Layer.LABELS, _SIZE, "middle", colour=palette.SOFT))
        free_from = b
    for station, anchor in ((drawn.from_m, "start"), (drawn.to_m, "end")):
        words = measures.bare_length(station, 0)
        at = (_x(drawn, station), HEIGHT - 1.0)
        pen.text(Text(at, words, Layer.LABELS, _SIZE, anchor, colour=palette.SOFT))


def _marks(pen: Pen, drawn: Survey, shown: list[Numbered], measures: Measures) -> None:
    if not shown:
        return
    wanted = [_x(drawn, f.station_m or 0.0) for f in shown]
    names = [finding_name(f, measures) for f in shown]
    widths = [max(text_width(n, _SIZE, bold=True), 2 * _TAG) + 3.0 for n in names]
    named = spread(wanted, widths, 0.0, WIDTH)
    middles = named or spread(wanted, [2 * _TAG + 0.8] * len(shown), 0.0, WIDTH) or wanted
    for finding, name, x, middle in zip(shown, names, wanted, middles, strict=True):
        y = 7.4 if named else 5.0
        if named:
            pen.text(Text((middle, 3.2), name, Layer.LABELS, _SIZE, "middle", bold=True))
        pen.add(tag(finding.number, finding.grade, (middle, y), _TAG, means="strip_finding"))
        foot = y + _TAG
        pen.line(
            ((middle, foot), (middle, foot + 0.8), (x, _PIPE - 2.8), (x, _PIPE)),
            Layer.FINDINGS,
            Style(palette.INK, 0.25),
        )
        pen.disc((x, _PIPE), 0.8, Layer.FINDINGS, Style(palette.PAPER, 0.2, palette.INK))
