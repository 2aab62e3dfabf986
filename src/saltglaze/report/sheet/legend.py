"""The legend and the title block: what each mark means, and what drawing this is."""

from __future__ import annotations

from collections.abc import Callable

from saltglaze.model.finding import Feature
from saltglaze.report.measures import Measures
from saltglaze.report.sheet import palette
from saltglaze.report.sheet.panel import Panel
from saltglaze.report.sheet.scene import Box, Layer, Pen, Point, Style, Text, shortened, text_width
from saltglaze.report.sheet.schedule import grade_fill
from saltglaze.report.sheet.symbols import symbol, tag

_ROW = 4.1
_SIZE = 2.2
_ICON = 6.8
_COLUMN = 36.5
_MOST_FEATURES = 10
TITLE_BLOCK_MM = 66.0

Draw = Callable[[Pen, Point], None]


def legend_keys(panel: Panel, used: frozenset[str]) -> tuple[str, ...]:
    """Return what a panel's legend explains, in reading order.

    Where there are many kinds of finding, their symbols are left to the callouts, each
    of which stands beside its name.
    """
    features = sorted(
        {f.item.finding.facts.feature for f in panel.findings}, key=list(Feature).index
    )
    marks = [key for key in _ICONS if key in used]
    grades = ["grade_tags", "grade_bars"] if panel.findings else []
    named = [f"feature.{f}" for f in features]
    return (*(named if len(named) <= _MOST_FEATURES else ()), *grades, *marks)


def legend_mm(count: int, width: float) -> float:
    """Return the height a legend of so many entries needs."""
    columns = max(1, int(width // _COLUMN))
    return _ROW * max(1, -(-count // columns)) + 4.5


def draw_legend(pen: Pen, keys: tuple[str, ...], room: Box, measures: Measures) -> None:
    """Draw the entries down columns within ``room``."""
    columns = max(1, int(room.width // _COLUMN))
    rows = max(1, -(-len(keys) // columns))
    width = room.width / columns
    pitch = min(_ROW, (room.height - 4.5) / rows)
    pen.text(
        Text(
            (room.left, room.top + 2.4),
            measures.words("sheet.legend"),
            Layer.LEGEND,
            2.5,
            bold=True,
        )
    )
    for index, key in enumerate(keys):
        column, row = divmod(index, rows)
        x = room.left + column * width
        y = room.top + 4.5 + (row + 0.5) * pitch
        _icon(pen, key, (x + 2.4, y))
        words = measures.words(key if key.startswith("feature.") else f"legend.{key}")
        words = shortened(words, _SIZE, width - _ICON - 1.0)
        pen.text(Text((x + _ICON, y + 0.75), words, Layer.LEGEND, _SIZE, means="label:legend"))


def _icon(pen: Pen, key: str, at: Point) -> None:
    kind, _, name = key.partition(".")
    if kind == "feature":
        pen.add(symbol(Feature(name), at, 1.6, layer=Layer.LEGEND))
    elif key == "grade_tags":
        for dx, grade in ((-1.7, 2), (0.4, 3), (2.5, 4)):
            pen.add(_small_tag(grade, (at[0] + dx, at[1])))
    elif key == "grade_bars":
        for k in range(5):
            left = at[0] - 2.4 + k * 1.05
            pen.box(
                Box(left, at[1] + 1.5 - 0.6 * (k + 1), left + 0.9, at[1] + 1.5),
                Layer.LEGEND,
                Style(palette.INK, 0.15, grade_fill(k + 1)),
            )
    else:
        _ICONS[key](pen, at)


def _small_tag(grade: int, at: Point) -> list:  # type: ignore[type-arg]
    return [s for s in tag(1, grade, at, 0.95) if not isinstance(s, Text)]


def _stroke(style: Style) -> Draw:
    def draw(pen: Pen, at: Point) -> None:
        pen.line(((at[0] - 2.4, at[1]), (at[0] + 2.6, at[1])), Layer.LEGEND, style)

    return draw


def _swatch(style: Style) -> Draw:
    def draw(pen: Pen, at: Point) -> None:
        pen.box(Box(at[0] - 2.4, at[1] - 1.2, at[0] + 2.6, at[1] + 1.2), Layer.LEGEND, style)

    return draw


def _band_icon(pen: Pen, at: Point) -> None:
    pen.box(
        Box(at[0] - 2.4, at[1] - 1.5, at[0] + 2.6, at[1] + 1.5),
        Layer.LEGEND,
        Style(palette.SOFT, 0.08, palette.MARGIN95),
    )
    pen.box(
        Box(at[0] - 2.4, at[1] - 0.8, at[0] + 2.6, at[1] + 0.8),
        Layer.LEGEND,
        Style(palette.SOFT, 0.08, palette.MARGIN68),
    )
    pen.line(((at[0] - 2.4, at[1]), (at[0] + 2.6, at[1])), Layer.LEGEND, Style(palette.INK, 0.6))


def _main_icon(pen: Pen, at: Point) -> None:
    line = ((at[0] - 2.4, at[1]), (at[0] + 2.6, at[1]))
    pen.line(line, Layer.LEGEND, Style(palette.SOFT, 1.1))
    pen.line(line, Layer.LEGEND, Style(palette.PAPER, 0.6))


def _triangle(ink: str, dot: bool) -> Draw:
    def draw(pen: Pen, at: Point) -> None:
        x, y = at
        corners = ((x, y - 1.3), (x + 1.15, y + 0.75), (x - 1.15, y + 0.75))
        pen.line(corners, Layer.LEGEND, Style(ink, 0.28, palette.PAPER), closed=True)
        if dot:
            pen.disc((x, y), 0.25, Layer.LEGEND, Style(fill=ink))

    return draw


def _mark_icon(pen: Pen, at: Point) -> None:
    x, y = at
    pen.box(
        Box(x - 0.8, y - 0.8, x + 0.8, y + 0.8),
        Layer.LEGEND,
        Style(palette.INK, 0.25, palette.PAPER),
    )
    pen.line(((x - 0.8, y - 0.8), (x + 0.8, y + 0.8)), Layer.LEGEND, Style(palette.INK, 0.2))


def _dig_icon(pen: Pen, at: Point) -> None:
    x, y = at
    style = Style(palette.ALARM, 0.35)
    pen.box(Box(x - 1.4, y - 1.4, x + 1.4, y + 1.4), Layer.LEGEND, Style(palette.ALARM, 0.25))
    pen.line(((x - 1.4, y), (x + 1.4, y)), Layer.LEGEND, style)
    pen.line(((x, y - 1.4), (x, y + 1.4)), Layer.LEGEND, style)


def _sag_icon(pen: Pen, at: Point) -> None:
    x, y = at
    for points in (
        ((x - 2, y), (x + 2, y)),
        ((x - 2, y - 0.8), (x - 2, y + 0.8)),
        ((x + 2, y - 0.8), (x + 2, y + 0.8)),
    ):
        pen.line(points, Layer.LEGEND, Style(palette.WATER, 0.35))


def _joint_icon(pen: Pen, at: Point) -> None:
    x, y = at
    for dy in (-1.0, 1.0):
        pen.line(((x - 2.4, y + dy), (x + 2.6, y + dy)), Layer.LEGEND, Style(palette.INK, 0.35))
    pen.line(((x, y - 1.0), (x, y + 1.0)), Layer.LEGEND, Style(palette.INK, 0.18))


_ICONS: dict[str, Draw] = {
    "band": _band_icon,
    "other_course": _stroke(Style(palette.SOFT, 0.35, dash=(1.6, 1.2))),
    "locate": _triangle(palette.INK, dot=True),
    "locate_unused": _triangle(palette.SOFT, dot=False),
    "dig": _dig_icon,
    "mark": _mark_icon,
    "main": _main_icon,
    "utility": _stroke(Style(palette.ALARM, 0.3, dash=(2.4, 0.8, 0.4, 0.8))),
    "outline.parcel": _stroke(Style(palette.SOFT, 0.25, dash=(5.0, 1.2, 0.8, 1.2))),
    "outline.right_of_way": _swatch(Style(palette.SOFT, 0.2, palette.STREET)),
    "outline.building": _swatch(Style(palette.INK, 0.3, "hatch:diagonal")),
    "outline.easement": _stroke(Style(palette.SOFT, 0.25, dash=(1.0, 1.0))),
    "outline.water": _swatch(Style(palette.WATER, 0.2, "hatch:waves")),
    "ground": _stroke(Style(palette.EARTH, 0.45)),
    "invert_margin": _swatch(Style(palette.SOFT, 0.06, palette.MARGIN95)),
    "water": _swatch(Style(palette.WATER, 0.2, palette.WATER_FILL)),
    "sag": _sag_icon,
    "joint": _joint_icon,
    "not_seen": _swatch(Style(palette.SOFT, 0.15, "hatch:back")),
}


def draw_title_block(pen: Pen, lines: list[tuple[str, bool]], room: Box) -> None:
    """Draw the title block: lines of (text, bold) in a framed box."""
    pen.box(room, Layer.FRAME, Style(palette.INK, 0.3, palette.PAPER))
    pitch = min(3.5, (room.height - 2.0) / max(len(lines), 1))
    size = min(2.5, pitch * 0.72)
    for index, (words, bold) in enumerate(lines):
        y = room.top + 1.2 + pitch * (index + 0.75)
        text = shortened(words, size, room.width - 4.0, bold)
        pen.text(
            Text((room.left + 2.0, y), text, Layer.FRAME, size, bold=bold, means="label:title")
        )


__all__ = [
    "TITLE_BLOCK_MM",
    "draw_legend",
    "draw_title_block",
    "legend_keys",
    "legend_mm",
    "text_width",
]
