"""Films as strips with the rings that stand in them, rendered from varied scripts."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

import cv2
import numpy as np

from saltglaze.demo import paint, wall
from saltglaze.demo.lens import Pose, to_screen
from saltglaze.demo.renderer import Renderer
from saltglaze.demo.script import Defect, FilmScript, joint_stations
from saltglaze.demo.strip import pose_at
from saltglaze.demo.truth import truth
from saltglaze.demo.varied import varied_script
from saltglaze.model.track import ViewState
from saltglaze.sight.disc import MOST_PX
from saltglaze.sight.rings import EVERY
from saltglaze.sight.strips import NEAR_PX, RINGS, closeness, strip

HEAT_ROWS = RINGS // EVERY
FILM_S = 20.0
STEP_S = 0.2
TURNED_DEG = 4.0
"""With the head turned further a ring has no one row."""

# More bare walls than films have, each made once in a process.
wall.GRAINS = 12
wall._grain = lru_cache(maxsize=48)(wall._grain.__wrapped__)

SOUND_GAPS = dict(paint.GAP_MM)


def script_of(seed: int) -> FilmScript:
    """Return a small varied script with other section lengths than films often have."""
    script = varied_script(seed, FILM_S)
    draw = np.random.default_rng([seed, 8])
    high = MOST_PX if script.height_px > MOST_PX else script.height_px
    wide = round(high * script.width_px / script.height_px / 2) * 2
    segments = []
    for segment in script.segments:
        section = float(draw.choice([0.0, draw.uniform(0.3, 1.6)], p=[0.15, 0.85]))
        segments.append(replace(segment, section_m=section, section_sd_m=0.02 * section))
    return replace(
        script, width_px=wide, height_px=high, stored_width_px=None, segments=tuple(segments)
    )


def film(seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return strips (time, RINGS, ANGLES), heat (time, HEAT_ROWS) and weight (time,)."""
    cv2.setNumThreads(1)
    script = script_of(seed)
    draw = np.random.default_rng([seed, 9])
    wider, paler = float(draw.uniform(0.6, 2.0)), float(draw.uniform(0.7, 1.8))
    for look, (width, shade) in SOUND_GAPS.items():
        paint.GAP_MM[look] = (width * wider, min(shade * paler, 0.8))
    quality = int(draw.integers(12, 70)) if draw.random() < 0.7 else None
    renderer = Renderer(script)
    times = np.arange(0.1, FILM_S - 0.1, STEP_S)
    strips = np.stack([_strip(renderer.picture(float(t)), quality) for t in times])
    heat, weight = _heat(script, times)
    return strips, heat, weight


def _strip(picture: np.ndarray, quality: int | None) -> np.ndarray:
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    if quality is not None:
        _, kept = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, quality])
        grey = cv2.imdecode(kept, cv2.IMREAD_GRAYSCALE)
    return strip(grey)


def _heat(script: FilmScript, times: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    told = truth(script, times)
    focal = script.picture.focal_share * script.width_px * MOST_PX
    focal /= min(script.height_px, script.width_px)
    gaps = [d.station_m for d in script.defects if d.kind is Defect.OPEN_JOINT]
    heat = np.zeros((len(times), HEAT_ROWS), np.float32)
    turned = np.hypot(script.yaw_deg.at(times), script.pitch_deg.at(times)) > TURNED_DEG
    clear = np.array([v is ViewState.CLEAR for v in told.view])
    weight = (clear & ~turned).astype(np.float32)
    places = np.arange(HEAT_ROWS) * (RINGS / HEAT_ROWS)
    for k, t in enumerate(times):
        pose = pose_at(script, float(t))
        for station in (*joint_stations(script), *gaps):
            ahead = station - float(told.station_m[k])
            for row in _row(pose, ahead, focal):
                heat[k] = np.maximum(heat[k], np.exp(-0.5 * ((places - row) / 1.6) ** 2))
    return heat, weight


def _row(pose: Pose, ahead_m: float, focal_px: float) -> Iterator[float]:
    """Yield the strip's row, median over the angle, at which a ring ahead shows, if it does."""
    if ahead_m <= 0.02:
        return
    try:
        seen = [to_screen(pose, clock, ahead_m, focal_px) for clock in range(0, 360, 15)]
    except ValueError:
        return
    radius = np.median([np.hypot(*at) for at in seen])
    last = closeness()[-1]
    row = (NEAR_PX / max(float(radius), 1e-6) - 1.0) / (last - 1.0) * (RINGS - 1)
    if -1.0 <= row <= RINGS:
        yield row


def until(first_seed: int, end_s: float) -> list[tuple[np.ndarray, ...]]:
    """Render films from a seed on until a moment of the clock: each alone in its arrays."""
    parts = []
    for seed in range(first_seed, first_seed + 10_000):
        strips, heat, weight = film(seed)
        parts.append((strips[None], heat[None].astype(np.float16), weight[None]))
        if time.monotonic() > end_s:
            break
    return parts
