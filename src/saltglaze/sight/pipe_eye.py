"""The eye for the pipe itself: roll, water, motion, joints, view, candidates."""

from __future__ import annotations

from typing import Final, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from saltglaze.model.frame import Frame
from saltglaze.model.track import (
    Candidate,
    CounterTrack,
    JointPassage,
    MotionStretch,
    RollSample,
    ViewState,
    ViewStretch,
    WaterSample,
)
from saltglaze.sight.candidates import candidates
from saltglaze.sight.disc import disc, grey_of, square
from saltglaze.sight.glance import PAIR_S, Glances, glance, joined
from saltglaze.sight.joints import joint_passages, joint_places
from saltglaze.sight.mosaic import lay
from saltglaze.sight.rings import ring_heat
from saltglaze.sight.roll import levels_itself, likely_roll, settle_roll
from saltglaze.sight.slide import slide
from saltglaze.sight.strips import strip
from saltglaze.sight.travel import LONGEST_PAIR_S, motion_stretches, too_fast, travel
from saltglaze.sight.view import judge_view, stretches
from saltglaze.sight.water import settle_water
from saltglaze.sight.waterline import Array, waterline

BATCH: Final = 16
"""Pairs that the net looks at together."""

SLACK_S: Final = 0.02


class PipeSeen(NamedTuple):
    """All that the pipe's eye tells of a film."""

    self_levelling: bool | None
    roll: tuple[RollSample, ...]
    water: tuple[WaterSample, ...]
    motion: tuple[MotionStretch, ...]
    joints: tuple[JointPassage, ...]
    view: tuple[ViewStretch, ...]
    candidates: tuple[Candidate, ...]
    sharpness: tuple[tuple[float, float], ...]


NOTHING: Final = PipeSeen(None, (), (), (), (), (), (), ())


class PipeEye:
    """Looks at five pictures a second and keeps small things of each: a disc and a strip."""

    def __init__(self) -> None:
        self._times: list[float] = []
        self._grey: list[float] = []
        self._contrast: list[float] = []
        self._sharp: list[float] = []
        self._strips: list[NDArray[np.int8]] = []
        self._pairs: list[NDArray[np.uint8]] = []
        self._glances: list[Glances] = []
        self._waterlines: list[Array] = []
        self._last: NDArray[np.uint8] | None = None

    def feed(self, frame: Frame) -> None:
        """Look at a frame, if it is time to."""
        if self._times and frame.time_s - self._times[-1] < PAIR_S - SLACK_S:
            return
        middle = square(frame.luma)
        small = disc(middle)
        self._times.append(frame.time_s)
        grey, spread = grey_of(small)
        self._grey.append(grey)
        self._contrast.append(spread / max(grey, 1.0))
        self._sharp.append(_sharpness(middle))
        self._strips.append(strip(middle))
        before = small if self._last is None else self._last
        self._pairs.append(np.stack([before, small]))
        self._last = small
        if len(self._pairs) == BATCH:
            self._look()

    def _look(self) -> None:
        if self._pairs:
            pairs = np.stack(self._pairs)
            seen = glance(pairs)
            self._glances.append(seen)
            self._waterlines.append(waterline(pairs, seen.roll_rad))
            self._pairs = []

    def finish(self, counter: CounterTrack) -> PipeSeen:
        """Return what was seen; the counter, where read, gives motion its scale."""
        self._look()
        if not self._glances:
            return NOTHING
        times, seen = np.array(self._times), joined(self._glances)
        states = judge_view(seen.views, np.array(self._grey), np.array(self._contrast))
        clear = np.array([s in (ViewState.CLEAR, ViewState.OFF_AXIS) for s in states])
        straight = np.array([s is ViewState.CLEAR for s in states])
        whole = clear & (np.diff(times, prepend=-10.0) <= LONGEST_PAIR_S)
        roll = settle_roll(times, seen, whole)
        water = settle_water(times, np.concatenate(self._waterlines), seen.standing, straight)
        strips = np.stack(self._strips)
        heat = ring_heat(strips)
        slid = slide(strips, heat, seen, straight)
        way = travel(times, seen, slid, states, counter)
        rings = joint_places(heat, way)
        turned = likely_roll(times, seen, whole)
        mosaic = lay(strips, way.way_d, turned, straight, slid.rim_d)
        return PipeSeen(
            self_levelling=levels_itself(roll),
            roll=roll,
            water=water,
            motion=motion_stretches(times, way, states),
            joints=joint_passages(rings, times, way),
            view=stretches(times, states, too_fast(way)),
            candidates=(
                candidates(mosaic, times, way.way_d, turned, roll, water) if mosaic else ()
            ),
            sharpness=tuple((float(t), s) for t, s in zip(times, self._sharp, strict=True)),
        )


def _sharpness(middle: NDArray[np.uint8]) -> float:
    """Return the variance of the Laplacian of a picture's middle square."""
    return float(cv2.Laplacian(middle, cv2.CV_16S, ksize=3).var())
