"""Strips of walls with many a defect, and where each strip differs from the clean wall."""

from __future__ import annotations

import time
from dataclasses import replace

import cv2
import numpy as np
from render import TURNED_DEG, script_of

from saltglaze.demo.renderer import Renderer
from saltglaze.demo.script import Defect, FilmScript
from saltglaze.demo.truth import truth
from saltglaze.demo.varied import drawn_defects
from saltglaze.model.track import ViewState
from saltglaze.sight.strips import strip, wall_of

MOMENTS = 12
APART_M = 0.45
"""Defects lie this far apart in the mean: thicker than in films, so that most strips show one."""

KINDS = [kind for kind in Defect if kind not in (Defect.OFFSET_JOINT, Defect.OPEN_JOINT)]
SPOILT = 0.3
"""Share of scripts that keep their fog, glare and darkness."""


def scripts_of(seed: int) -> tuple[FilmScript, FilmScript]:
    """Return the same small film with many defects and with none."""
    draw = np.random.default_rng([seed, 12])
    script = script_of(seed)
    events = () if draw.random() < 1.0 - SPOILT else script.events
    script = replace(script, picture=replace(script.picture, noise=0.0), events=events)
    defects = drawn_defects(
        np.random.default_rng([seed, 11]),
        KINDS,
        (0.2, script.segments[-1].end_m),
        APART_M,
        longest_m=0.5,
        largest_m=0.06,
    )
    return replace(script, defects=defects), replace(script, defects=())


def strips_of(seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return strips (n, RINGS, ANGLES), what differs in them, 0 to 255, and what is judged (n,)."""
    cv2.setNumThreads(1)
    spoilt, clean = scripts_of(seed)
    draw = np.random.default_rng([seed, 13])
    grain = float(draw.uniform(0.5, 7.0))
    quality = int(draw.integers(15, 70)) if draw.random() < 0.7 else None
    times = np.sort(draw.uniform(0.1, spoilt.duration_s - 0.1, MOMENTS))
    told = truth(spoilt, times)
    turned = np.hypot(spoilt.yaw_deg.at(times), spoilt.pitch_deg.at(times)) > TURNED_DEG
    judged = np.array([view is ViewState.CLEAR for view in told.view]) & ~turned
    films = Renderer(spoilt), Renderer(clean)
    strips, differs = [], []
    for at in times:
        with_it, without = (_grey(film, float(at)) for film in films)
        differs.append(_differs(wall_of(with_it), wall_of(without)))
        noisy = np.clip(with_it + draw.normal(0.0, grain, with_it.shape), 0, 255).astype(np.uint8)
        strips.append(strip(_kept(noisy, quality)))
    return np.stack(strips), np.stack(differs), judged


def _grey(film: Renderer, at_s: float) -> np.ndarray:
    return cv2.cvtColor(film.picture(at_s), cv2.COLOR_RGB2GRAY)


def _differs(with_it: np.ndarray, without: np.ndarray) -> np.ndarray:
    """Return the difference over the brightness, 255 for as much again, exposure apart."""
    exposure = np.median(with_it / np.maximum(without, 1.0))
    plain = without * exposure
    return (np.clip(np.abs(with_it - plain) / (plain + 12.0), 0.0, 1.0) * 255).astype(np.uint8)


def _kept(grey: np.ndarray, quality: int | None) -> np.ndarray:
    if quality is None:
        return grey
    _, kept = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return cv2.imdecode(kept, cv2.IMREAD_GRAYSCALE)


def until(first_seed: int, end_s: float) -> list[tuple[np.ndarray, ...]]:
    """Render scripts from a seed on: judged strips, what differs in them, and the script."""
    parts = []
    for seed in range(first_seed + 1, first_seed + 100_000):
        if time.monotonic() > end_s:
            break
        strips, differs, judged = strips_of(seed)
        parts.append((strips[judged], differs[judged], np.full(int(judged.sum()), seed)))
    return parts
