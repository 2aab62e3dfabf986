"""Letter shapes for burned-in text: outline, stroke, pixel and segment fonts, none installed.

Outline fonts come with libraries that are there anyway (typst, OpenCV, Pillow); pixel
and segment fonts are drawn here. Every font is a set of masks at one nominal size.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

Mask = NDArray[np.uint8]

CHARACTERS = "0123456789.,:;-+/'\"()# ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
NOMINAL_PX = 56
"""Size at which outline fonts are drawn before they are scaled."""


@dataclass(frozen=True)
class Glyphs:
    """A font: a mask for each character, all of one height, and the height of a digit.

    ``digit_top`` and ``digit_px`` are the first row and the height of "0" in the masks;
    ``hard`` fonts are enlarged without smoothing.
    """

    masks: dict[str, Mask]
    digit_top: int
    digit_px: int
    hard: bool = False

    def line(self, text: str, digit_px: int) -> tuple[Mask, int, int]:
        """Return the mask of a line with digits ``digit_px`` high, and their first and last row."""
        parts = [self.masks.get(c, self.masks[" "]) for c in text]
        mask = np.concatenate(parts, axis=1) if parts else self.masks[" "]
        scale = digit_px / self.digit_px
        if self.hard:
            scale = max(round(scale), 1)
        size = (max(round(mask.shape[1] * scale), 1), max(round(mask.shape[0] * scale), 1))
        how = cv2.INTER_NEAREST if self.hard else cv2.INTER_AREA
        scaled = np.asarray(cv2.resize(mask, size, interpolation=how), dtype=np.uint8)
        top = round(self.digit_top * scale)
        return scaled, top, top + round(self.digit_px * scale)


def font(name: str) -> Glyphs:
    """Return a font by name (see :data:`FONTS`)."""
    return _made(name)


@lru_cache(maxsize=32)
def _made(name: str) -> Glyphs:
    return FONTS[name]()


def _measured(masks: dict[str, Mask], hard: bool = False) -> Glyphs:
    rows = np.flatnonzero(masks["0"].max(axis=1) > 100)
    return Glyphs(masks, int(rows[0]), int(rows[-1] - rows[0] + 1), hard)


def _typst(family: str, weight: str = "regular") -> Callable[[], Glyphs]:
    def make() -> Glyphs:
        import typst

        def quoted(character: str) -> str:
            return character.replace("\\", "\\\\").replace('"', '\\"')

        pages = "#pagebreak()\n".join(f'#text("{quoted(c)}")\n' for c in CHARACTERS if c != " ")
        source = (
            "#set page(width: auto, height: 80pt, fill: black,"
            " margin: (x: 0pt, top: 8pt, bottom: 4pt))\n"
            f'#set text(font: "{family}", weight: "{weight}", size: 60pt, fill: white)\n{pages}'
        )
        made = typst.compile(source.encode(), format="png", ppi=72)
        pictures = made if isinstance(made, list) else [made]
        drawn = [c for c in CHARACTERS if c != " "]
        masks = {
            c: np.asarray(Image.open(io.BytesIO(p)).convert("L"))
            for c, p in zip(drawn, pictures, strict=True)
        }
        masks[" "] = np.zeros_like(masks["0"])
        return _measured(masks)

    return make


def _pillow() -> Glyphs:
    face = ImageFont.load_default(NOMINAL_PX)
    masks = {}
    for c in CHARACTERS:
        width = max(int(np.ceil(face.getlength(c))), 1)
        picture = Image.new("L", (width, NOMINAL_PX * 3 // 2))
        ImageDraw.Draw(picture).text((0, 0), c, fill=255, font=face)
        masks[c] = np.asarray(picture)
    return _measured(masks)


def _opencv(face_name: str, weight: int) -> Callable[[], Glyphs]:
    def make() -> Glyphs:
        face = cv2.FontFace(face_name)
        masks = {}
        for c in CHARACTERS:
            box = cv2.getTextSize((10, 10), f"0{c}0", (0, 60), face, NOMINAL_PX, weight)
            zeros = cv2.getTextSize((10, 10), "00", (0, 60), face, NOMINAL_PX, weight)
            width = max(int(box[2] - zeros[2]), 4)
            canvas = np.zeros((NOMINAL_PX * 3 // 2, width + 8, 3), np.uint8)
            cv2.putText(canvas, c, (2, NOMINAL_PX), (255, 255, 255), face, NOMINAL_PX, weight)
            masks[c] = np.ascontiguousarray(canvas[:, : width + 4, 0])
        return _measured(masks)

    return make


def _stroke(face: int, thickness: int) -> Callable[[], Glyphs]:
    def make() -> Glyphs:
        masks = {}
        for c in CHARACTERS:
            (width, _), _ = cv2.getTextSize(c, face, 2.0, thickness)
            canvas = np.zeros((NOMINAL_PX * 3 // 2, width + thickness), np.uint8)
            cv2.putText(canvas, c, (thickness // 2, 58), face, 2.0, 255, thickness, cv2.LINE_AA)
            masks[c] = canvas
        return _measured(masks)

    return make


def _small_bitmap() -> Glyphs:
    face = ImageFont.load_default_imagefont()
    masks = {}
    for c in CHARACTERS:
        picture = Image.new("1", (6, 11))
        ImageDraw.Draw(picture).text((0, 0), c, fill=1, font=face)
        masks[c] = np.asarray(picture.convert("L"))
    return _measured(masks, hard=True)


DOTS_5X7 = {
    "0": "0E 11 13 15 19 11 0E", "1": "04 0C 04 04 04 04 0E", "2": "0E 11 01 02 04 08 1F",
    "3": "1F 02 04 02 01 11 0E", "4": "02 06 0A 12 1F 02 02", "5": "1F 10 1E 01 01 11 0E",
    "6": "06 08 10 1E 11 11 0E", "7": "1F 01 02 04 08 08 08", "8": "0E 11 11 0E 11 11 0E",
    "9": "0E 11 11 0F 01 02 0C", ".": "00 00 00 00 00 0C 0C", ",": "00 00 00 00 0C 04 08",
    ":": "00 0C 0C 00 0C 0C 00", ";": "00 0C 0C 00 0C 04 08", "-": "00 00 00 1F 00 00 00",
    "+": "00 04 04 1F 04 04 00", "/": "00 01 02 04 08 10 00", "'": "0C 04 08 00 00 00 00",
    '"': "0A 0A 0A 00 00 00 00", "(": "02 04 08 08 08 04 02", ")": "08 04 02 02 02 04 08",
    "#": "0A 0A 1F 0A 1F 0A 0A", " ": "00 00 00 00 00 00 00",
    "A": "0E 11 11 11 1F 11 11", "B": "1E 11 11 1E 11 11 1E", "C": "0E 11 10 10 10 11 0E",
    "D": "1C 12 11 11 11 12 1C", "E": "1F 10 10 1E 10 10 1F", "F": "1F 10 10 1E 10 10 10",
    "G": "0E 11 10 17 11 11 0F", "H": "11 11 11 1F 11 11 11", "I": "0E 04 04 04 04 04 0E",
    "J": "07 02 02 02 02 12 0C", "K": "11 12 14 18 14 12 11", "L": "10 10 10 10 10 10 1F",
    "M": "11 1B 15 15 11 11 11", "N": "11 11 19 15 13 11 11", "O": "0E 11 11 11 11 11 0E",
    "P": "1E 11 11 1E 10 10 10", "Q": "0E 11 11 11 15 12 0D", "R": "1E 11 11 1E 14 12 11",
    "S": "0F 10 10 0E 01 01 1E", "T": "1F 04 04 04 04 04 04", "U": "11 11 11 11 11 11 0E",
    "V": "11 11 11 11 11 0A 04", "W": "11 11 11 15 15 15 0A", "X": "11 11 0A 04 0A 11 11",
    "Y": "11 11 11 0A 04 04 04", "Z": "1F 01 02 04 08 10 1F",
    "f": "06 09 08 1C 08 08 08", "t": "08 08 1C 08 08 09 06", "m": "00 00 1A 15 15 11 11",
}  # fmt: skip
"""Five by seven dots, a row per number, drawn for this program."""


def _dots(fat: bool, slashed: bool) -> Callable[[], Glyphs]:
    def make() -> Glyphs:
        masks = {}
        for c in CHARACTERS:
            rows = [
                int(r, 16) for r in DOTS_5X7.get(c, DOTS_5X7.get(c.upper(), DOTS_5X7[" "])).split()
            ]
            if c == "0" and not slashed:
                rows = [0x0E, 0x11, 0x11, 0x11, 0x11, 0x11, 0x0E]
            cell = np.array([[(r >> (4 - b)) & 1 for b in range(5)] for r in rows], np.uint8) * 255
            drawn = np.pad(cell, ((1, 1), (1, 1)))
            if fat:
                wide = drawn.repeat(2, axis=0).repeat(2, axis=1)
                drawn = np.maximum(wide, np.roll(wide, 1, axis=1))
            masks[c] = drawn
        return _measured(masks, hard=True)

    return make


SEGMENTS = {
    "0": "abcdef", "1": "bc", "2": "abged", "3": "abgcd", "4": "fgbc", "5": "afgcd",
    "6": "afgedc", "7": "abc", "8": "abcdefg", "9": "abcdfg", "-": "g", " ": "",
}  # fmt: skip
"""Which of the seven bars each sign lights (the usual lettering a to g)."""


def _seven() -> Glyphs:
    bars = {
        "a": ((8, 4), (28, 4)), "b": ((32, 8), (32, 26)), "c": ((32, 34), (32, 52)),
        "d": ((8, 56), (28, 56)), "e": ((4, 34), (4, 52)),
        "f": ((4, 8), (4, 26)), "g": ((8, 30), (28, 30)),
    }  # fmt: skip
    other = _stroke(cv2.FONT_HERSHEY_SIMPLEX, 4)()
    masks = dict(other.masks)
    for sign, lit in SEGMENTS.items():
        canvas = np.zeros((NOMINAL_PX * 3 // 2, 44), np.uint8)
        for bar in lit:
            start, end = bars[bar]
            cv2.line(canvas, (start[0] + 2, start[1]), (end[0] + 2, end[1]), 255, 6, cv2.LINE_AA)
        masks[sign] = canvas
    return _measured(masks)


FONTS: dict[str, Callable[[], Glyphs]] = {
    "mono": _typst("DejaVu Sans Mono"),
    "mono_bold": _typst("DejaVu Sans Mono", "bold"),
    "serif": _typst("Libertinus Serif"),
    "serif_bold": _typst("Libertinus Serif", "bold"),
    "typewriter": _typst("New Computer Modern"),
    "grotesque": _pillow,
    "sans": _opencv("sans", 400),
    "sans_bold": _opencv("sans", 700),
    "sans_slanted": _opencv("italic", 400),
    "stroke": _stroke(cv2.FONT_HERSHEY_SIMPLEX, 3),
    "stroke_bold": _stroke(cv2.FONT_HERSHEY_SIMPLEX, 6),
    "stroke_double": _stroke(cv2.FONT_HERSHEY_DUPLEX, 3),
    "stroke_serif": _stroke(cv2.FONT_HERSHEY_COMPLEX, 3),
    "bitmap": _small_bitmap,
    "dots": _dots(fat=False, slashed=True),
    "dots_plain": _dots(fat=False, slashed=False),
    "dots_fat": _dots(fat=True, slashed=False),
    "seven": _seven,
}
"""All fonts by name, each made when first asked for."""
