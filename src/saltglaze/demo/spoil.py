"""What spoils a view: fog, a fouled lens, glare, a lens under water."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from saltglaze.demo.rows import Rows
from saltglaze.demo.script import FilmScript

Picture = NDArray[np.uint8]


def fogged(picture: Picture, strength: float) -> Picture:
    """Return the picture through steam: low contrast, bright, soft."""
    soft = cv2.GaussianBlur(picture, (0, 0), 1.0 + picture.shape[1] / 160 * strength)
    veil = np.full_like(picture, (168, 170, 168)[0])
    return np.asarray(cv2.addWeighted(soft, 1 - 0.82 * strength, veil, 0.82 * strength, 0))


@dataclass(frozen=True)
class Foul:
    """Smears and drops on the lens: how much they cover, and a tone for each pixel."""

    cover: NDArray[np.float32]

    def over(self, picture: Picture, strength: float) -> Picture:
        """Return the picture seen past the smears."""
        soft = cv2.resize(picture, None, fx=1 / 16, fy=1 / 16, interpolation=cv2.INTER_AREA)
        size = (picture.shape[1], picture.shape[0])
        soft = cv2.resize(cv2.GaussianBlur(soft, (0, 0), 2.0), size, interpolation=cv2.INTER_LINEAR)
        amount = np.clip(self.cover * strength * 1.3, 0, 0.96)[..., None]
        smear = soft.astype(np.float32) * 0.62 + np.array([46, 36, 22], np.float32)
        return np.asarray(picture * (1 - amount) + smear * amount, dtype=np.uint8)


def fouled_mask(script: FilmScript) -> Foul:
    """Return the smears of a script's lens."""
    draw = np.random.default_rng([script.seed, 51])
    small = draw.standard_normal((script.height_px // 8 + 1, script.width_px // 8 + 1))
    blurred = cv2.GaussianBlur(small.astype(np.float32), (0, 0), 4.0)
    blurred /= max(float(blurred.std()), 1e-6)
    cover = np.clip(0.75 + 0.35 * blurred, 0, 1)
    wide = cv2.resize(cover, (script.width_px, script.height_px), interpolation=cv2.INTER_LINEAR)
    return Foul(np.asarray(wide, np.float32))


def glare_at(picture: Picture, strength: float, time_s: float) -> Picture:
    """Return the picture with the lamps mirrored into the lens: a burnt-out patch."""
    height, width = picture.shape[:2]
    x = np.arange(width, dtype=np.float32)[None, :] / width - 0.5 - 0.04 * np.sin(1.3 * time_s)
    y = np.arange(height, dtype=np.float32)[:, None] / height - 0.55
    spread = 0.16 + 0.22 * strength
    burnt = np.exp(-(x * x + y * y * 0.5) / spread**2) * np.float32(420 * strength)
    return np.asarray(cv2.add(picture, cv2.merge([burnt, burnt, burnt]), dtype=cv2.CV_8U))


def murk_lens(
    strip: Picture, rows: Rows, murk_rgb: tuple[float, float, float], gain: float
) -> Picture:
    """Return the strip as a lens under dirty water sees it: a short sight into brown."""
    clear = np.exp(-rows.ahead_m / np.float32(0.06))[:, None, None]
    murk = np.asarray(murk_rgb, np.float32) * np.float32(1.2 * min(gain, 1.5))
    near = np.clip(0.25 + 0.75 * np.exp(-rows.ahead_m / np.float32(0.25)), 0, 1)[:, None, None]
    mixed = strip.astype(np.float32) * clear + murk * near * (1 - clear)
    soft = cv2.blur(np.clip(mixed, 0, 255).astype(np.uint8), (25, 5))
    return np.asarray(soft)
