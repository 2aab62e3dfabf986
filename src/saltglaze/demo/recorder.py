"""The marks of an analogue recorder: colour fringe, ghost, bleed, combing, line noise, dropouts."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from saltglaze.demo.script import Recorder

Picture = NDArray[np.uint8]


def recorded(picture: Picture, recorder: Recorder, draw: np.random.Generator) -> Picture:
    """Return an RGB picture as an analogue recorder would have kept it."""
    if recorder == Recorder():
        return picture
    ycc = cv2.cvtColor(picture, cv2.COLOR_RGB2YCrCb)
    luma, chroma = ycc[..., 0].astype(np.float32), ycc[..., 1:]
    if recorder.bleed_px > 0:
        width = max(round(recorder.bleed_px * 2) | 1, 3)
        chroma = cv2.blur(chroma, (width, 3))
        luma = cv2.GaussianBlur(luma, (0, 0), sigmaX=max(recorder.bleed_px * 0.22, 0.3), sigmaY=0.1)
    if recorder.chroma_shift_px:
        chroma = np.roll(chroma, round(recorder.chroma_shift_px), axis=1)
    if recorder.ghost > 0:
        luma = luma * (1 - recorder.ghost) + np.roll(luma, 9, axis=1) * recorder.ghost
    if recorder.line_noise > 0:
        luma = luma + draw.normal(0, recorder.line_noise, (luma.shape[0], 1)).astype(np.float32)
    whole = np.dstack([np.clip(luma, 0, 255).astype(np.uint8)[..., None], chroma])
    return np.asarray(cv2.cvtColor(np.ascontiguousarray(whole), cv2.COLOR_YCrCb2RGB))


def drop_out(picture: Picture, strength: float, draw: np.random.Generator) -> None:
    """Tear bands of lines in place, as a worn tape does."""
    height = picture.shape[0]
    for _ in range(max(int(5 * strength), 1)):
        row = int(draw.integers(0, height - 8))
        rows = int(draw.integers(3, max(height // 14, 4)))
        shift = int(draw.integers(-60, 60))
        picture[row : row + rows] = np.roll(picture[row : row + rows], shift, axis=1)
        if draw.random() < 0.5:
            streak = draw.integers(120, 255, (rows, picture.shape[1] // 8)).astype(np.uint8)
            wide = cv2.resize(streak, (picture.shape[1], rows), interpolation=cv2.INTER_LINEAR)
            part = picture[row : row + rows]
            picture[row : row + rows] = np.maximum(part, wide[: len(part), :, None])


def dropout_times(recorder: Recorder, duration_s: float, seed: int) -> NDArray[np.float64]:
    """Return the times at which the tape drops out, each lasting :data:`DROPOUT_S`."""
    draw = np.random.default_rng([seed, 41])
    count = int(draw.poisson(recorder.dropouts_per_s * duration_s))
    return np.sort(draw.uniform(0.0, duration_s, count))


DROPOUT_S = 0.12
