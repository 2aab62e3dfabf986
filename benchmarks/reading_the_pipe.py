"""Roll, water, motion, joints, view and places against the renderer's truth over varied films.

    python benchmarks/reading_the_pipe.py --films 40 --first-seed 7000

Seeds from 7000 on were neither trained nor tuned on. Prints a line a film and the totals, of
all films and of those without a tide mark of older water.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np

from saltglaze.demo.film import shoot
from saltglaze.demo.renderer import render
from saltglaze.demo.script import Defect, FilmScript, WallDefect
from saltglaze.demo.truth import FilmTruth, Passage, truth
from saltglaze.demo.varied import LONG, varied_script
from saltglaze.media.film import Film
from saltglaze.model.frame import FilmFacts, Frame
from saltglaze.model.track import (
    Candidate,
    CounterTrack,
    MotionKind,
    SightTrack,
    ViewState,
    WaterState,
)
from saltglaze.sight.candidates import SEEN_AHEAD_D
from saltglaze.sight.disc import MOST_PX
from saltglaze.sight.pipe_eye import PipeEye
from saltglaze.sight.strips import NEAR_PX
from saltglaze.sight.watch import watch

JUDGED = (ViewState.CLEAR, ViewState.OFF_AXIS)
PASS_S = 0.75
"""A joint is found where a passage is told within this time, or half a diameter, of the truth."""

END_S = 0.5
"""A joint that the lens reaches as the film ends is not passed in it."""

PLACE_D = 0.6
PLACE_DEG = 30.0
"""A place offered is a defect's where it lies this near it, diameters along and degrees round."""

STRAIGHT_DEG = 4.0
"""With the head turned further the wall is not seen straight ahead."""


@dataclass
class Score:
    """Errors and counts of one film or of many."""

    roll_off_deg: list[float] = field(default_factory=list)
    roll_in95: list[bool] = field(default_factory=list)
    samples: int = 0
    water_off: list[float] = field(default_factory=list)
    standing: list[bool] = field(default_factory=list)
    motion: list[bool] = field(default_factory=list)
    view: list[bool] = field(default_factory=list)
    joints: int = 0
    found: int = 0
    false: int = 0
    defects: int = 0
    defects_found: int = 0
    offered: int = 0
    offered_right: int = 0

    def add(self, other: Score) -> None:
        """Add another film's."""
        for name, value in vars(other).items():
            setattr(self, name, getattr(self, name) + value)

    def line(self) -> str:
        """Say it on one line."""

        def p95(values: list[float]) -> str:
            return f"{np.quantile(values, 0.95):6.3f}" if values else "   -  "

        def share(flags: list[bool]) -> str:
            return f"{np.mean(flags):5.2f}" if flags else "  -  "

        known = len(self.roll_off_deg) / max(self.samples, 1)
        told = max(self.found + self.false, 1)
        return (
            f"roll p95 {p95(self.roll_off_deg)} deg known {known:4.2f} in95 {share(self.roll_in95)}"
            f" | water p95 {p95(self.water_off)} n {len(self.water_off):5d}"
            f" standing {share(self.standing)} | motion {share(self.motion)}"
            f" view {share(self.view)} | joints {self.found}/{self.joints}"
            f" false {self.false} ({self.false / told:4.2f})"
            f" | defects {self.defects_found}/{self.defects}"
            f" offered {self.offered} of which defects {self.offered_right}"
        )


def score(script: FilmScript, track: SightTrack) -> Score:
    """Compare a track with the truth of its script."""
    times = np.array([sample.time_s for sample in track.roll])
    told = truth(script, np.clip(times, 0.0, script.duration_s - 1e-3))
    result = Score(samples=len(times))
    for k, (roll, water) in enumerate(zip(track.roll, track.water, strict=True)):
        if told.view[k] not in JUDGED:
            continue
        if roll.roll_deg.value is not None:
            off = _apart_deg(roll.roll_deg.value, told.roll_deg[k])
            result.roll_off_deg.append(abs(off))
            result.roll_in95.append(abs(off) <= 1.96 * roll.roll_deg.spread)
        if water.depth_share.value is not None:
            result.water_off.append(abs(water.depth_share.value - told.water_share[k]))
        if water.state is not WaterState.UNKNOWN and told.water_share[k] > 0.03:
            result.standing.append(water.state is told.water_state[k])
    result.motion = list(_motion(track, told, times))
    result.view = list(_view(track, told, times))
    result.joints, result.found, result.false = _joints(script, track, told, times)
    _count_places(result, script, track, told, times)
    return result


def _motion(track: SightTrack, told: FilmTruth, times: np.ndarray) -> Iterator[bool]:
    for stretch in track.motion:
        if stretch.kind in (MotionKind.UNKNOWN, MotionKind.TURNING_HEAD):
            continue
        for k in np.flatnonzero((times >= stretch.start_s) & (times < stretch.end_s)):
            slow = abs(told.speed_m_s[k]) / told.diameter_m[k] < 0.12
            if told.motion[k] is not MotionKind.TURNING_HEAD:
                yield told.motion[k] is stretch.kind or (
                    slow and stretch.kind is MotionKind.HOLDING
                )


def _view(track: SightTrack, told: FilmTruth, times: np.ndarray) -> Iterator[bool]:
    for stretch in track.view:
        state = ViewState.CLEAR if stretch.state is ViewState.TOO_FAST else stretch.state
        for k in np.flatnonzero((times >= stretch.start_s) & (times < stretch.end_s)):
            yield told.view[k] is state


def _joints(
    script: FilmScript, track: SightTrack, told: FilmTruth, times: np.ndarray
) -> tuple[int, int, int]:
    """Count joints that pass in view, those found, and passages told that are none."""
    true = [p for p in told.joints if _in_view(script, told, times, p)]
    taken: set[int] = set()
    false = 0
    for passage in track.joints:
        near = [
            (abs(passage.time_s - p.time_s), k)
            for k, p in enumerate(true)
            if k not in taken and abs(passage.time_s - p.time_s) <= _reach_s(told, times, p.time_s)
        ]
        if near:
            taken.add(min(near)[1])
        elif not any(abs(passage.time_s - t) <= _reach_s(told, times, t) for t in _rings(told)):
            false += 1
    return len(true), len(taken), false


def _rings(told: FilmTruth) -> list[float]:
    """Passages of all that is a ring: joints, in good view or not, and gaps drawn as defects."""
    gaps = [d.time_s for d in told.defects if d.defect.kind is Defect.OPEN_JOINT]
    return [p.time_s for p in told.joints] + gaps


def _in_view(script: FilmScript, told: FilmTruth, times: np.ndarray, passage: Passage) -> bool:
    """Whether a person could have judged a passing from the film.

    The two seconds before it are clear, and its ring stood in the picture, seen straight
    ahead in clear view, for at least three of the samples of the twelve seconds before
    it passes (or after it, where the camera backs over it): a ring leaves the picture
    while it is still half a diameter or more ahead, and the film may begin after that.
    """
    at_s = passage.time_s
    near = (times >= at_s - 2.0) & (times <= at_s + 0.2)
    if (
        at_s > times[-1] - END_S
        or not near.any()
        or any(told.view[k] not in JUDGED for k in np.flatnonzero(near))
    ):
        return False
    ahead_d = (passage.station_m - told.station_m) / told.diameter_m
    rim_d = _rim_d(script)
    side = times < at_s if passage.forwards else times > at_s
    clear = _clear_ahead(script, told, times)
    shown = (ahead_d > rim_d) & (ahead_d < 3.0 * rim_d) & side & (np.abs(times - at_s) < 12.0)
    return int((shown & clear).sum()) >= 3


def _clear_ahead(script: FilmScript, told: FilmTruth, times: np.ndarray) -> np.ndarray:
    """Whether the wall is seen clear and straight ahead at each sample."""
    turned = np.hypot(script.yaw_deg.at(times), script.pitch_deg.at(times)) > STRAIGHT_DEG
    return np.array([view is ViewState.CLEAR for view in told.view]) & ~turned


def _count_places(
    result: Score, script: FilmScript, track: SightTrack, told: FilmTruth, times: np.ndarray
) -> None:
    """Count defects in view, those a place was offered at, and what was offered."""
    shown = [d for d in script.defects if _shown(script, told, times, d)]
    result.defects = len(shown)
    result.defects_found = sum(
        any(_at(told, times, place, d) for place in track.candidates) for d in shown
    )
    result.offered = len(track.candidates)
    result.offered_right = sum(
        any(_at(told, times, place, d) for d in script.defects) for place in track.candidates
    )


def _shown(script: FilmScript, told: FilmTruth, times: np.ndarray, defect: WallDefect) -> bool:
    """Whether a defect stood clear, straight ahead and near for four samples, under no cover."""
    if defect.kind is Defect.OPEN_JOINT:  # a ring, and told as one
        return False
    ahead_d = (defect.station_m - told.station_m) / told.diameter_m
    clear = _clear_ahead(script, told, times)
    at = np.array([defect.station_m])
    cover = max(float(script.bed.share_at(at)[0]), float(script.water.share_at(at)[0]))
    under_deg = float(np.degrees(np.arccos(1.0 - 2.0 * cover)))
    covered = abs(_apart_deg(defect.clock_deg, 180.0)) < under_deg
    return not covered and int((clear & (ahead_d > 0.5) & (ahead_d < 1.8)).sum()) >= 4


def _at(told: FilmTruth, times: np.ndarray, place: Candidate, defect: WallDefect) -> bool:
    """Whether a place offered is where a defect is."""
    k = int(np.argmin(np.abs(times - place.time_s)))
    diameter = float(told.diameter_m[k])
    at_m = float(told.station_m[k]) + SEEN_AHEAD_D * diameter
    long_m = defect.length_m if defect.kind in LONG else 0.0
    reach_m = PLACE_D * diameter
    if not defect.station_m - reach_m <= at_m <= defect.station_m + long_m + reach_m:
        return False
    clock_deg = place.screen_clock_deg - float(told.roll_deg[k])
    return abs(_apart_deg(clock_deg, defect.clock_deg)) <= defect.extent_deg / 2 + PLACE_DEG


def _apart_deg(one: float, other: float) -> float:
    return (one - other + 180.0) % 360.0 - 180.0


def _rim_d(script: FilmScript) -> float:
    """Return how far ahead, in diameters, the wall shows at the rim of the strips (pinhole)."""
    focal_px = script.picture.focal_share * script.width_px
    return focal_px * MOST_PX / min(script.width_px, script.height_px) / NEAR_PX / 2.0


def _reach_s(told: FilmTruth, times: np.ndarray, at_s: float) -> float:
    return max(PASS_S, _half_diameter_s(told, times, at_s))


def _half_diameter_s(told: FilmTruth, times: np.ndarray, at_s: float) -> float:
    k = int(np.argmin(np.abs(times - at_s)))
    speed = max(abs(float(told.speed_m_s[k])), 0.02)
    return min(0.5 * float(told.diameter_m[k]) / speed, 2.0)


def filmed(script: FilmScript) -> SightTrack:
    """Shoot a script to a real file and watch it."""
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "film.mp4"
        shoot(script, path)
        film = Film(path)
        return watch(film.frames(), film.facts, "film")


def unfilmed(script: FilmScript) -> SightTrack:
    """Look at the rendered pictures themselves, five a second, without a file (for tuning)."""
    eye = PipeEye()
    for number, (time_s, picture) in enumerate(render(script)):
        if number % max(round(script.fps / 5), 1) == 0:
            eye.feed(Frame(time_s, cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), number))
    counter = CounterTrack()
    facts = FilmFacts(width_px=script.width_px, height_px=script.height_px)
    return SightTrack(run_id="film", film=facts, counter=counter, **eye.finish(counter)._asdict())


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--films", type=int, default=40)
    parser.add_argument("--first-seed", type=int, default=7000)
    parser.add_argument("--seconds", type=float, default=24.0)
    parser.add_argument("--pictures", action="store_true", help="skip file and codec")
    given = parser.parse_args()
    total, unmarked = Score(), Score()
    for seed in range(given.first_seed, given.first_seed + given.films):
        script = varied_script(seed, given.seconds)
        one = score(script, unfilmed(script) if given.pictures else filmed(script))
        total.add(one)
        if script.bed.tide == 0.0:
            unmarked.add(one)
        print(seed, one.line(), flush=True)
    print("all ", total.line())
    print("no tide mark ", unmarked.line())


if __name__ == "__main__":
    main()
