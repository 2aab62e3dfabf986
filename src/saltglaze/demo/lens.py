"""Which point of the bore each pixel looks at, for a pinhole camera in a round pipe.

A ray from the lens at ``o`` (off the axis) with direction ``d`` meets the cylinder of
radius R where ``|o_xy + t d_xy| = R``; the reciprocal distance ahead is
``w = 1/z = (b + sqrt(b^2 - a c)) / (-c d_z)`` with ``a = |d_xy|^2``, ``b = o.d_xy``,
``c = |o|^2 - R^2`` (elementary geometry). On the axis this is ``w = r/(f R)``: a wall
point ``z`` ahead shows ``f R / z`` from the centre.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Map = NDArray[np.float32]
NEAREST_SHARE = 0.22
"""Nearest distance ahead that is drawn, in radii; nearer wall shows this far wall."""


@dataclass(frozen=True)
class Pose:
    """How the lens sits: offset in the bore (metres right, up), roll, head yaw and pitch."""

    radius_m: float
    right_m: float = 0.0
    up_m: float = 0.0
    roll_deg: float = 0.0
    yaw_deg: float = 0.0
    pitch_deg: float = 0.0


@dataclass(frozen=True)
class ScreenMap:
    """For each pixel: reciprocal distance ahead (1/m) and screen angle clockwise from up."""

    inverse_z: Map
    angle_rad: Map
    inverse_z_max: float
    pose: Pose


def clock_of_screen(screen_deg: float, roll_deg: float) -> float:
    """Return the pipe's clock angle that shows at an angle clockwise from screen top."""
    return (screen_deg - roll_deg) % 360.0


def to_screen(pose: Pose, clock_deg: float, ahead_m: float, focal_px: float) -> tuple[float, float]:
    """Return where a wall point shows, pixels right of and below the picture's centre.

    Raises ``ValueError`` for a point that lies behind the lens.
    """
    angle = math.radians(clock_deg)
    x = pose.radius_m * math.sin(angle) - pose.right_m
    y = pose.radius_m * math.cos(angle) - pose.up_m
    roll = math.radians(pose.roll_deg)
    right = x * math.cos(roll) + y * math.sin(roll)
    up = -x * math.sin(roll) + y * math.cos(roll)
    seen = _turn(pose).T @ np.array([right, up, ahead_m])
    if seen[2] <= 0:
        raise ValueError("the point lies behind the lens")
    return (focal_px * float(seen[0] / seen[2]), -focal_px * float(seen[1] / seen[2]))


def screen_map(pose: Pose, width_px: int, height_px: int, focal_px: float) -> ScreenMap:
    """Return the map of a picture for a pose."""
    across = (np.arange(width_px, dtype=np.float32) + 0.5 - width_px / 2) / focal_px
    up = -(np.arange(height_px, dtype=np.float32) + 0.5 - height_px / 2)[:, None] / focal_px
    turn = _turn(pose).astype(np.float32)
    ray = [turn[n, 0] * across + turn[n, 1] * up + turn[n, 2] for n in range(3)]
    roll = math.radians(pose.roll_deg)
    right_m = pose.right_m * math.cos(roll) + pose.up_m * math.sin(roll)
    up_m = -pose.right_m * math.sin(roll) + pose.up_m * math.cos(roll)
    a = ray[0] * ray[0] + ray[1] * ray[1]
    b = np.float32(right_m) * ray[0] + np.float32(up_m) * ray[1]
    c = np.float32(right_m**2 + up_m**2 - pose.radius_m**2)
    inverse_t = (b + np.sqrt(b * b - a * c)) / (-c)
    limit = np.float32(1.0 / (NEAREST_SHARE * pose.radius_m))
    ahead = np.maximum(ray[2], np.float32(1e-3))
    t = 1.0 / np.maximum(inverse_t, np.float32(1e-6))
    # phase() wants x, y and turns from x to y: clockwise from up is y first, then x.
    angle = cv2.phase(np.float32(up_m) + t * ray[1], np.float32(right_m) + t * ray[0])
    inverse_z = np.minimum(inverse_t / ahead, limit).astype(np.float32)
    return ScreenMap(inverse_z, angle, float(inverse_z.max()), pose)


def _turn(pose: Pose) -> NDArray[np.float64]:
    """Return the rotation from the head's axes (right, up, ahead) to the unrolled camera's."""
    yaw, pitch = math.radians(pose.yaw_deg), math.radians(pose.pitch_deg)
    about_up = np.array(
        [[math.cos(yaw), 0, math.sin(yaw)], [0, 1, 0], [-math.sin(yaw), 0, math.cos(yaw)]]
    )
    about_right = np.array(
        [[1, 0, 0], [0, math.cos(pitch), math.sin(pitch)], [0, -math.sin(pitch), math.cos(pitch)]]
    )
    return np.asarray(about_up @ about_right)
