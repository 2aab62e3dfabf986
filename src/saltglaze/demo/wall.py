"""The pipe wall unrolled: a texture with stations down and clock angle across."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

import cv2
import numpy as np
import scipy.fft
from numpy.typing import NDArray

from saltglaze.demo.paint import ROWS_PER_M, paint_defect, paint_joint
from saltglaze.demo.script import FilmScript, Look, joint_stations

COLUMNS = 1024
"""Texture columns around the pipe, clockwise; the middle of column 0 is 12 o'clock."""

LEVEL_STEP = 4
LEVELS = 4
"""Ever coarser copies of the texture, each ``LEVEL_STEP`` times shorter, for far rows."""

BEHIND_M = 0.5
AHEAD_M = 6.0
PERIOD_M = 2.0
GRAINS = 3
"""How many different bare walls there are of each look; scripts share them, shifted."""

Texture = NDArray[np.uint8]

BASE_RGB: dict[Look, tuple[int, int, int]] = {
    Look.CLAY: (168, 108, 72),
    Look.CAST_IRON: (92, 66, 48),
    Look.PVC: (196, 194, 184),
    Look.CONCRETE: (142, 138, 126),
}


MAIN_RGB = np.array([104, 96, 82], np.float32)


@dataclass
class Wall:
    """The texture of a whole line, painted metre by metre as it comes into view."""

    script: FilmScript
    first_m: int = field(init=False)
    levels: list[Texture] = field(init=False)

    def __post_init__(self) -> None:
        start = min(s.start_m for s in self.script.segments)
        end = max(s.end_m for s in self.script.segments)
        reach = self.script.station.at(self.script.frame_times_s)
        self.first_m = int(np.floor(min(start, float(reach.min())) - BEHIND_M))
        metres = int(np.ceil(max(end, float(reach.max())) + AHEAD_M)) - self.first_m
        self._painted = np.zeros(metres, dtype=bool)
        self._joints = joint_stations(self.script)
        looks = {s.look for s in self.script.segments}
        if self.script.ends_in_main:
            looks.add(Look.CONCRETE)
        self._grain = {look: _grain(look, self.script.seed % GRAINS) for look in looks}
        self._shift = int(np.random.default_rng(self.script.seed).integers(0, 2048))
        self.levels = [
            np.zeros((metres * ROWS_PER_M // LEVEL_STEP**n, COLUMNS, 3), np.uint8)
            for n in range(LEVELS)
        ]

    def rows(self, level: int, from_m: float, to_m: float) -> tuple[Texture, float]:
        """Return the painted rows of a level over a stretch, and the station of the first row."""
        per_m = ROWS_PER_M / LEVEL_STEP**level
        self._paint_between(from_m, to_m)
        texture = self.levels[level]
        low = int(np.clip(np.floor((from_m - self.first_m) * per_m) - 2, 0, len(texture) - 4))
        high = int(np.clip(np.ceil((to_m - self.first_m) * per_m) + 3, low + 4, len(texture)))
        return texture[low:high], self.first_m + (low + 0.5) / per_m

    def _paint_between(self, from_m: float, to_m: float) -> None:
        last = self._painted.size - 1
        low = int(np.clip(np.floor(from_m) - self.first_m, 0, last))
        high = int(np.clip(np.floor(to_m) - self.first_m, 0, last))
        for metre in range(low, high + 1):
            if not self._painted[metre]:
                self._paint_metre(metre)

    def _paint_metre(self, metre: int) -> None:
        margin = 0.35
        start_m = self.first_m + metre - margin
        canvas = self._bare(start_m, 1.0 + 2 * margin)
        end_m = start_m + len(canvas) / ROWS_PER_M
        for station in self._joints:
            if start_m - 0.1 < station < end_m + 0.1:
                look = self.script.segment_at(station + 1e-6).look
                paint_joint(canvas, station - start_m, look, self._draw(station))
        for defect in self.script.defects:
            if (
                defect.station_m < end_m + 0.5
                and defect.station_m + defect.length_m > start_m - 0.5
            ):
                radius = self.script.segment_at(defect.station_m).diameter_m / 2
                paint_defect(canvas, start_m, defect, radius, self._draw(defect.station_m + 500))
        skip = round(margin * ROWS_PER_M)
        fine = canvas[skip : skip + ROWS_PER_M]
        for level, texture in enumerate(self.levels):
            rows = ROWS_PER_M // LEVEL_STEP**level
            at = metre * ROWS_PER_M // LEVEL_STEP**level
            texture[at : at + rows] = cv2.resize(
                fine, (COLUMNS, rows), interpolation=cv2.INTER_AREA
            )
        self._painted[metre] = True

    def _draw(self, station_m: float) -> np.random.Generator:
        """Return a generator that gives the same strokes whichever metre is painted."""
        return np.random.default_rng([self.script.seed, 11, round((station_m + 100) * 1000)])

    def _bare(self, start_m: float, length_m: float) -> Texture:
        rows = round(length_m * ROWS_PER_M)
        stations = start_m + (np.arange(rows) + 0.5) / ROWS_PER_M
        canvas = np.empty((rows, COLUMNS, 3), np.uint8)
        at = 0
        while at < rows:
            segment = self.script.segment_at(float(stations[at]))
            end = (
                int(np.searchsorted(stations, segment.end_m))
                if segment.end_m > stations[at]
                else rows
            )
            if segment is self.script.segments[-1]:
                end = rows
            grain = self._grain[segment.look]
            first = round((stations[at] % PERIOD_M) * ROWS_PER_M) + self._shift
            picked = np.take(grain, np.arange(first, first + end - at), axis=0, mode="wrap")
            tint = 1.0 + 0.25 * segment.tint + self._drift(stations[at:end])
            base = np.array(BASE_RGB[segment.look], np.float32) * tint[:, None].astype(np.float32)
            coloured = picked * base[:, None, :]
            np.clip(coloured, 0, 255, out=coloured)
            canvas[at:end] = coloured.astype(np.uint8)
            at = end
        past = stations > self.script.segments[-1].end_m
        if self.script.ends_in_main and past.any():
            picked = np.take(
                self._grain[Look.CONCRETE], np.arange(np.count_nonzero(past)), axis=0, mode="wrap"
            )
            canvas[past] = np.clip(picked * MAIN_RGB, 0, 255).astype(np.uint8)
        elif past.any():
            canvas[past] //= 9  # nothing is known to lie there
        return canvas

    def _drift(self, stations_m: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return a slow change of shade along the line, within about 8 %."""
        draw = np.random.default_rng([self.script.seed, 5])
        waves, phases = draw.uniform(0.7, 6.0, 3), draw.uniform(0, 6.28, 3)
        swell = [np.sin(2 * np.pi * stations_m / w + p) for w, p in zip(waves, phases, strict=True)]
        return np.asarray(0.027 * np.sum(swell, axis=0))


def seamless(
    draw: np.random.Generator, rows: int, columns: int, power: float, along: float = 1.0
) -> NDArray[np.float32]:
    """Return seamless noise of unit spread whose amplitude falls with frequency^power.

    ``along`` stretches it down the rows.
    """
    white = scipy.fft.rfft2(draw.standard_normal((rows, columns), dtype=np.float32))
    fy = np.fft.fftfreq(rows)[:, None] * rows / 40.0 * along
    fx = np.fft.rfftfreq(columns)[None, :] * columns / 12.0
    fall = ((0.15 + np.hypot(fy, fx)) ** power).astype(np.float32)
    shaped = scipy.fft.irfft2(white / fall, s=(rows, columns))
    return np.asarray(shaped / shaped.std(), dtype=np.float32)


@lru_cache(maxsize=4)
def _grain(look: Look, seed: int) -> NDArray[np.float32]:
    """Return the relative colour of a bare wall, (rows of one period, COLUMNS, 3)."""
    draw = np.random.default_rng([seed, 3])
    rows = round(PERIOD_M * ROWS_PER_M)
    soft = seamless(draw, rows, COLUMNS, 1.6)
    rough = seamless(draw, rows, COLUMNS, 0.7)
    angle = np.linspace(0, 2 * np.pi, COLUMNS, endpoint=False, dtype=np.float32)
    low = np.clip(-np.cos(angle), 0, 1) ** 6  # near the invert, where water has run
    level = np.ones((rows, COLUMNS), np.float32)
    hue = np.zeros((rows, COLUMNS), np.float32)
    streaks = seamless(draw, rows, COLUMNS, 1.3, along=6.0)
    if look is Look.CLAY:
        level += 0.08 * soft + 0.05 * rough + 0.05 * streaks
        hue += 0.07 * seamless(draw, rows, COLUMNS, 1.4) - 0.07
        pale = np.clip(seamless(draw, rows, COLUMNS, 1.5) - 1.2, 0, 1.5)  # dried mineral film
        level += 0.16 * pale
        hue -= 0.16 * pale
        level -= 0.34 * low * (1 + 0.3 * soft)
        hue -= 0.14 * low
    elif look is Look.CAST_IRON:
        lumps = np.clip(seamless(draw, rows, COLUMNS, 1.5), -1.2, 2.6)
        slope = np.clip(np.gradient(lumps, axis=0) * 9.0, -1.2, 1.2)
        level += 0.16 * slope + 0.07 * rough + 0.10 * soft + 0.10 * lumps
        hue += 0.07 * lumps + 0.02
        level -= 0.18 * low
    elif look is Look.PVC:
        level += 0.03 * soft + 0.015 * rough + 0.03 * streaks
        level -= 0.26 * low * (1 + 0.5 * soft)
        hue += 0.10 * low
    else:
        level += 0.08 * soft + 0.11 * rough + 0.04 * streaks
        pits = np.clip(rough - 1.9, 0, 1.0)
        level -= 0.5 * pits + 0.22 * low * (1 + 0.4 * soft)
    grain = np.stack([level * (1 + 0.5 * hue), level, level * (1 - 0.8 * hue)], axis=-1)
    return np.asarray(np.clip(grain, 0.08, 1.9), dtype=np.float32)
