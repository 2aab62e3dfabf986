"""Cheap pictures with true overlays: the demo's lettering over a moving made-up ground."""

from __future__ import annotations

import dataclasses

import cv2
import numpy as np
import pytest

from saltglaze.demo.laws import KnotLaw
from saltglaze.demo.overlay import burn
from saltglaze.demo.recorder import recorded
from saltglaze.demo.script import FilmScript, Overlay, Recorder
from saltglaze.model.frame import Frame

CLEAN = Recorder()


def ground(width, height, seed):
    """A tall noisy wall to slide past: RGB, several times the picture's height."""
    draw = np.random.default_rng([seed, 3])
    tall = 3 * height
    wall = np.full((tall, width), draw.uniform(40, 170), np.float32)
    for step in (64, 16, 4, 1):
        noise = draw.normal(0, 1, (tall // step + 2, width // step + 2)).astype(np.float32)
        wall += cv2.resize(noise, (width, tall)) * draw.uniform(4, 14)
    ys, xs = np.mgrid[0:height, 0:width].astype(np.float32)
    bore = np.hypot(xs - width / 2, ys - height / 2) / (0.6 * height)
    return wall, np.clip(bore, 0.1, 1.0)


def shots(
    overlay,
    counter_m,
    seconds=10.0,
    fps=5.0,
    size=(640, 480),
    seed=1,
    recorder=CLEAN,
    quality=45,
    moving=True,
    spoil=None,
):
    """Yield frames whose overlay shows ``counter_m(t)``; ``overlay`` may be a function of t."""
    width, height = size
    wall, bore = ground(width, height, seed)
    draw = np.random.default_rng([seed, 4])
    grain = draw.normal(0, 2, (4, height, width)).astype(np.float32)
    script = FilmScript(1.0, KnotLaw.constant(0.0), (), overlay=Overlay())
    for number in range(round(seconds * fps)):
        time_s = number / fps
        top = int(7 * number) % (2 * height) if moving else 0
        luma = wall[top : top + height] * bore + grain[number % 4]
        picture = np.repeat(np.clip(luma, 0, 255).astype(np.uint8)[..., None], 3, axis=2)
        shown = overlay(time_s) if callable(overlay) else overlay
        burn(picture, dataclasses.replace(script, overlay=shown), counter_m(time_s), time_s)
        picture = recorded(picture, recorder, draw)
        grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
        if spoil is not None:
            grey = spoil(grey, time_s)
        _, data = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, quality])
        yield Frame(time_s, cv2.imdecode(data, cv2.IMREAD_GRAYSCALE), number)


@pytest.fixture
def film_of():
    """The maker of cheap frames; see :func:`shots`."""
    return shots
