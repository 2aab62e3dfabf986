"""Strokes on the unrolled wall: joints, roots, cracks, taps, deposits.

Canvas rows are nearly millimetres of station (``ROWS_PER_M``), columns clock angle;
colours RGB.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from saltglaze.demo.script import Defect, Look, WallDefect

Canvas = NDArray[np.uint8]
ROWS_PER_M = 1024
"""Texture rows in a metre; a power of two, so that coarser copies stay in step."""

GAP_MM: dict[Look, tuple[float, float]] = {
    Look.CLAY: (7.0, 0.30),
    Look.CAST_IRON: (5.0, 0.35),
    Look.PVC: (3.0, 0.45),
    Look.CONCRETE: (9.0, 0.40),
}
"""Width of the gap at a sound joint and how dark it is against the wall (invented)."""


def paint_joint(canvas: Canvas, at_m: float, look: Look, draw: np.random.Generator) -> None:
    """Paint a joint ring whose gap is centred ``at_m`` below the canvas's first row."""
    width, shade = GAP_MM[look]
    gap = width * float(draw.uniform(0.8, 1.3))
    rows = np.arange(len(canvas), dtype=np.float32) + 0.5
    columns = np.arange(canvas.shape[1], dtype=np.float32)
    phase = draw.uniform(0, 6.28, 3)
    wave = sum(
        np.sin(columns * (2 * np.pi * k / canvas.shape[1]) + p)
        for k, p in zip((2, 5, 11), phase, strict=True)
    )
    # The edge wanders a little but its mean stays where the truth says.
    centre = at_m * ROWS_PER_M + 0.25 * np.asarray(wave, np.float32)
    low = max(int(at_m * ROWS_PER_M - 6 * gap), 0)
    high = min(int(at_m * ROWS_PER_M + 6 * gap), len(canvas))
    if high <= low:
        return
    off = rows[low:high, None] - centre[None, :]
    dark = np.clip(1.2 - np.abs(off) / (gap / 2), 0, 1)
    rim = np.exp(-(((off + gap * 0.9) / (gap * 0.45)) ** 2)) * 0.35 * (1 - dark)
    stain = np.exp(-((off / (gap * 2.2)) ** 2)) * 0.18
    factor = (1 - dark * (1 - shade)) * (1 + rim - stain)
    patch = canvas[low:high].astype(np.float32) * factor[..., None]
    np.clip(patch, 0, 255, out=patch)
    canvas[low:high] = patch.astype(np.uint8)


def paint_defect(
    canvas: Canvas,
    start_m: float,
    defect: WallDefect,
    radius_m: float,
    draw: np.random.Generator,
) -> None:
    """Paint a defect on a canvas that begins at station ``start_m``."""
    row = (defect.station_m - start_m) * ROWS_PER_M
    column = (defect.clock_deg % 360.0) / 360.0 * canvas.shape[1]
    per_mm = canvas.shape[1] / (2 * np.pi * radius_m * ROWS_PER_M)
    stroke = {
        Defect.FINE_ROOTS: _roots,
        Defect.ROOT_MASS: _roots,
        Defect.TAP_ROOT: _tap_root,
        Defect.CRACK: _crack,
        Defect.FRACTURE: _crack,
        Defect.HOLE: _hole,
        Defect.TAP: _opening,
        Defect.CLEAN_OUT: _opening,
        Defect.DEPOSITS: _deposits,
        Defect.GREASE: _deposits,
        Defect.CHIPPED: _chips,
        Defect.OPEN_JOINT: _open_joint,
    }.get(defect.kind)
    if stroke is not None:
        stroke(canvas, row, column, per_mm, defect, draw)


def _thrice(
    canvas: Canvas, points: NDArray[np.float64], colour: tuple[int, int, int], width: int
) -> None:
    """Draw a polyline of (row, column), repeated a turn left and right over the seam."""
    for turn in (-1, 0, 1):
        xy = np.stack([points[:, 1] + turn * canvas.shape[1], points[:, 0]], axis=1)
        fixed = np.round(xy * 16).astype(np.int32)
        cv2.polylines(canvas, [fixed], False, colour, width, cv2.LINE_AA, 4)


def _blob(
    canvas: Canvas,
    outline: NDArray[np.float64],
    colour: tuple[int, int, int],
) -> None:
    for turn in (-1, 0, 1):
        xy = np.stack([outline[:, 1] + turn * canvas.shape[1], outline[:, 0]], axis=1)
        cv2.fillPoly(canvas, [np.round(xy * 16).astype(np.int32)], colour, cv2.LINE_AA, 4)


def _round_outline(
    row: float,
    column: float,
    half_rows: float,
    half_columns: float,
    rough: float,
    draw: np.random.Generator,
) -> NDArray[np.float64]:
    turn = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    wobble = 1 + rough * np.sum(
        [np.sin(k * turn + draw.uniform(0, 6.28)) / k for k in (2, 3, 5, 7)], axis=0
    )
    return np.stack(
        [row + half_rows * wobble * np.sin(turn), column + half_columns * wobble * np.cos(turn)],
        axis=1,
    )


def _roots(
    canvas: Canvas,
    row: float,
    column: float,
    per_mm: float,
    d: WallDefect,
    draw: np.random.Generator,
) -> None:
    mass = d.kind is Defect.ROOT_MASS
    count = int((160 if mass else 36) * d.strength * max(d.extent_deg, 10) / 60)
    half = d.extent_deg / 720 * canvas.shape[1]
    for _ in range(count):
        length = float(draw.gamma(4.0, (26 if mass else 16) * (0.5 + 0.5 * d.strength)))
        way = (
            float(draw.choice([-1.0, 1.0], p=[0.75, 0.25]))
            if mass
            else float(draw.choice([-1.0, 1.0]))
        )
        steps = np.linspace(0, 1, 14)
        start = column + float(draw.uniform(-half, half))
        bend = np.cumsum(draw.normal(0, 2.4 * per_mm, steps.size))
        points = np.stack([row + way * length * steps, start + bend], axis=1)
        shade = float(draw.uniform(0.55, 1.15))
        colour = (int(min(168 * shade, 255)), int(min(132 * shade, 255)), int(84 * shade))
        _thrice(canvas, points, colour, 1 if not mass or draw.random() < 0.7 else 2)


def _tap_root(
    canvas: Canvas,
    row: float,
    column: float,
    per_mm: float,
    d: WallDefect,
    draw: np.random.Generator,
) -> None:
    steps = np.linspace(0, 1, 30)
    length = max(d.length_m * ROWS_PER_M, 60)
    bend = np.cumsum(draw.normal(0, 1.5 * per_mm, steps.size))
    points = np.stack([row - length * steps, column + bend], axis=1)
    _thrice(canvas, points, (70, 48, 30), max(int(d.size_m * ROWS_PER_M * 1.3), 6))
    _thrice(canvas, points, (158, 120, 78), max(int(d.size_m * ROWS_PER_M), 4))


def _crack(
    canvas: Canvas,
    row: float,
    column: float,
    per_mm: float,
    d: WallDefect,
    draw: np.random.Generator,
) -> None:
    across = d.extent_deg / 360 * canvas.shape[1]
    length = d.length_m * ROWS_PER_M
    width = 2 if d.kind is Defect.CRACK else 5
    branches = 1 if d.kind is Defect.CRACK else 4
    for branch in range(branches):
        steps = np.linspace(0, 1, 80)
        walk = np.cumsum(draw.normal(0, 1.0, steps.size))
        walk -= walk[-1] * steps
        share = 1.0 if branch == 0 else float(draw.uniform(0.15, 0.4))
        start = 0.0 if branch == 0 else float(draw.uniform(0.1, 0.6))
        lean = 0.0 if branch == 0 else float(draw.choice([-1, 1]) * draw.uniform(6, 18))
        points = np.stack(
            [
                row + length * (start + steps * share),
                column
                + across * (start + steps * share - 0.5)
                + per_mm * (0.9 * walk + lean * steps),
            ],
            axis=1,
        )
        edge = np.array([0.0, 1.4 * per_mm + width / 2])
        _thrice(canvas, points + edge, (206, 172, 140), 1)
        _thrice(canvas, points, (24, 16, 12), width if branch == 0 else max(width - 2, 1))


def _hole(
    canvas: Canvas,
    row: float,
    column: float,
    per_mm: float,
    d: WallDefect,
    draw: np.random.Generator,
) -> None:
    half = max(d.size_m * ROWS_PER_M / 2, 8.0)
    rim = _round_outline(row, column, half * 1.18, half * 1.18 * per_mm, 0.16, draw)
    _blob(canvas, rim, (186, 140, 104))
    _blob(canvas, _round_outline(row, column, half, half * per_mm, 0.2, draw), (14, 10, 8))


def _opening(
    canvas: Canvas,
    row: float,
    column: float,
    per_mm: float,
    d: WallDefect,
    draw: np.random.Generator,
) -> None:
    half = max(d.size_m * ROWS_PER_M / 2, 20.0)
    for grow, colour in ((1.22, (92, 62, 44)), (1.12, (206, 150, 110)), (1.0, (10, 8, 7))):
        _blob(
            canvas,
            _round_outline(row, column, half * grow, half * grow * per_mm, 0.02, draw),
            colour,
        )


def _deposits(
    canvas: Canvas,
    row: float,
    column: float,
    per_mm: float,
    d: WallDefect,
    draw: np.random.Generator,
) -> None:
    half = d.extent_deg / 720 * canvas.shape[1]
    grease = d.kind is Defect.GREASE
    count = int(420 * d.strength * max(d.length_m, 0.1) / 0.5)
    for _ in range(count):
        at_row = row + float(draw.uniform(0, d.length_m * ROWS_PER_M))
        at_column = column + float(np.clip(draw.normal(0, 0.45), -1, 1)) * half
        size = float(draw.gamma(3.0, 1.6 if grease else 1.3))
        shade = float(draw.uniform(0.65, 1.1))
        tone = np.array((190, 180, 148) if grease else (126, 100, 76)) * shade
        outline = _round_outline(at_row, at_column, size, size * per_mm, 0.25, draw)
        # Dark behind, the body, and a lit side towards the lens.
        _blob(canvas, outline + np.array([size * 0.4, 0.0]), _rgb(tone * 0.3))
        _blob(canvas, outline, _rgb(tone * 0.8))
        lit = _round_outline(
            at_row - 0.25 * size, at_column, size * 0.6, size * 0.6 * per_mm, 0.2, draw
        )
        _blob(canvas, lit, _rgb(tone))


def _rgb(tone: NDArray[np.float64]) -> tuple[int, int, int]:
    red, green, blue = (int(np.clip(v, 0, 255)) for v in tone)
    return (red, green, blue)


def _chips(
    canvas: Canvas,
    row: float,
    column: float,
    per_mm: float,
    d: WallDefect,
    draw: np.random.Generator,
) -> None:
    half = d.extent_deg / 720 * canvas.shape[1]
    for _ in range(max(int(9 * d.strength), 2)):
        at_row = row - float(abs(draw.normal(0, 9)))
        at_column = column + float(draw.uniform(-half, half))
        size = float(draw.uniform(5, 14))
        _blob(
            canvas,
            _round_outline(at_row, at_column, size, size * 1.5 * per_mm, 0.3, draw),
            (66, 40, 26),
        )
        inner = _round_outline(at_row + 1.5, at_column, size * 0.8, size * 1.2 * per_mm, 0.3, draw)
        _blob(canvas, inner, (214, 158, 116))


def _open_joint(
    canvas: Canvas,
    row: float,
    column: float,
    per_mm: float,
    d: WallDefect,
    draw: np.random.Generator,
) -> None:
    columns = np.arange(0, canvas.shape[1] + 8, 8)
    wave = np.sin(columns * 2 * np.pi / canvas.shape[1] + draw.uniform(0, 6.28))
    points = np.stack([row + wave, columns.astype(float)], axis=1)
    _thrice(canvas, points, (22, 16, 12), max(int(d.size_m * ROWS_PER_M), 8))
