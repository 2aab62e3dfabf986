"""A drawing as plain data: layered shapes in millimetres on paper, y downwards.

Any writer (SVG here, DXF elsewhere) can walk ``Scene.shapes``; each shape names its
layer, and what it stands for where it stands for something (``finding:7``).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import NamedTuple

Point = tuple[float, float]


class Layer(StrEnum):
    """Layers, back to front."""

    PAPER = "paper"
    PARCELS = "parcels"
    BUILDINGS = "buildings"
    UTILITIES = "utilities"
    MARGIN = "margin"
    GROUND = "ground"
    WATER = "water"
    PIPE = "pipe"
    STATIONS = "stations"
    JOINTS = "joints"
    MARKS = "marks"
    LOCATES = "locates"
    DIGS = "digs"
    FINDINGS = "findings"
    SCHEDULE = "schedule"
    LABELS = "labels"
    FRAME = "frame"
    LEGEND = "legend"


class Box(NamedTuple):
    """An upright rectangle, millimetres."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """Width in mm."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Height in mm."""
        return self.bottom - self.top

    @property
    def middle(self) -> Point:
        """Centre point."""
        return ((self.left + self.right) / 2, (self.top + self.bottom) / 2)

    def overlaps(self, other: Box, gap: float = 0.0) -> bool:
        """Whether two boxes come closer than ``gap``."""
        return (
            self.left < other.right + gap
            and other.left < self.right + gap
            and self.top < other.bottom + gap
            and other.top < self.bottom + gap
        )

    def inside(self, other: Box, slack: float = 1e-6) -> bool:
        """Whether this box lies within another."""
        return (
            self.left >= other.left - slack
            and self.right <= other.right + slack
            and self.top >= other.top - slack
            and self.bottom <= other.bottom + slack
        )

    def holds(self, point: Point) -> bool:
        """Whether a point lies within."""
        return self.left <= point[0] <= self.right and self.top <= point[1] <= self.bottom

    def shrunk(self, by: float) -> Box:
        """Return the box with every side moved in."""
        return Box(self.left + by, self.top + by, self.right - by, self.bottom - by)


@dataclass(frozen=True)
class Style:
    """How a shape is drawn; colours are CSS, ``fill`` may name a hatch of ``svg.HATCHES``."""

    stroke: str | None = None
    width: float = 0.2
    fill: str | None = None
    dash: tuple[float, ...] = ()
    opacity: float = 1.0


@dataclass(frozen=True)
class Poly:
    """A polyline, or a polygon where ``closed``; ``holes`` are rings cut out of it."""

    points: tuple[Point, ...]
    style: Style
    layer: Layer
    closed: bool = False
    holes: tuple[tuple[Point, ...], ...] = ()
    clip: Box | None = None
    means: str = ""


@dataclass(frozen=True)
class Disc:
    """A circle."""

    centre: Point
    radius: float
    style: Style
    layer: Layer
    clip: Box | None = None
    means: str = ""


@dataclass(frozen=True)
class Text:
    """One line of lettering; ``at`` is on its baseline, ``turn`` degrees anticlockwise.

    ``anchor`` is start, middle or end. ``halo`` paints paper round the letters.
    """

    at: Point
    text: str
    layer: Layer
    size: float = 2.5
    anchor: str = "start"
    turn: float = 0.0
    bold: bool = False
    italic: bool = False
    colour: str = "#1b2733"
    halo: bool = False
    clip: Box | None = None
    means: str = ""

    @property
    def box(self) -> Box:
        """The upright rectangle the lettering covers, estimated from letter widths."""
        return text_box(self)


Shape = Poly | Disc | Text


@dataclass(frozen=True)
class Scene:
    """A drawing of ``width`` by ``height`` millimetres with a title and a description."""

    width: float
    height: float
    shapes: tuple[Shape, ...]
    title: str = ""
    description: str = ""
    notes: tuple[str, ...] = ()

    def on(self, layer: Layer) -> tuple[Shape, ...]:
        """Return the shapes of one layer."""
        return tuple(shape for shape in self.shapes if shape.layer == layer)

    def meaning(self, prefix: str) -> tuple[Shape, ...]:
        """Return the shapes that stand for something, by prefix of ``means``."""
        return tuple(shape for shape in self.shapes if shape.means.startswith(prefix))


@dataclass
class Pen:
    """Collects shapes while a drawing is made; the only mutable thing in this room."""

    shapes: list[Shape] = field(default_factory=list)
    clip: Box | None = None

    def line(
        self,
        points: Iterable[Point],
        layer: Layer,
        style: Style,
        *,
        means: str = "",
        closed: bool = False,
        holes: tuple[tuple[Point, ...], ...] = (),
    ) -> None:
        """Draw a polyline or polygon."""
        self.shapes.append(Poly(tuple(points), style, layer, closed, holes, self.clip, means))

    def disc(
        self, centre: Point, radius: float, layer: Layer, style: Style, *, means: str = ""
    ) -> None:
        """Draw a circle."""
        self.shapes.append(Disc(centre, radius, style, layer, self.clip, means))

    def box(self, box: Box, layer: Layer, style: Style, *, means: str = "") -> None:
        """Draw a rectangle."""
        corners = (
            (box.left, box.top),
            (box.right, box.top),
            (box.right, box.bottom),
            (box.left, box.bottom),
        )
        self.line(corners, layer, style, means=means, closed=True)

    def text(self, text: Text) -> None:
        """Letter a line of text."""
        self.shapes.append(replace(text, clip=self.clip) if self.clip else text)

    def add(self, shapes: Iterable[Shape]) -> None:
        """Take over shapes made elsewhere."""
        self.shapes.extend(shapes)

    def finished(self, width: float, height: float, **about: str) -> Scene:
        """Return the scene, layers sorted back to front."""
        order = {layer: rank for rank, layer in enumerate(Layer)}
        shapes = tuple(sorted(self.shapes, key=lambda shape: order[shape.layer]))
        return Scene(width, height, shapes, about.get("title", ""), about.get("description", ""))


# Advance widths of the letters U+0020 to U+007E in thousandths of the letter size, measured
# from DejaVu Sans 2.37, the widest face that stands in for a reader's own: what fits in it
# fits in the others. Beyond these letters, a broad share by script.
# fmt: off
_ADVANCE = (
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636,
    636, 636, 636, 636, 636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632,
    575, 775, 752, 295, 295, 656, 557, 863, 748, 787, 603, 787, 695, 635, 611, 732, 684, 989, 685,
    611, 685, 390, 337, 390, 838, 500, 500, 613, 635, 550, 635, 615, 352, 635, 634, 278, 278, 579,
    278, 974, 634, 612, 635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636, 337, 636, 838,
)
# fmt: on
_BROADER = {"±": 840, "–": 500, "·": 320, "½": 970, "°": 500, "…": 1000, "“": 520, "”": 520}
_BOLD = 1.13


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Return a line's width in mm in the widest common face."""
    total = sum(_advance(letter) for letter in text)
    return total / 1000.0 * size * (_BOLD if bold else 1.0)


def _advance(letter: str) -> int:
    code = ord(letter)
    if 0x20 <= code <= 0x7E:
        return _ADVANCE[code - 0x20]
    return _BROADER.get(letter, 1050 if code > 0x2E80 else 700)


def text_box(text: Text) -> Box:
    """Return the upright bounding box of a text, turned by its angle."""
    width = text_width(text.text, text.size, text.bold)
    start = {"start": 0.0, "middle": -width / 2, "end": -width}[text.anchor]
    corners = [
        (start, -0.78 * text.size),
        (start + width, -0.78 * text.size),
        (start, 0.22 * text.size),
        (start + width, 0.22 * text.size),
    ]
    angle = math.radians(text.turn)
    cos, sin = math.cos(angle), math.sin(angle)
    xs = [text.at[0] + x * cos + y * sin for x, y in corners]
    ys = [text.at[1] - x * sin + y * cos for x, y in corners]
    return Box(min(xs), min(ys), max(xs), max(ys))


def shortened(text: str, size: float, room: float, bold: bool = False) -> str:
    """Return the text, cut with an ellipsis where it would be wider than ``room`` mm."""
    if text_width(text, size, bold) <= room:
        return text
    kept = text
    while kept and text_width(kept + "…", size, bold) > room:
        kept = kept[:-1]
    return kept.rstrip() + "…" if kept.strip() else ""
