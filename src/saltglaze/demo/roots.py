"""Roots that hang into the bore at a joint: a curtain of strands before the pipe behind.

A strand at distance ``z`` ahead that reaches the share ``rho`` of the way from the wall
towards the lens shows on the strip from row ``1/z`` to row ``(1 - rho)/z``.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from saltglaze.demo.rows import Rows
from saltglaze.demo.script import Defect, FilmScript
from saltglaze.demo.strip import light_at
from saltglaze.demo.wall import COLUMNS

STRANDS = {Defect.FINE_ROOTS: 26, Defect.ROOT_MASS: 150}
REACH = {Defect.FINE_ROOTS: 0.20, Defect.ROOT_MASS: 0.42}
"""How far into the bore the longest strands reach, as a share of the way to the lens."""
KNOTS = 9


@dataclass(frozen=True)
class Hanging:
    """Strands at a station: ``inward`` share and ``column`` of each knot, (strands, KNOTS)."""

    station_m: float
    inward: NDArray[np.float64]
    column: NDArray[np.float64]
    rgb: NDArray[np.float64]

    def draw(
        self,
        strip: NDArray[np.uint8],
        rows: Rows,
        station_m: float,
        radius_m: float,
        gain: float,
        reach_diameters: float,
    ) -> None:
        """Draw the strands into a lit strip, in place, if they are ahead and in sight."""
        ahead = self.station_m - station_m
        if not 0.25 * radius_m < ahead < 3.0:
            return
        light = float(light_at(np.array([ahead], np.float32), radius_m, reach_diameters)[0])
        foot = 1.0 / ahead / rows.inverse_step
        down = (foot * (1.0 - self.inward) * 16).astype(np.int32)
        width = int(np.clip(foot / 220.0, 1, 4))
        for turn in (-1, 0, 1):
            across = ((self.column + turn * COLUMNS) * 16).astype(np.int32)
            for strand in range(len(down)):
                line = np.stack([across[strand], down[strand]], axis=1)
                colour = np.clip(self.rgb[strand] * light * gain * 1.1, 0, 255).tolist()
                cv2.polylines(strip, [line], False, colour, width, cv2.LINE_AA, 4)


def hanging_roots(script: FilmScript) -> tuple[Hanging, ...]:
    """Return the strands of all root defects of a script, the same for the same seed."""
    return tuple(
        _strands(script.seed, d.station_m, d.clock_deg, d.extent_deg, d.kind, d.strength)
        for d in script.defects
        if d.kind in STRANDS
    )


def _strands(
    seed: int, station_m: float, clock_deg: float, extent_deg: float, kind: Defect, strength: float
) -> Hanging:
    draw = np.random.default_rng([seed, 71, round((station_m + 100) * 1000)])
    count = max(int(STRANDS[kind] * strength * extent_deg / 120), 4)
    spread = np.clip(draw.normal(0, 0.3, count), -0.5, 0.5) * extent_deg
    foot = (clock_deg + spread) / 360.0 * COLUMNS
    reach = REACH[kind] * strength * draw.beta(2.0, 2.6, count) * 1.6
    along = np.linspace(0.0, 1.0, KNOTS)[None, :]
    wander = np.cumsum(draw.normal(0, COLUMNS / 110, (count, KNOTS)), axis=1)
    shade = draw.uniform(0.45, 1.15, (count, 1))
    return Hanging(
        station_m=station_m,
        inward=np.clip(reach, 0.02, 0.8)[:, None] * along**0.8,
        column=foot[:, None] + wander,
        rgb=np.array([[168.0, 136.0, 92.0]]) * shade,
    )
