"""Glyphs to train the counter reader on: outline, bitmap, stroke and segment fonts.

Every font is an object with ``glyph(char, cap_px)``. Bitmap fonts come from three
places: console and terminal fonts of the system, the 5x7 cells drawn below, and any
outline font rendered without smoothing at a few pixels and then bent at random, so
that the reader has seen many shapes of digit and not a closed list of fonts.

Fonts named in ``HELD_OUT`` are never trained on: the figures in MODEL_CARD.md are theirs.
"""

from __future__ import annotations

import gzip
import os
import re
import string
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

FONT_ROOTS = [Path(p) for p in os.environ.get("COUNTER_FONTS", "/usr/share").split(":")]
HELD_OUT = (
    "OCRB",
    "OCRA",
    "Terminus",
    "ter-",
    "unifont",
    "JetBrains",
    "LiberationMono-Regular",
    "DejaVuSansMono-Bold.",
    "9x15",
    "6x10",
    "DSEG14",
    "3270",
    "hershey-3",
    "reep",
    "own-8x8",
)
WANTED = (
    r"dejavu.*ttf",
    r"liberation.*ttf",
    r"Free.*ttf",
    r"NotoMono.*",
    r"DSEG7.*ttf",
    r"DSEG14(Classic-Regular|Modern-Bold)\.ttf",
    r"Inconsolata.*",
    r"Hack.*ttf",
    r"OCRA\.ttf",
    r"OCRB\.(otf|ttf)",
    r"unifont\.(otf|ttf)",
    r"JetBrainsMono-(Regular|Bold)\.ttf",
    r"Roboto(Condensed)?-(Regular|Bold|Light|Italic)\.ttf",
    r"Anonymous.*",
    r"3270-Regular\.(ttf|otf)",
    r".*[Pp]roggy.*",
    r".*reep.*",
    r"[Mm]onof.*",
    r"[Aa]gave.*",
    r"DotGothic.*",
    r"Lat15-.*psf\.gz",
    r"Goha.*psf\.gz",
    r"ter-.*otb",
    r"\d+x\d+[BO]?\.pcf\.gz",
    r"(cour|helv|lub|luRS|term|tim|char|luBS|ncen)[BRO]\d+\.pcf\.gz",
    r"(clB|clR)\d+x\d+\.pcf\.gz",
)
"""Which of the fonts found are taken, by file name; see MODEL_CARD.md for the packages."""
CHARS = string.digits + string.ascii_letters + ".,-+'\":/#=()&@_*%"


@dataclass(frozen=True)
class Glyph:
    """One glyph: coverage 0..255, offset of its top left from pen and baseline, advance."""

    mask: np.ndarray
    left: int
    top: int
    advance: float


EMPTY = np.zeros((1, 1), np.uint8)


class OutlineFont:
    """A TrueType or OpenType font."""

    pixel = False

    def __init__(self, path: Path) -> None:
        self.name = path.name
        self.path = str(path)
        probe = ImageFont.truetype(self.path, 100)
        box = probe.getbbox("0")
        self.cap_share = max(0.2, (box[3] - box[1]) / 100.0)
        self._cache: dict[tuple[str, int], Glyph] = {}

    def glyph(self, char: str, cap_px: float) -> Glyph:
        """Render one character so that a digit is ``cap_px`` tall."""
        size = max(4, round(cap_px / self.cap_share))
        key = (char, size)
        if key not in self._cache:
            self._cache[key] = self._render(char, size)
        return self._cache[key]

    def _render(self, char: str, size: int, mode: str = "L") -> Glyph:
        font = _truetype(self.path, size)
        mask, (left, top) = font.getmask2(char, mode=mode, anchor="ls")
        width, height = mask.size
        advance = font.getlength(char)
        if width == 0 or height == 0:
            return Glyph(EMPTY, 0, 0, advance)
        pixels = np.asarray(mask, np.uint8).reshape(height, width)
        return Glyph(pixels.copy(), left, top, advance)


@lru_cache(maxsize=4000)
def _truetype(path: str, size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(path, size)


class BitmapFont:
    """A font of on-off cells, scaled up whole or smoothly."""

    pixel = True

    def __init__(self, name: str, cells: dict[str, np.ndarray], baseline: int, cap: int) -> None:
        self.name = name
        self.cells = cells
        self.baseline = baseline
        self.cap = cap
        self._cache: dict[tuple[str, int], Glyph] = {}

    def glyph(self, char: str, cap_px: float) -> Glyph:
        """Scale one cell so that a digit is about ``cap_px`` tall."""
        key = (char, round(cap_px * 4))
        if key not in self._cache:
            self._cache[key] = self._scale(char, cap_px)
        return self._cache[key]

    def _scale(self, char: str, cap_px: float) -> Glyph:
        cell = self.cells.get(char)
        scale = cap_px / self.cap
        if cell is None:
            return Glyph(EMPTY, 0, 0, next(iter(self.cells.values())).shape[1] * scale)
        size = (max(1, round(cell.shape[1] * scale)), max(1, round(cell.shape[0] * scale)))
        whole = abs(scale - round(scale)) < 0.05
        how = (
            cv2.INTER_NEAREST
            if whole or scale > 2.5
            else cv2.INTER_AREA
            if scale < 1
            else cv2.INTER_LINEAR
        )
        mask = cv2.resize(cell * np.uint8(255), size, interpolation=how)
        return Glyph(mask, 0, -round(self.baseline * scale), float(size[0]))


class HersheyFont:
    """One of OpenCV's stroke fonts, at a random weight fixed per instance."""

    pixel = False

    def __init__(self, face: int, weight: float) -> None:
        self.name = f"hershey-{face}"
        self.face = face
        self.weight = weight
        (_, height), _ = cv2.getTextSize("0", face, 1.0, 1)
        self.unit = height
        self._cache: dict[tuple[str, int], Glyph] = {}

    def glyph(self, char: str, cap_px: float) -> Glyph:
        """Stroke one character so that a digit is ``cap_px`` tall."""
        key = (char, round(cap_px))
        if key not in self._cache:
            scale = cap_px / self.unit
            thick = max(1, round(self.weight * cap_px))
            (width, height), base = cv2.getTextSize(char, self.face, scale, thick)
            pad = 2 + thick
            canvas = np.zeros((height + base + 2 * pad, width + 2 * pad), np.uint8)
            cv2.putText(
                canvas, char, (pad, pad + height), self.face, scale, 255, thick, cv2.LINE_AA
            )
            self._cache[key] = Glyph(canvas, -pad, -pad - height, float(width))
        return self._cache[key]


SEGMENTS = {
    "0": "abcdef",
    "1": "bc",
    "2": "abged",
    "3": "abgcd",
    "4": "fgbc",
    "5": "afgcd",
    "6": "afgedc",
    "7": "abc",
    "8": "abcdefg",
    "9": "abcdfg",
    "-": "g",
}


class SegmentFont:
    """Seven-segment digits drawn by formula, with random slant, gap and weight."""

    pixel = False

    def __init__(self, rng: np.random.Generator) -> None:
        self.name = "segments"
        self.weight = rng.uniform(0.08, 0.2)
        self.slant = rng.uniform(0.0, 0.18)
        self.aspect = rng.uniform(0.45, 0.7)
        self.gap = rng.uniform(0.0, 0.05)
        self.tails = rng.random() < 0.5
        self._cache: dict[tuple[str, int], Glyph] = {}

    def glyph(self, char: str, cap_px: float) -> Glyph:
        """Draw one digit ``cap_px`` tall; other characters come out blank."""
        key = (char, round(cap_px))
        if key not in self._cache:
            self._cache[key] = self._draw(char, round(cap_px))
        return self._cache[key]

    def _draw(self, char: str, cap: int) -> Glyph:
        big = 4
        height, width = cap * big, round(cap * self.aspect * big)
        thick = max(2, round(self.weight * height))
        pad = thick
        canvas = np.zeros(
            (height + 2 * pad, width + round(self.slant * height) + 2 * pad), np.uint8
        )
        half, gap = thick / 2, self.gap * height
        left, right, top, middle, bottom = half, width - half, half, height / 2, height - half
        ends = {
            "a": (left, top, right, top),
            "g": (left, middle, right, middle),
            "d": (left, bottom, right, bottom),
            "f": (left, top, left, middle),
            "b": (right, top, right, middle),
            "e": (left, middle, left, bottom),
            "c": (right, middle, right, bottom),
        }
        names = SEGMENTS.get(char, "")
        if not self.tails:
            names = (
                names.replace("a", "")
                if char == "6"
                else names.replace("d", "")
                if char == "9"
                else names
            )
        for name in names:
            x0, y0, x1, y1 = ends[name]
            if y0 == y1:
                x0, x1 = x0 + gap, x1 - gap
            else:
                y0, y1 = y0 + gap, y1 - gap
            lean = [self.slant * (height - y) for y in (y0, y1)]
            cv2.line(
                canvas,
                (round(pad + x0 + lean[0]), round(pad + y0)),
                (round(pad + x1 + lean[1]), round(pad + y1)),
                255,
                thick,
            )
        advance = (width / big) * 1.3
        if char in ".,:":
            rows = (height - half,) if char != ":" else (height * 0.3, height * 0.75)
            for row in rows:
                cv2.circle(
                    canvas, (round(pad + thick), round(pad + row)), round(thick * 0.6), 255, -1
                )
            advance = 2.5 * thick / big
        elif not names:
            return Glyph(EMPTY, 0, 0, advance)
        small = cv2.resize(
            canvas,
            (max(1, canvas.shape[1] // big), max(1, canvas.shape[0] // big)),
            interpolation=cv2.INTER_AREA,
        )
        return Glyph(small, -pad // big, -(height + pad) // big, advance)


OWN_5X7 = {
    "0": ".###. #...# #..## #.#.# ##..# #...# .###.",
    "1": "..#.. .##.. ..#.. ..#.. ..#.. ..#.. .###.",
    "2": ".###. #...# ....# ...#. ..#.. .#... #####",
    "3": ".###. #...# ....# ..##. ....# #...# .###.",
    "4": "...#. ..##. .#.#. #..#. ##### ...#. ...#.",
    "5": "##### #.... ####. ....# ....# #...# .###.",
    "6": "..##. .#... #.... ####. #...# #...# .###.",
    "7": "##### ....# ...#. ..#.. .#... .#... .#...",
    "8": ".###. #...# #...# .###. #...# #...# .###.",
    "9": ".###. #...# #...# .#### ....# ...#. .##..",
    ".": "..... ..... ..... ..... ..... .##.. .##..",
    ",": "..... ..... ..... ..... .##.. ..#.. .#...",
    "-": "..... ..... ..... ##### ..... ..... .....",
    "+": "..... ..#.. ..#.. ##### ..#.. ..#.. .....",
    ":": "..... .##.. .##.. ..... .##.. .##.. .....",
    "/": "..... ....# ...#. ..#.. .#... #.... .....",
    "'": "..#.. ..#.. .#... ..... ..... ..... .....",
    '"': ".#.#. .#.#. .#.#. ..... ..... ..... .....",
    "m": "..... ..... ##.#. #.#.# #.#.# #...# #...#",
    "M": "#...# ##.## #.#.# #.#.# #...# #...# #...#",
    "f": "..##. .#..# .#... ###.. .#... .#... .#...",
    "F": "##### #.... #.... ####. #.... #.... #....",
    "t": ".#... .#... ###.. .#... .#... .#..# ..##.",
    "T": "##### ..#.. ..#.. ..#.. ..#.. ..#.. ..#..",
    "D": "###.. #..#. #...# #...# #...# #..#. ###..",
    "I": ".###. ..#.. ..#.. ..#.. ..#.. ..#.. .###.",
    "S": ".#### #.... #.... .###. ....# ....# ####.",
    "A": ".###. #...# #...# #...# ##### #...# #...#",
    "E": "##### #.... #.... ####. #.... #.... #####",
    "L": "#.... #.... #.... #.... #.... #.... #####",
    "R": "####. #...# #...# ####. #.#.. #..#. #...#",
    "N": "#...# #...# ##..# #.#.# #..## #...# #...#",
    "O": ".###. #...# #...# #...# #...# #...# .###.",
}
"""Five by seven cells in the manner of character generators; drawn here by hand."""

OTHER_SHAPES = {
    "0": [
        ".###. #...# #...# #...# #...# #...# .###.",
        "##### #...# #...# #...# #...# #...# #####",
        "..#.. .#.#. #...# #...# #...# .#.#. ..#..",
    ],
    "1": ["..#.. ..#.. ..#.. ..#.. ..#.. ..#.. ..#..", "...#. ..##. .#.#. ...#. ...#. ...#. ...#."],
    "2": ["##### ....# ....# ##### #.... #.... #####", ".###. #...# ....# .###. #.... #.... #####"],
    "3": [
        "##### ...#. ..#.. ...#. ....# #...# .###.",
        "##### ....# ....# .#### ....# ....# #####",
        "####. ....# ....# .###. ....# ....# ####.",
    ],
    "4": ["#...# #...# #...# ##### ....# ....# ....#", "#.... #.... #..#. #..#. ##### ...#. ...#."],
    "5": ["##### #.... #.... ##### ....# ....# #####", "##### #.... #.... ####. ....# ....# ####."],
    "6": [
        ".###. #...# #.... ####. #...# #...# .###.",
        "#.... #.... #.... ##### #...# #...# #####",
        "##### #.... #.... ##### #...# #...# #####",
    ],
    "7": ["##### ....# ....# ...#. ..#.. ..#.. ..#..", "##### #...# ....# ....# ....# ....# ....#"],
    "8": ["##### #...# #...# ##### #...# #...# #####", ".###. #...# .#.#. ..#.. .#.#. #...# .###."],
    "9": [
        ".###. #...# #...# .#### ....# #...# .###.",
        "##### #...# #...# ##### ....# ....# ....#",
        "##### #...# #...# ##### ....# ....# #####",
    ],
}


def _cell(rows: str) -> np.ndarray:
    return np.array([[c == "#" for c in row] for row in rows.split()], np.uint8)


def own_cells(rng: np.random.Generator) -> BitmapFont:
    """Draw a 5x7 font, swap shapes, then stretch, thicken and bend the cells at random."""
    cells = {char: _cell(rows) for char, rows in OWN_5X7.items()}
    for char, shapes in OTHER_SHAPES.items():
        pick = int(rng.integers(0, len(shapes) + 1))
        if pick:
            cells[char] = _cell(shapes[pick - 1])
    blank = int(rng.integers(1, 3))
    cells = {c: np.pad(cell, ((0, 0), (0, blank))) for c, cell in cells.items()}
    return bent("own-5x7", cells, 7, 7, rng)


def bent(
    name: str, cells: dict[str, np.ndarray], baseline: int, cap: int, rng: np.random.Generator
) -> BitmapFont:
    """Return the font with rows and columns doubled, strokes thickened, pixels flipped."""
    out = dict(cells)
    rows = np.arange(next(iter(cells.values())).shape[0])
    if rng.random() < 0.5:
        twice = np.sort(
            np.concatenate([rows, rng.choice(rows[:baseline], int(rng.integers(1, 4)))])
        )
        grown = int(np.sum(np.bincount(twice, minlength=len(rows))[:baseline])) - baseline
        out = {c: cell[twice] for c, cell in out.items()}
        baseline, cap = baseline + grown, cap + grown
    if rng.random() < 0.4:
        share = rng.uniform(0.15, 0.5)
        pick = rng.random(64) < share
        out = {c: np.repeat(cell, 1 + pick[: cell.shape[1]], axis=1) for c, cell in out.items()}
    if rng.random() < 0.4:
        out = {
            c: cell
            | np.roll(np.pad(cell, ((0, 0), (0, 1))), 1, 1)[:, : cell.shape[1] + 1][
                :, : cell.shape[1]
            ]
            for c, cell in out.items()
        }
    if rng.random() < 0.3:
        out = {c: _flip(cell, rng) for c, cell in out.items()}
    return BitmapFont(name, out, baseline, cap)


def _flip(cell: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    if cell.sum() < 8:
        return cell
    edge = cv2.dilate(cell, np.ones((2, 2), np.uint8)) - cell
    cell = cell.copy()
    cell[(edge > 0) & (rng.random(cell.shape) < 0.06)] = 1
    cell[(cell > 0) & (rng.random(cell.shape) < 0.04)] = 0
    return cell


def pixelled(font: OutlineFont, rng: np.random.Generator) -> BitmapFont | None:
    """Render an outline font unsmoothed at a few pixels and treat it as a bitmap font."""
    cap = int(rng.integers(6, 17))
    size = max(5, round(cap / font.cap_share))
    glyphs = {c: font._render(c, size, mode="1" if rng.random() < 2 else "L") for c in CHARS}
    above = max(-g.top for g in glyphs.values())
    below = max(g.top + g.mask.shape[0] for g in glyphs.values())
    if above <= 0 or above + below > 60:
        return None
    cells = {}
    for char, g in glyphs.items():
        width = max(1, round(g.advance), g.left + g.mask.shape[1])
        cell = np.zeros((above + below, width), np.uint8)
        left, top = max(0, g.left), above + g.top
        part = (g.mask > 127)[:, : width - left]
        cell[top : top + part.shape[0], left : left + part.shape[1]] = part
        cells[char] = cell
    rows = np.flatnonzero(cells["0"].any(axis=1))
    if rows.size < 4:
        return None
    return bent(font.name + "-pixelled", cells, above, int(rows[-1] - rows[0] + 1), rng)


def console_font(path: Path) -> BitmapFont | None:
    """Read a PC screen font (PSF 1 or 2; layout as in the kbd manual, from memory)."""
    data = gzip.open(path).read() if path.suffix == ".gz" else path.read_bytes()
    if data[:2] == b"\x36\x04":
        height, start, width = data[3], 4, 8
        stride = height
        count = 512 if data[2] & 1 else 256
        has_table, wide = bool(data[2] & 2), True
    elif data[:4] == b"\x72\xb5\x4a\x86":
        head = np.frombuffer(data[4:32], "<u4")
        start, flags, count, stride, height, width = (int(v) for v in head[1:7])
        has_table, wide = bool(flags & 1), False
    else:
        return None
    table = data[start + count * stride :] if has_table else b""
    index = _unicode_index(table, wide) if has_table else {c: ord(c) for c in CHARS}
    cells = {}
    for char in CHARS:
        if char not in index or index[char] >= count:
            continue
        at = start + index[char] * stride
        raw = np.frombuffer(data[at : at + stride], np.uint8).reshape(height, -1)
        cells[char] = np.unpackbits(raw, axis=1)[:, :width]
    if not all(d in cells for d in string.digits):
        return None
    rows = np.flatnonzero(cells["0"].any(axis=1))
    if rows.size < 4:
        return None
    return BitmapFont(path.name, cells, int(rows[-1]) + 1, int(rows[-1] - rows[0] + 1))


def _unicode_index(table: bytes, wide: bool) -> dict[str, int]:
    index: dict[str, int] = {}
    if wide:
        at = 0
        for value in np.frombuffer(table[: len(table) // 2 * 2], "<u2"):
            if value == 0xFFFF:
                at += 1
            elif value < 128:
                index.setdefault(chr(int(value)), at)
        return index
    for at, entry in enumerate(table.split(b"\xff")):
        for char in entry.decode("utf8", "ignore"):
            index.setdefault(char, at)
    return index


def terminal_font(path: Path) -> BitmapFont | None:
    """Read an X terminal font through FreeType at its native size."""
    for size in (*range(6, 33),):
        try:
            font = ImageFont.truetype(str(path), size)
        except OSError:
            continue
        break
    else:
        return None
    ascent, descent = font.getmetrics()
    cells = {}
    for char in CHARS:
        width = max(1, round(font.getlength(char)))
        picture = Image.new("1", (width, ascent + descent), 0)
        ImageDraw.Draw(picture).text((0, ascent), char, font=font, fill=1, anchor="ls")
        cells[char] = np.asarray(picture, np.uint8)
    rows = np.flatnonzero(cells["0"].any(axis=1))
    if rows.size < 4:
        return None
    return BitmapFont(path.name, cells, int(rows[-1]) + 1, int(rows[-1] - rows[0] + 1))


OWN_8X8_STROKE = 8


def own_8x8() -> BitmapFont:
    """An 8x8 font of double-width strokes made from the 5x7 cells: kept for testing only."""
    cells = {}
    for char, rows in OWN_5X7.items():
        cell = np.pad(_cell(rows), ((0, 1), (0, 3)))
        cells[char] = cell | np.roll(cell, 1, axis=1)
    return BitmapFont("own-8x8", cells, 7, 7)


@dataclass
class FontCase:
    """All fonts at hand, split into those to train on and those held out."""

    outline: list[OutlineFont] = field(default_factory=list)
    bitmap: list[BitmapFont] = field(default_factory=list)
    hershey: list[HersheyFont] = field(default_factory=list)


def _held(name: str) -> bool:
    return any(part in name for part in HELD_OUT)


def _wanted(name: str) -> bool:
    return any(re.fullmatch(pattern, name, re.IGNORECASE) for pattern in WANTED)


def _tells_digits_apart(font: OutlineFont | BitmapFont) -> bool:
    """Whether the ten digits are ten different drawings (symbol fonts fail this)."""
    return len({font.glyph(d, 30).mask.tobytes() for d in string.digits}) == len(string.digits)


def font_case(held_out: bool) -> FontCase:
    """Collect fonts; ``held_out`` picks the test side of the split."""
    case = FontCase()
    paths = sorted({p for root in FONT_ROOTS for p in root.rglob("*") if p.is_file()}, key=str)
    for path in paths:
        if _held(path.name) != held_out or not _wanted(path.name):
            continue
        name = path.name.lower()
        try:
            if name.endswith((".ttf", ".otf")):
                if any(w in name for w in ("math", "emoji", "symbol", "dingbat", "upper", "csur")):
                    continue
                font = OutlineFont(path)
                if _tells_digits_apart(font):
                    case.outline.append(font)
            elif name.endswith((".psf", ".psf.gz", ".psfu.gz")):
                bitmap = console_font(path)
                if bitmap is not None and bitmap.cap >= 5 and _tells_digits_apart(bitmap):
                    case.bitmap.append(bitmap)
            elif name.endswith((".pcf.gz", ".otb")) and not name.startswith(("cursor", "deccurs")):
                bitmap = terminal_font(path)
                if bitmap is not None and bitmap.cap >= 5 and _tells_digits_apart(bitmap):
                    case.bitmap.append(bitmap)
        except (OSError, ValueError, UnicodeDecodeError, KeyError):
            continue
    for face in range(8):
        for weight in (0.05, 0.1, 0.15):
            font_h = HersheyFont(face, weight)
            if _held(font_h.name) == held_out:
                case.hershey.append(font_h)
    if held_out:
        case.bitmap.append(own_8x8())
    return case


def pick_font(case: FontCase, rng: np.random.Generator, held_out: bool):
    """Draw one font: outline, bitmap, stroke, segment or one made up on the spot."""
    kind = rng.random()
    if held_out:
        pools = [p for p in (case.outline, case.bitmap, case.hershey) if p]
        pool = pools[int(rng.integers(len(pools)))]
        return pool[int(rng.integers(len(pool)))]
    if kind < 0.27 and case.outline:
        return case.outline[int(rng.integers(len(case.outline)))]
    if kind < 0.47 and case.bitmap:
        font = case.bitmap[int(rng.integers(len(case.bitmap)))]
        if rng.random() < 0.4:
            return bent(font.name, font.cells, font.baseline, font.cap, rng)
        return font
    if kind < 0.64:
        return case.hershey[int(rng.integers(len(case.hershey)))]
    if kind < 0.70:
        return SegmentFont(rng)
    if kind < 0.84:
        return own_cells(rng)
    made = pixelled(case.outline[int(rng.integers(len(case.outline)))], rng)
    return made if made is not None else own_cells(rng)
