"""Pairs of discs with their truth, rendered from varied scripts by many processes."""

from __future__ import annotations

import time
from dataclasses import replace
from functools import lru_cache

import cv2
import numpy as np

from saltglaze.demo import wall
from saltglaze.demo.laws import WaterLaw
from saltglaze.demo.renderer import Renderer
from saltglaze.demo.script import FilmScript
from saltglaze.demo.truth import FilmTruth, truth
from saltglaze.demo.varied import varied_script
from saltglaze.model.track import WaterState
from saltglaze.sight.disc import disc
from saltglaze.sight.glance import PAIR_S, VIEWS

MOMENTS = 24
FILM_S = 24.0
EDGE = 0.02
"""Water, a settled bed or a tide mark at least this deep (share of the diameter) shows an edge."""

# More bare walls than films have, each made once in a process.
wall.GRAINS = 12
wall._grain = lru_cache(maxsize=48)(wall._grain.__wrapped__)


def script_of(seed: int) -> FilmScript:
    """Return a small varied script, with deeper water now and then than films often have."""
    script = varied_script(seed, FILM_S)
    draw = np.random.default_rng([seed, 5])
    high = 180 if script.width_px * 3 > script.height_px * 4 else 192
    wide = round(high * script.width_px / script.height_px)
    script = replace(script, width_px=wide, height_px=high, stored_width_px=None)
    if draw.random() < 0.35:
        stations = np.sort(draw.uniform(0.0, 12.0, 5))
        shares = draw.uniform(0.0, 0.6, 5) * draw.choice([0.3, 1.0])
        knots = tuple((float(s), float(w)) for s, w in zip(stations, shares, strict=True))
        still = ((0.0, 12.0),) if draw.random() < 0.5 else ()
        script = replace(script, water=WaterLaw(knots, standing=still))
    return script


def pairs(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Return discs (n, 2, side, side) and labels (n, 7) of one script."""
    cv2.setNumThreads(1)
    script = script_of(seed)
    draw = np.random.default_rng([seed, 6])
    times = np.sort(draw.uniform(PAIR_S + 0.05, FILM_S - 0.1, MOMENTS))
    now, before = truth(script, times), truth(script, times - PAIR_S)
    renderer = Renderer(script)
    discs = []
    for at in times:
        pair = [renderer.picture(float(t)) for t in (at - PAIR_S, at)]
        discs.append([disc(cv2.cvtColor(p, cv2.COLOR_RGB2GRAY)) for p in pair])
    labels = np.stack(
        [
            now.roll_deg,
            now.water_share,
            [state is WaterState.STANDING for state in now.water_state],
            [VIEWS.index(view) if view in VIEWS else 0 for view in now.view],
            (now.station_m - before.station_m) / now.diameter_m,
            now.roll_deg - before.roll_deg,
            _edge_seen(script, now),
        ],
        axis=1,
    )
    return np.array(discs, dtype=np.uint8), labels.astype(np.float32)


def _edge_seen(script: FilmScript, now: FilmTruth) -> np.ndarray:
    tide = script.bed.tide_share if script.bed.tide > 0.0 else 0.0
    return np.maximum(np.maximum(now.water_share, now.bed_share), tide) > EDGE


def until(first_seed: int, end_s: float) -> list[tuple[np.ndarray, ...]]:
    """Render scripts from a seed on until a moment of the clock: discs and labels of each."""
    parts = []
    for seed in range(first_seed, first_seed + 10_000):
        parts.append(pairs(seed))
        if time.monotonic() > end_s:
            break
    return parts
