"""The sheet where no distance is known: what was seen, in order, and why it is not drawn."""

from __future__ import annotations

from saltglaze.report.measures import Measures
from saltglaze.report.sheet import palette
from saltglaze.report.sheet.callouts import TAG, finding_name
from saltglaze.report.sheet.scene import Box, Layer, Pen, Scene, Style, Text, shortened
from saltglaze.report.sheet.survey import Survey
from saltglaze.report.sheet.symbols import symbol, tag

_COLUMNS = 4
_ROW = 6.0
_TOP = 22.0


def unscaled(drawn: Survey, measures: Measures, width: float) -> Scene:
    """Return a list of findings with tags and symbols, in the order they were seen."""
    words = measures.words
    pen = Pen()
    findings = drawn.findings
    rows = max(1, -(-len(findings) // _COLUMNS))
    height = _TOP + rows * _ROW + 4.0
    pen.box(Box(0.5, 0.5, width - 0.5, height - 0.5), Layer.FRAME, Style(palette.FAINT, 0.25))
    title = words("sheet.unscaled")
    pen.text(Text((6.0, 8.0), title, Layer.LABELS, 3.0, bold=True))
    because = drawn.no_plan_because or words("sheet.no_station_reason")
    why = shortened(words("sheet.unscaled_because", because=because.rstrip(". ")), 2.6, width - 12)
    pen.text(Text((6.0, 13.5), why, Layer.LABELS, 2.6, italic=True, colour=palette.SOFT))
    column = (width - 12.0) / _COLUMNS
    for index, finding in enumerate(findings):
        x = 6.0 + index // rows * column
        y = _TOP + (index % rows) * _ROW
        means = f"unplaced_finding:{finding.item.finding.id}"
        pen.add(tag(finding.number, finding.grade, (x + TAG, y), TAG, means=means))
        feature = finding.item.finding.facts.feature
        pen.add(symbol(feature, (x + 3.6 * TAG, y), 1.7, layer=Layer.LABELS))
        name = shortened(finding_name(finding, measures), 2.5, column - 6 * TAG)
        pen.text(Text((x + 5.2 * TAG, y + 0.9), name, Layer.LABELS, 2.5, means="label:finding"))
    return pen.finished(width, height, title=title, description=f"{title} {why}")
