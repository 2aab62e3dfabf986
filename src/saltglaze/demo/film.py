"""Shoot a script: render it and write a real film file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from saltglaze.demo.renderer import render
from saltglaze.demo.script import FilmScript
from saltglaze.media.encode import AUDIO_RATE_HZ, FilmWriter


def shoot(
    script: FilmScript,
    path: Path,
    *,
    codec: str = "h264",
    sound: bool = False,
    on_progress: Callable[[float], None] | None = None,
) -> None:
    """Render a script into a film file; ``on_progress`` hears the share done, 0..1."""
    frames = script.frame_times_s.size
    with FilmWriter(
        path,
        width_px=script.stored_width_px or script.width_px,
        height_px=script.height_px,
        fps=script.fps,
        codec=codec,
        bitrate=script.bitrate,
        audio=sound,
        interlaced=script.recorder.interlaced,
        preset="superfast",
    ) as film:
        heard = 0
        hum = _hum(script.seed) if sound else None
        for number, (time_s, seen) in enumerate(render(script)):
            picture = seen
            if script.stored_width_px is not None:
                size = (script.stored_width_px, script.height_px)
                picture = np.asarray(cv2.resize(seen, size, interpolation=cv2.INTER_AREA))
            film.picture(picture, time_s)
            if hum is not None:
                upto = round((time_s + 1 / script.fps) * AUDIO_RATE_HZ)
                film.sound(np.take(hum, np.arange(heard, upto), mode="wrap"))
                heard = upto
            if on_progress is not None:
                on_progress((number + 1) / frames)


def _hum(seed: int) -> NDArray[np.float32]:
    """Return ten seconds of the low rush that a pipe makes in a microphone, seamless."""
    draw = np.random.default_rng([seed, 61])
    count = 10 * AUDIO_RATE_HZ
    spectrum = np.fft.rfft(draw.standard_normal(count))
    pitch = np.fft.rfftfreq(count, 1 / AUDIO_RATE_HZ)
    rush = np.fft.irfft(spectrum / (1 + (pitch / 220.0) ** 1.4), count)
    return np.asarray(0.02 * rush / rush.std(), dtype=np.float32)
