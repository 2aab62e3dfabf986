"""Water on the strip: a level surface that mirrors the bore above it.

A ray that would meet the wall below the water level meets the surface first, at the
share ``t`` of its way where it crosses the level; from there the mirrored ray meets the
wall again. How much is mirrored follows Schlick's approximation of Fresnel's equations
(Schlick 1994, from memory), with 0.02 at normal incidence for water.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from saltglaze.demo.lens import Pose
from saltglaze.demo.rows import Rows
from saltglaze.demo.wall import COLUMNS

Strip = NDArray[np.uint8]
Array = NDArray[np.float32]
COARSE = 4
PER_RADIAN = np.float32(COLUMNS / (2 * np.pi))


@dataclass(frozen=True)
class Surface:
    """Water as a script gives it, for the rows of one picture.

    ``share`` is depth over diameter per row; ``ripple`` 0 is a standing mirror, 1 a
    lively flow; ``phase_m`` moves the ripple along the pipe; ``grain`` is seamless noise.
    """

    share: Array
    ripple: float
    phase_m: float
    grain: Array
    murk_rgb: tuple[float, float, float]


def lay_water(strip: Strip, pose: Pose, rows: Rows, surface: Surface, glow: Array) -> Strip:
    """Lay water into a lit strip, in place; ``glow`` (rows, 1) is the light at each row."""
    wet = np.flatnonzero(surface.share > 0.004)
    if wet.size == 0:
        return strip
    part = slice(int(wet[0]), int(wet[-1]) + 1)
    level = (pose.radius_m * (2.0 * surface.share[part] - 1.0)).astype(np.float32)[:, None]
    half = np.arccos(np.clip(-level / pose.radius_m, -1.0, 1.0))
    widest = int(np.ceil(float(half.max()) * PER_RADIAN)) + COARSE
    low = max(COLUMNS // 2 - widest, 0) // COARSE * COARSE
    high = min(-(-(COLUMNS // 2 + widest) // COARSE) * COARSE, COLUMNS)
    angle = (np.arange(low, high, COARSE, dtype=np.float32) + (COARSE - 1) / 2) / PER_RADIAN
    size = (high - low, wet[-1] + 1 - wet[0])
    bed = strip[part, low:high]
    seen, mirror, depth, glint = _optics(strip, pose, rows, part, surface, level, angle)
    mirrored = cv2.resize(seen, size, interpolation=cv2.INTER_LINEAR)
    fine = np.arange(low, high, dtype=np.float32) / PER_RADIAN
    inshore = (half - np.abs(fine[None, :] - np.float32(np.pi))) * PER_RADIAN
    cover = np.clip(inshore + 0.5, 0.0, 1.0) * (surface.share[part, None] > 0.004)
    amount = cv2.resize(mirror, size, interpolation=cv2.INTER_LINEAR) * cover
    murky = cv2.resize(depth, size, interpolation=cv2.INTER_LINEAR) * cover - 0.85 * amount
    murky = np.maximum(murky, 0.0)
    shore = 1.0 - 0.22 * np.exp(-((inshore / 2.5) ** 2))
    keep = (1.0 - np.clip(amount + murky, 0.0, 1.0)) * shore
    light = glow[part] * murky
    shine = cv2.resize(glint, size, interpolation=cv2.INTER_LINEAR) * cover * glow[part]
    mixed = cv2.merge([light * np.float32(m) + shine for m in surface.murk_rgb])
    mixed += bed * keep[..., None].astype(np.float32)
    mixed += mirrored * amount[..., None].astype(np.float32)
    strip[part, low:high] = np.clip(mixed, 0, 255).astype(np.uint8)
    return strip


def _optics(
    strip: Strip, pose: Pose, rows: Rows, part: slice, surface: Surface, level: Array, angle: Array
) -> tuple[Strip, Array, Array, Array]:
    """Return, coarsely, what the water mirrors, how much, how deep it is, and its glints."""
    dx = (pose.radius_m * np.sin(angle)).astype(np.float32)[None, :] - np.float32(pose.right_m)
    wall_y = (pose.radius_m * np.cos(angle)).astype(np.float32)[None, :]
    dy = wall_y - np.float32(pose.up_m)
    dz = rows.ahead_m[part, None]
    way = np.clip((level - np.float32(pose.up_m)) / np.minimum(dy, -1e-6), 0.0, 1.0)
    x, z = np.float32(pose.right_m) + dx * way, dz * way
    length = np.sqrt(dx * dx + dy * dy + dz * dz)
    up, tilt = -dy, -dy / length
    glint = np.zeros(x.shape, np.float32)
    if surface.ripple > 0:
        wave = sampled(surface.grain, (z + np.float32(surface.phase_m)) * 220.0, x * 900.0)
        tilt = np.abs(tilt + 0.10 * surface.ripple * wave)
        up = up + 0.12 * surface.ripple * wave * length
        glint = np.clip(wave - 1.45, 0, 1.0) * np.float32(110 * surface.ripple)
    mirror = 0.02 + 0.98 * (1.0 - np.clip(tilt, 0.0, 1.0)) ** 5
    a = dx * dx + up * up
    b = x * dx + level * up
    c = x * x + level * level - np.float32(pose.radius_m**2)
    on = (np.sqrt(np.maximum(b * b - a * c, 0.0)) - b) / np.maximum(a, 1e-9)
    columns = cv2.phase(level + on * up, x + on * dx) * PER_RADIAN
    back = 1.0 / (np.maximum(z + on * dz, 1e-3) * np.float32(rows.inverse_step))
    # The column map jumps at the seam, so the mirrored bore is sampled coarse, then widened.
    seen = cv2.remap(strip, columns, back, cv2.INTER_LINEAR, None, cv2.BORDER_WRAP)
    depth = 0.85 * np.clip((level - wall_y) / np.float32(0.35 * pose.radius_m), 0.0, 1.0)
    return (
        np.asarray(seen, np.uint8),
        np.asarray(mirror, np.float32),
        np.asarray(depth, np.float32),
        glint,
    )


def sampled(grain: Array, down: Array, across: Array) -> Array:
    """Return seamless noise sampled at float places that broadcast together."""
    x, y = np.broadcast_arrays(across % grain.shape[1], down % grain.shape[0])
    wave = cv2.remap(
        grain, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR, None, cv2.BORDER_WRAP
    )
    return np.asarray(wave, dtype=np.float32)
