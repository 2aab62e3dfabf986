"""Water on the strip: a level surface that mirrors the bore above it.

A ray that would meet the wall below the water level meets the surface first, at the
share ``t`` of its way where it crosses the level; from there the mirrored ray meets the
wall again. How much is mirrored follows Schlick's approximation of Fresnel's equations
(Schlick 1994), with 0.02 at normal incidence for water.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from saltglaze.demo.lens import Pose
from saltglaze.demo.strip import Rows, Strip
from saltglaze.demo.wall import COLUMNS

Array = NDArray[np.float32]
COARSE = 4


def lay_water(
    strip: Strip,
    pose: Pose,
    rows: Rows,
    share: Array,
    ripple: float,
    phase_m: float,
    grain: Array,
    murk_rgb: tuple[float, float, float],
    glow: Array,
) -> Strip:
    """Return the strip with water of depth ``share`` (of the diameter, per row) laid in.

    ``ripple`` 0 is a standing mirror, 1 a lively flow; ``phase_m`` moves the ripple
    along the pipe; ``grain`` is seamless noise to ripple with; ``glow`` (rows, 1) is
    the light at each row.
    """
    if not bool(np.any(share > 0.002)):
        return strip
    level = pose.radius_m * (2.0 * share - 1.0)
    half = np.arccos(np.clip(-level / pose.radius_m, -1.0, 1.0))
    widest = int(np.ceil(float(half.max()) / (2 * np.pi) * COLUMNS)) + COARSE
    centre = COLUMNS // 2
    low = max(centre - widest, 0) // COARSE * COARSE
    high = min(-(-(centre + widest) // COARSE) * COARSE, COLUMNS)
    angle = (np.arange(low, high, COARSE, dtype=np.float32) + COARSE / 2) * np.float32(
        2 * np.pi / COLUMNS
    )
    wall_x = pose.radius_m * np.sin(angle)[None, :]
    wall_y = pose.radius_m * np.cos(angle)[None, :]
    rise = level[:, None]
    way = np.clip((rise - pose.up_m) / np.minimum(wall_y - pose.up_m, -1e-6), 0.0, 1.0)
    x = pose.right_m + (wall_x - pose.right_m) * way
    z = rows.ahead_m[:, None] * way
    dx, dy, dz = wall_x - pose.right_m, wall_y - pose.up_m, rows.ahead_m[:, None]
    wave = _sampled(grain, (z + phase_m) * 220.0, x * 900.0)
    length = np.sqrt(dx * dx + dy * dy + dz * dz)
    tilt = np.abs(dy) / length + 0.10 * ripple * wave
    mirror = 0.02 + 0.98 * (1.0 - np.clip(tilt, 0.0, 1.0)) ** 5
    up = -dy + 0.12 * ripple * wave * length
    a = dx * dx + up * up
    b = x * dx + rise * up
    c = x * x + rise * rise - np.float32(pose.radius_m**2)
    on = (-b + np.sqrt(np.maximum(b * b - a * c, 0.0))) / np.maximum(a, 1e-9)
    seen_x, seen_y, seen_z = x + on * dx, rise + on * up, z + on * dz
    columns = np.arctan2(seen_x, seen_y) % np.float32(2 * np.pi) * np.float32(COLUMNS / (2 * np.pi))
    back = 1.0 / np.maximum(seen_z, 1e-3) / np.float32(rows.inverse_step)
    size = (high - low, rows.ahead_m.size)
    # The column map jumps at the seam, so the mirrored bore is sampled coarse, then widened.
    seen = cv2.remap(
        strip,
        columns.astype(np.float32),
        back.astype(np.float32),
        cv2.INTER_LINEAR,
        None,
        cv2.BORDER_WRAP,
    )
    mirrored = cv2.resize(seen, size, interpolation=cv2.INTER_LINEAR).astype(np.float32)
    amount = cv2.resize(mirror.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)[..., None]
    deep = np.clip((rise - wall_y) / (0.35 * pose.radius_m), 0.0, 1.0)
    depth = cv2.resize(deep.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)[..., None]
    bed = strip[:, low:high].astype(np.float32)
    murk = np.asarray(murk_rgb, np.float32) * glow[:, :, None]
    below = bed * (1 - 0.85 * depth) + murk * 0.85 * depth
    glint = 0.0
    if ripple > 0:
        crest = np.clip(wave - 1.35, 0, 1.2).astype(np.float32) * np.float32(150 * ripple)
        glint = (
            cv2.resize(crest, size, interpolation=cv2.INTER_LINEAR)[..., None] * glow[:, :, None]
        )
    water = below * (1 - amount) + mirrored * amount + glint
    fine = (np.arange(low, high, dtype=np.float32) + 0.5) * np.float32(2 * np.pi / COLUMNS)
    inside = np.clip(
        (half[:, None] - np.abs(fine[None, :] - np.pi)) * (COLUMNS / (2 * np.pi)) + 0.5, 0, 1
    )
    edge = np.exp(-(((half[:, None] - np.abs(fine[None, :] - np.pi)) * COLUMNS / 6.28 / 2.5) ** 2))
    shore = 1.0 - 0.25 * edge * (half[:, None] > 0.05)
    cover = (inside * (half[:, None] > 1e-3)).astype(np.float32)[..., None]
    mixed = (bed * (1 - cover) + water * cover) * shore[..., None]
    laid = strip.copy()
    laid[:, low:high] = np.clip(mixed, 0, 255).astype(np.uint8)
    return laid


def _sampled(grain: Array, down: Array, across: Array) -> Array:
    """Return seamless noise sampled at float places."""
    shape = np.broadcast_shapes(down.shape, across.shape)
    x = np.broadcast_to(across, shape).astype(np.float32)
    y = np.broadcast_to(down, shape).astype(np.float32)
    return np.asarray(
        cv2.remap(
            grain, x % grain.shape[1], y % grain.shape[0], cv2.INTER_LINEAR, None, cv2.BORDER_WRAP
        )
    )
