"""Burned-in text over pipe-like grounds, spoiled the way old recorders spoil it.

``crop`` gives one reader sample: a strip 32 px high with its label. ``patch`` gives one
finder sample: a square of a frame with a map of where lines of text run.
Luma only: coloured text is its luma, colour fringes are what they leave in luma.
"""

from __future__ import annotations

import string

import cv2
import numpy as np
from glyphs import FontCase, pick_font

STRIP_HEIGHT = 32
STRIP_WIDTH = 288
PATCH = 256
CELL = 4
CHARSET = "0123456789.,-+ ftm'\":/#"
"""Class 0 is the CTC blank, class k is CHARSET[k - 1]; '#' stands for any other glyph."""

WORDS = (
    "DIST",
    "DISTANCE",
    "LENGTH",
    "JOB",
    "LINE",
    "RUN",
    "DATE",
    "TIME",
    "SEWER",
    "PIPE",
    "MH",
    "UPSTREAM",
    "LATERAL",
    "CLAY",
    "PVC",
    "NO",
    "CH",
    "DEPTH",
    "SITE",
    "Street",
    "House",
    "Inlet",
    "REC",
    "CAM",
    "Operator",
    "AM",
    "PM",
    "Lot",
    "Oak Lane",
    "North",
    "START",
    "TRAP",
    "Main",
)
UNITS = (
    "",
    "",
    "",
    " m",
    "m",
    " M",
    "M",
    " ft",
    "ft",
    " FT",
    "FT",
    "'",
    "'",
    " ft.",
    " Ft",
    "feet",
    " FEET",
)


def label_of(text: str) -> str:
    """Map text to the reader's charset: unit letters keep their class, the rest is '#'."""
    out = []
    for char in text:
        low = char.lower()
        if char in "0123456789.,-+ '\":/":
            out.append(char)
        elif low in "ftm":
            out.append(low)
        else:
            out.append("#")
    return " ".join("".join(out).split())


def distance(rng: np.random.Generator) -> str:
    """Make up a distance as counters write it."""
    value = (
        float(np.exp(rng.uniform(np.log(0.3), np.log(400.0))))
        if rng.random() < 0.8
        else rng.uniform(0, 30)
    )
    decimals = int(rng.choice([1, 2, 0], p=[0.72, 0.2, 0.08]))
    number = f"{value:.{decimals}f}"
    if rng.random() < 0.4:
        number = number.zfill(int(rng.integers(4, 7 + decimals)))
    if rng.random() < 0.08:
        number = number.replace(".", ",")
    sign = rng.random()
    if sign < 0.08:
        number = "-" + number
    elif sign < 0.16:
        number = "+" + number
    return number + str(rng.choice(UNITS))


def moment(rng: np.random.Generator) -> str:
    """Make up a date, a clock or both."""
    y, mo, d = int(rng.integers(1990, 2040)), int(rng.integers(1, 13)), int(rng.integers(1, 29))
    h, mi, s = int(rng.integers(0, 24)), int(rng.integers(0, 60)), int(rng.integers(0, 60))
    sep = str(rng.choice(list("/-.")))
    dates = (
        f"{y}{sep}{mo:02d}{sep}{d:02d}",
        f"{mo:02d}{sep}{d:02d}{sep}{y}",
        f"{d:02d}{sep}{mo:02d}{sep}{y % 100:02d}",
    )
    clock = f"{h:02d}:{mi:02d}:{s:02d}" if rng.random() < 0.7 else f"{h:02d}:{mi:02d}"
    pick = rng.random()
    date = dates[int(rng.integers(3))]
    return date if pick < 0.35 else clock if pick < 0.7 else f"{date} {clock}"


def word(rng: np.random.Generator) -> str:
    """Make up a word, a number without point, or a jumble."""
    pick = rng.random()
    if pick < 0.5:
        return str(rng.choice(WORDS)) + str(rng.choice(["", ":", "=", " "]))
    if pick < 0.75:
        return str(int(rng.integers(0, 10 ** int(rng.integers(1, 6)))))
    letters = string.ascii_uppercase + string.digits + "fftttmm-"
    return "".join(rng.choice(list(letters), int(rng.integers(2, 8))))


def content(rng: np.random.Generator) -> str:
    """Make up one line of overlay text."""
    kind = rng.random()
    if kind < 0.58:
        return distance(rng)
    if kind < 0.70:
        return moment(rng)
    if kind < 0.80:
        return f"{word(rng)} {distance(rng)}"
    if kind < 0.86:
        return f"{distance(rng)} {word(rng)}"
    if kind < 0.93:
        return " ".join((word(rng), word(rng)))
    return "".join(rng.choice(list("0123456789.0123456789"), int(rng.integers(2, 9))))


def typeset(
    text: str, font, cap_px: float, rng: np.random.Generator
) -> tuple[np.ndarray, int, int]:
    """Set a line of text; return coverage, its baseline row and its cap height."""
    spacing = cap_px * (rng.uniform(-0.02, 0.2) if rng.random() < 0.5 else 0.03)
    gap = cap_px * rng.uniform(0.55, 1.4)
    pen, placed = 2.0 + cap_px * 0.2, []
    for char in text:
        if char == " ":
            pen += gap
            continue
        g = font.glyph(char, cap_px)
        placed.append((round(pen) + g.left, g))
        pen += max(g.advance, 1.0) + spacing
    above = max([round(cap_px)] + [-g.top for _, g in placed])
    below = max([2] + [g.top + g.mask.shape[0] for _, g in placed])
    width = max([round(pen)] + [x + g.mask.shape[1] for x, g in placed]) + 2
    mask = np.zeros((above + below, width), np.uint8)
    for x, g in placed:
        h, w = g.mask.shape
        left = max(0, x)
        part = mask[above + g.top : above + g.top + h, left : left + w]
        np.maximum(part, g.mask[:, : part.shape[1]], out=part)
    return mask, above, round(cap_px)


def writable(font, text: str) -> bool:
    """Whether the font draws every character of the text as something."""
    return all(font.glyph(c, 20).mask.max() > 60 for c in set(text) - {" "})


def ground(height: int, width: int, rng: np.random.Generator) -> np.ndarray:
    """Luma of a pipe-like ground: dark bore, lit wall, texture, rings, glints."""
    kind = rng.random()
    level = rng.uniform(5, 60) if kind < 0.35 else rng.uniform(60, 210)
    picture = np.full((height, width), level, np.float32)
    ys, xs = np.mgrid[0:height, 0:width].astype(np.float32)
    if rng.random() < 0.8:
        cx, cy = rng.uniform(-0.5, 1.5) * width, rng.uniform(-2, 3) * height
        radius = np.hypot(xs - cx, (ys - cy) * rng.uniform(0.8, 1.3))
        reach = rng.uniform(0.3, 1.5) * max(width, height)
        picture *= np.clip(radius / reach, rng.uniform(0.02, 0.5), rng.uniform(0.9, 1.6))
        if rng.random() < 0.5:
            for _ in range(int(rng.integers(1, 4))):
                at, wide = rng.uniform(0, 1.2) * reach, rng.uniform(1, 8)
                picture += rng.uniform(-60, 60) * np.exp(-(((radius - at) / wide) ** 2))
    for octave in range(int(rng.integers(1, 5))):
        step = 2 ** int(rng.integers(0, 6))
        grid = rng.normal(0, 1, (height // step + 2, width // step + 2)).astype(np.float32)
        if rng.random() < 0.3:
            grid = np.where(np.abs(grid) > 1.3, grid * 1.5, 0).astype(np.float32)
        noise = cv2.resize(
            grid, (width, height), interpolation=cv2.INTER_LINEAR if step > 1 else cv2.INTER_NEAREST
        )
        picture += noise * rng.uniform(1, 22) * (0.6**octave) * (0.3 + picture / 160)
    for _ in range(int(rng.integers(0, 5))):
        shade = float(rng.choice([rng.uniform(0, 40), rng.uniform(150, 255)]))
        x0, y0, x1, y1 = (rng.uniform(-0.2, 1.2, 4) * [width, height, width, height]).astype(int)
        if rng.random() < 0.5:
            cv2.line(
                picture,
                (int(x0), int(y0)),
                (int(x1), int(y1)),
                shade,
                int(rng.integers(1, 7)),
                cv2.LINE_AA,
            )
        else:
            axes = (
                int(rng.integers(2, max(3, width // 3))),
                int(rng.integers(2, max(3, height // 2))),
            )
            thick = -1 if rng.random() < 0.4 else int(rng.integers(1, 6))
            cv2.ellipse(
                picture,
                (int(x0), int(y0)),
                axes,
                float(rng.uniform(0, 180)),
                0,
                float(rng.uniform(40, 360)),
                shade,
                thick,
                cv2.LINE_AA,
            )
    if rng.random() < 0.25:
        _gravel(picture, rng)
    if rng.random() < 0.12:
        _ticks_and_frames(picture, rng)
    if rng.random() < 0.5:
        picture = cv2.GaussianBlur(picture, (0, 0), rng.uniform(0.3, 2.5))
    return np.clip(picture, 0, 255)


def _gravel(picture: np.ndarray, rng: np.random.Generator) -> None:
    """Strew bright and dark grains about as large as letters; in place."""
    height, width = picture.shape
    size = rng.uniform(1.0, 6.0)
    noise = cv2.GaussianBlur(rng.normal(0, 1, picture.shape).astype(np.float32), (0, 0), size)
    noise /= noise.std() + 1e-6
    patchy = cv2.resize(rng.uniform(0, 1, (3, 4)).astype(np.float32), (width, height))
    gain = rng.uniform(15, 90)
    if rng.random() < 0.6:
        noise = np.clip((np.abs(noise) - rng.uniform(0.8, 1.8)) * 3, 0, 1) * np.sign(noise)
    picture += gain * noise * (patchy > rng.uniform(0, 0.6))


def _ticks_and_frames(picture: np.ndarray, rng: np.random.Generator) -> None:
    """Draw scale ticks or a box outline, which are burned in and no text; in place."""
    height, width = picture.shape
    shade = float(rng.choice([0.0, rng.uniform(120, 255)]))
    if rng.random() < 0.5:
        step, long = int(rng.integers(4, 20)), int(rng.integers(3, 14))
        x, y = int(rng.integers(0, width)), int(rng.integers(0, height))
        for k in range(int(rng.integers(4, 20))):
            reach = long * (2 if k % 5 == 0 else 1)
            if rng.random() < 0.5:
                cv2.line(picture, (x + k * step, y), (x + k * step, y + reach), shade, 1)
            else:
                cv2.line(picture, (x, y + k * step), (x + reach, y + k * step), shade, 1)
    else:
        x0, y0 = int(rng.integers(-width // 2, width)), int(rng.integers(-height // 2, height))
        far = (x0 + int(rng.integers(10, width + 11)), y0 + int(rng.integers(8, height + 9)))
        cv2.rectangle(picture, (x0, y0), far, shade, int(rng.integers(1, 5)))


def burn(
    picture: np.ndarray,
    mask: np.ndarray,
    at: tuple[int, int],
    cap: float,
    style: dict[str, float],
    rng: np.random.Generator,
) -> None:
    """Burn coverage into the picture with outline, shadow or box; in place."""
    x, y = at
    pad = 3 + int(cap * 0.35)
    h, w = mask.shape
    top, left = max(0, y - pad), max(0, x - pad)
    bottom, right = min(picture.shape[0], y + h + pad), min(picture.shape[1], x + w + pad)
    if bottom <= top or right <= left:
        return
    cover = np.zeros((bottom - top, right - left), np.float32)
    sy, sx = y - top, x - left
    part = mask[max(0, -sy) : max(0, bottom - top - sy), max(0, -sx) : max(0, right - left - sx)]
    ty, tx = max(0, sy), max(0, sx)
    part = part[: cover.shape[0] - ty, : cover.shape[1] - tx]
    cover[ty : ty + part.shape[0], tx : tx + part.shape[1]] = part / np.float32(255)
    view = picture[top:bottom, left:right]
    back, text, mode = style["back"], style["text"], style["mode"]
    if mode == 1:
        thick = max(1, round(cap * style["edge"]))
        shape = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * thick + 1, 2 * thick + 1))
        halo = cv2.dilate(cover, shape)
        view += (back - view) * halo
    elif mode == 2:
        drop = max(1, round(cap * style["edge"]))
        halo = np.roll(np.roll(cover, drop, 0), drop, 1)
        view += (back - view) * halo
    elif mode == 3:
        inner = view[
            max(0, ty - int(style["pad"])) : ty + part.shape[0] + int(style["pad"]),
            max(0, tx - int(style["pad"])) : tx + part.shape[1] + int(style["pad"]),
        ]
        inner += (back - inner) * style["solid"]
    view += (text - view) * cover * style["alpha"]


def style_for(level: float, cap: float, rng: np.random.Generator) -> dict[str, float]:
    """Pick text luma, surround and mode so that a person could still read it."""
    mode = int(rng.choice([0, 1, 2, 3], p=[0.4, 0.27, 0.13, 0.2]))
    light = rng.random() < (0.95 if level < 90 else 0.8 if mode else 0.6 if level < 170 else 0.25)
    if mode == 0:
        least = 45.0
        text = (
            rng.uniform(min(255, level + least), 255)
            if light
            else rng.uniform(0, max(0, level - least))
        )
        if light and level + least > 250:
            text = 255.0
    else:
        text = rng.uniform(120, 255) if light else rng.uniform(0, 70)
    back = rng.uniform(0, 40) if light else rng.uniform(180, 255)
    if mode == 3 and rng.random() < 0.2:
        back = rng.uniform(40, 110) if light else back
    return {
        "mode": mode,
        "text": float(text),
        "back": float(back),
        "edge": rng.uniform(0.05, 0.16),
        "pad": rng.uniform(0, 0.35) * cap,
        "solid": rng.uniform(0.5, 1.0) if rng.random() < 0.5 else 1.0,
        "alpha": 1.0 if rng.random() < 0.85 else rng.uniform(0.6, 1.0),
    }


def spoil(picture: np.ndarray, cap: float, rng: np.random.Generator, gentle: bool) -> np.ndarray:
    """Do to the picture what lens, cable, tape and codec do."""
    p = 0.35 if gentle else 0.75
    height, width = picture.shape
    if rng.random() < 0.6 * p:
        for _ in range(int(rng.integers(1, 3))):
            shift = int(rng.integers(2, max(4, int(cap * 1.6))))
            weight = rng.uniform(0.08, 0.34) if rng.random() < 0.8 else rng.uniform(-0.2, 0.0)
            picture = picture + weight * (np.roll(picture, shift, 1) - cv2.blur(picture, (31, 1)))
    if rng.random() < 0.3 * p:
        picture = picture + rng.normal(0, rng.uniform(1, 7), (height, 1)).astype(np.float32)
    if rng.random() < 0.6 * p:
        limit = 0.09 * cap
        picture = cv2.GaussianBlur(
            picture,
            (0, 0),
            sigmaX=rng.uniform(0.2, 0.3 + limit),
            sigmaY=rng.uniform(0.05, 0.1 + limit / 2),
        )
    if rng.random() < 0.25 * p:
        decay = rng.uniform(0.1, 0.45)
        kernel = decay ** np.arange(8, dtype=np.float32)
        kernel = np.concatenate([np.zeros(7, np.float32), kernel])[::-1][None] / kernel.sum()
        picture = cv2.filter2D(picture, -1, np.ascontiguousarray(kernel))
    if rng.random() < 0.4 * p:
        soft = cv2.GaussianBlur(picture, (0, 0), sigmaX=rng.uniform(0.8, 2.5), sigmaY=0.3)
        picture = picture + rng.uniform(0.3, 1.6) * (picture - soft)
    if rng.random() < 0.2 * p:
        edge = np.abs(cv2.Sobel(picture, cv2.CV_32F, 1, 0, ksize=3)) / 8
        wave = (
            np.sin(np.arange(width) * rng.uniform(1.0, 3.1))[None]
            * np.where(np.arange(height) % 2, 1, -1)[:, None]
        )
        picture = picture + rng.uniform(0.1, 0.6) * edge * wave.astype(np.float32)
    if rng.random() < 0.25 * p:
        shift = int(rng.integers(1, 3))
        if rng.random() < 0.5:
            picture[1::2] = np.roll(picture[1::2], shift if cap > 14 else 1, 1)
        else:
            for row in np.flatnonzero(rng.random(height) < 0.15):
                picture[row] = np.roll(picture[row], int(rng.integers(-2, 3)))
    if rng.random() < 0.15 * p:
        for _ in range(int(rng.integers(1, 4))):
            row, start = int(rng.integers(height)), int(rng.integers(width))
            picture[
                row : row + 1 + int(cap > 18), start : start + int(rng.integers(5, width // 2 + 6))
            ] = rng.choice([10, 245])
    if rng.random() < 0.8 * p:
        sigma = rng.uniform(0.5, 14)
        noise = rng.normal(0, sigma, picture.shape).astype(np.float32)
        if rng.random() < 0.4:
            noise = cv2.blur(noise, (3, 1)) * 1.6
        picture = picture + noise
    if rng.random() < 0.4 * p:
        middle = rng.uniform(60, 150)
        picture = (picture - middle) * rng.uniform(0.45, 1.25) + middle + rng.uniform(-20, 20)
    picture = np.clip(picture, 0, 255).astype(np.uint8)
    if rng.random() < (0.7 if gentle else 0.85):
        quality = int(rng.integers(35, 92)) if gentle else int(rng.integers(10, 85))
        _, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])
        picture = cv2.imdecode(data, cv2.IMREAD_GRAYSCALE)
    return picture


def _cap(rng: np.random.Generator) -> float:
    return float(np.exp(rng.uniform(np.log(7.0), np.log(42.0))))


class Maker:
    """Draw samples from a font case; keeps a turning pool of made-up fonts."""

    def __init__(self, case: FontCase, held_out: bool, seed: int) -> None:
        self.case = case
        self.held_out = held_out
        self.rng = np.random.default_rng(seed)
        self.pool = [pick_font(case, self.rng, held_out) for _ in range(60)]
        self.grounds = [ground(100, 760, self.rng) for _ in range(60)]

    def font_for(self, text: str):
        """Take a font from the pool that can draw the text."""
        for _ in range(20):
            slot = int(self.rng.integers(len(self.pool)))
            if self.rng.random() < 0.08:
                self.pool[slot] = pick_font(self.case, self.rng, self.held_out)
            if writable(self.pool[slot], text):
                return self.pool[slot]
        return self.case.hershey[0]

    def ground_for(self, height: int, width: int) -> np.ndarray:
        """Cut a ground from a turning stock of larger ones; drawing each anew is the slow part."""
        rng = self.rng
        slot = int(rng.integers(len(self.grounds)))
        if rng.random() < 0.1:
            self.grounds[slot] = ground(100, 760, rng)
        stock = self.grounds[slot]
        if height > stock.shape[0] or width > stock.shape[1]:
            return ground(height, width, rng)
        top = int(rng.integers(0, stock.shape[0] - height + 1))
        left = int(rng.integers(0, stock.shape[1] - width + 1))
        part = stock[top : top + height, left : left + width]
        if rng.random() < 0.5:
            part = part[:, ::-1]
        return np.clip(part * np.float32(rng.uniform(0.6, 1.4)), 0, 255)

    def crop(self, gentle: bool | None = None, empty: float = 0.1) -> tuple[np.ndarray, str, str]:
        """Return a strip (32, 288) uint8, its label and the name of its font."""
        rng = self.rng
        gentle = bool(rng.random() < 0.4) if gentle is None else gentle
        cap = _cap(rng)
        text = "" if rng.random() < empty else content(rng)
        font = self.font_for(text)
        fill = rng.uniform(0.5, 0.82)
        out_scale = STRIP_HEIGHT * fill / cap
        native_w = int(np.ceil(STRIP_WIDTH / out_scale)) + 8
        native_h = int(np.ceil(STRIP_HEIGHT / out_scale)) + 8
        stretch = rng.uniform(0.85, 1.2) if rng.random() < 0.4 else 1.0
        picture = self.ground_for(native_h, native_w)
        style = style_for(float(picture.mean()), cap, rng)
        label = ""
        if text:
            if font.pixel and rng.random() < 0.5:
                whole = max(1, round(cap / font.cap))
                cap = float(whole * font.cap)
                out_scale = STRIP_HEIGHT * fill / cap
                native_w = int(np.ceil(STRIP_WIDTH / out_scale)) + 8
                native_h = int(np.ceil(STRIP_HEIGHT / out_scale)) + 8
                picture = self.ground_for(native_h, native_w)
                style = style_for(float(picture.mean()), cap, rng)
            mask, base, _ = typeset(text, font, cap, rng)
            while mask.shape[1] * stretch > native_w - 8 and " " in text:
                text = text.rsplit(" ", 1)[0]
                mask, base, _ = typeset(text, font, cap, rng)
            if mask.shape[1] * stretch > native_w - 4:
                stretch = (native_w - 4) / mask.shape[1]
                if stretch < 0.6:
                    return self.crop(gentle, empty)
            if stretch != 1.0:
                mask = cv2.resize(
                    mask,
                    (max(1, round(mask.shape[1] * stretch)), mask.shape[0]),
                    interpolation=cv2.INTER_LINEAR,
                )
            room = max(1, native_w - mask.shape[1] - 4)
            x = (
                2 + int(rng.integers(0, room))
                if rng.random() < 0.6
                else 2 + min(room, int(cap * rng.uniform(0, 1.5)))
            )
            slack = native_h - cap
            row = slack * np.clip(rng.normal(0.5, 0.14), 0.2, 0.8)
            y = round(row + cap - base)
            burn(picture, mask, (x, y), cap, style, rng)
            label = label_of(text)
            if rng.random() < 0.25:
                self._neighbour_line(picture, font, cap, row, style)
        elif rng.random() < 0.3:
            self._neighbour_line(picture, self.pool[0], cap, (native_h - cap) / 2, style)
        picture = spoil(picture, cap, rng, gentle)
        picture = self._resample(picture)
        scale = STRIP_HEIGHT * fill / cap
        strip = cv2.resize(
            picture,
            (
                max(8, round(picture.shape[1] * scale * picture_ratio(picture, native_w))),
                max(8, round(native_h * scale)),
            ),
            interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR,
        )
        return _fit(strip, rng), label, font.name

    def _resample(self, picture: np.ndarray) -> np.ndarray:
        """Send the picture through another size and back, as captures do."""
        if self.rng.random() < 0.25:
            size = (picture.shape[1], picture.shape[0])
            share = self.rng.uniform(0.7, 1.6)
            mid = (max(8, round(size[0] * share)), max(8, round(size[1] * share)))
            picture = cv2.resize(
                cv2.resize(
                    picture, mid, interpolation=cv2.INTER_AREA if share < 1 else cv2.INTER_LINEAR
                ),
                size,
                interpolation=cv2.INTER_LINEAR,
            )
        return picture

    def _neighbour_line(
        self, picture: np.ndarray, font, cap: float, row: float, style: dict[str, float]
    ) -> None:
        """Let a line above or below show its edge."""
        text = content(self.rng)
        if not writable(font, text):
            return
        mask, base, _ = typeset(text, font, cap, self.rng)
        gap = cap * self.rng.uniform(1.35, 2.0) * self.rng.choice([-1, 1])
        burn(
            picture,
            mask,
            (
                int(self.rng.integers(0, max(2, picture.shape[1] // 2))),
                round(row + gap + cap - base),
            ),
            cap,
            style,
            self.rng,
        )

    def patch(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return a patch (256, 256) uint8, a text-core map and a log2(cap/16) map at 1/4 size."""
        rng = self.rng
        scale = rng.uniform(0.6, 2.2)
        size = round(PATCH / scale)
        picture = ground(size, size, rng)
        core = np.zeros((PATCH // CELL, PATCH // CELL), np.float32)
        tall = np.zeros_like(core)
        taken: list[tuple[float, float, float, float]] = []
        cap = float(np.exp(rng.uniform(np.log(9.0), np.log(44.0)))) / scale
        font = None
        for _ in range(int(rng.choice([0, 1, 2, 3, 4], p=[0.15, 0.3, 0.25, 0.2, 0.1]))):
            text = content(rng)
            if font is None or rng.random() < 0.3:
                font = self.font_for(text)
                cap = float(np.clip(cap * rng.uniform(0.7, 1.5), 9 / scale, 44 / scale))
                style = style_for(float(picture.mean()), cap, rng)
            if not writable(font, text):
                continue
            if font.pixel and rng.random() < 0.5:
                cap = max(1, round(cap / font.cap)) * font.cap
                if not 8 <= cap * scale <= 48:
                    continue
            mask, base, _ = typeset(text, font, cap, rng)
            x = int(rng.integers(-mask.shape[1] // 3, max(1, size - mask.shape[1] // 2)))
            y = int(rng.integers(0, max(1, int(size - cap)))) - base + round(cap)
            if taken and rng.random() < 0.5:
                x, y = (
                    int(taken[-1][0]),
                    int(taken[-1][3] + cap * rng.uniform(0.4, 1.0)) - base + round(cap),
                )
            box = (x, y + base - cap, x + mask.shape[1], y + base)
            if any(
                box[0] < t[2] + cap
                and t[0] < box[2] + cap
                and box[1] < t[3] + cap * 0.3
                and t[1] < box[3] + cap * 0.3
                for t in taken
            ):
                continue
            if box[3] > size - 1 or box[1] < 1:
                continue
            burn(picture, mask, (x, y), cap, style, rng)
            taken.append(box)
            self._mark(core, tall, mask, x, box, cap, scale)
        picture = spoil(picture, cap, rng, bool(rng.random() < 0.5))
        out = cv2.resize(
            picture, (PATCH, PATCH), interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
        )
        return out, core, tall

    @staticmethod
    def _mark(core, tall, mask, x, box, cap, scale) -> None:
        """Mark the middle half of the line's height between its outermost inked columns."""
        columns = np.flatnonzero(mask.max(axis=0) > 60)
        if columns.size == 0:
            return
        left, right = (x + columns[0]) * scale, (x + columns[-1] + 1) * scale
        middle, half = (box[1] + box[3]) / 2 * scale, max(2.0, cap * scale / 4)
        rows = slice(max(0, round((middle - half) / CELL)), max(0, round((middle + half) / CELL)))
        cols = slice(max(0, round(left / CELL)), max(0, round(right / CELL)))
        core[rows, cols] = 1.0
        tall[rows, cols] = np.log2(cap * scale / 16)


def picture_ratio(picture: np.ndarray, native_w: int) -> float:
    """Width the spoiled picture kept, as a share of the native width."""
    return native_w / picture.shape[1]


def _fit(strip: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Cut the strip to 32 x 288 about its middle, padding by its own edge."""
    top = max(0, (strip.shape[0] - STRIP_HEIGHT) // 2)
    strip = strip[top : top + STRIP_HEIGHT, :STRIP_WIDTH]
    lack_h, lack_w = STRIP_HEIGHT - strip.shape[0], STRIP_WIDTH - strip.shape[1]
    if lack_h > 0 or lack_w > 0:
        strip = cv2.copyMakeBorder(
            strip, lack_h // 2, lack_h - lack_h // 2, 0, lack_w, cv2.BORDER_REPLICATE
        )
    return strip
