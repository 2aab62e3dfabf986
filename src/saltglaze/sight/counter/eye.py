"""The counter's eye: finds the distance counter in a stream of frames and reads it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.frame import Frame
from saltglaze.model.run import LengthUnit
from saltglaze.model.track import CounterTrack
from saltglaze.sight.counter.lines import Survey, TextLine, Window, cut, window
from saltglaze.sight.counter.nets import read_strips
from saltglaze.sight.counter.places import Place, judge
from saltglaze.sight.counter.story import tell
from saltglaze.sight.counter.words import characters, numbers

READ_GAP_S: Final = 0.2
"""A counter of tenths changes a few times a second at most: five readings a second follow it."""

FIRST_SURVEY: Final = 5
"""Pictures averaged before the first look for lines."""

MOST_WAITING_BYTES: Final = 48_000_000
"""Pictures kept while no text has been found yet, to be read once it has."""

SURVEY_GAP_S: Final = 20.0
"""Time between later looks for lines that came or moved."""

SLOWEST_SEARCH_S: Final = 5.0
"""Pause between looks while no text at all has been found."""

LOST_S: Final = 1.0
LOST_PAUSE_S: Final = 3.0
"""Without a number with a point for ``LOST_S`` the eye looks again, so often at most."""

DECIDE_S: Final = 15.0
"""Time after which lines that do not look like the counter are left unread."""

ROOM_CAPS: Final = 2.5
"""Room left beside a line for the number to grow into, in digit heights."""


@dataclass
class Watched:
    """A line of text being read, and the numbers that stand in it."""

    line: TextLine
    window: Window
    since_s: float
    places: list[Place] = field(default_factory=list)
    times_s: list[float] = field(default_factory=list)
    last_number_s: float = -np.inf

    def read(self, time_s: float, luma: NDArray[np.uint8]) -> None:
        """Read the line in one frame and note its numbers at their places."""
        odds, features = read_strips(cut(luma, self.window)[None])
        scale = self.window.scale
        taken: set[int] = set()
        for number in numbers(characters(odds[0]), features[0]):
            left = self.window.left_px + number.left_px / scale
            right = self.window.left_px + number.right_px / scale
            for at, place in enumerate(self.places):
                if at not in taken and place.fits(left, right):
                    place.note(time_s, number, left, right)
                    taken.add(at)
                    break
            else:
                if len(self.places) < 6 and number.likely > 0.2:
                    place = Place(self.line, left, right)
                    for earlier_s in self.times_s:
                        place.miss(earlier_s)
                    place.note(time_s, number, left, right)
                    self.places.append(place)
                    taken.add(len(self.places) - 1)
        for at, place in enumerate(self.places):
            if at not in taken:
                place.miss(time_s)
        self.times_s.append(time_s)
        if taken:
            self.last_number_s = time_s


class CounterEye:
    """Reads the distance counter of one film, frame by frame, in one pass.

    ``unit`` is the counter's unit where the job states it; the picture decides otherwise.
    """

    gap_s: Final = READ_GAP_S

    def __init__(self, unit: LengthUnit | None = None) -> None:
        self._unit = unit
        self._survey = Survey()
        self._waiting: list[tuple[float, NDArray[np.uint8]]] = []
        self._watched: list[Watched] = []
        self._left: list[Watched] = []
        self._next_read_s = -np.inf
        self._next_survey_s = -np.inf
        self._looked_s = -np.inf
        self._pause_s = 0.4
        self._frames = 0

    def feed(self, frame: Frame) -> None:
        """Take in one frame; frames closer than ``gap_s`` to the last one read are let go."""
        if frame.time_s < self._next_read_s - 1e-6:
            return
        self._next_read_s = frame.time_s + self.gap_s
        self._frames += 1
        if self._watched:
            for one in self._watched:
                one.read(frame.time_s, frame.luma)
            self._prune(frame.time_s)
            if frame.time_s >= self._next_survey_s or self._lost(frame.time_s):
                self._look_again(frame)
        else:
            self._search(frame)

    def _lost(self, now_s: float) -> bool:
        """Whether no line shows a number that could be the counter, and it is time to look."""
        if now_s < self._looked_s + LOST_PAUSE_S:
            return False
        return not any(
            one.last_number_s > now_s - LOST_S and any(p.decimals() for p in one.places)
            for one in self._watched
        )

    def finish(self) -> CounterTrack:
        """Return all that was read."""
        if not self._watched and self._waiting:
            self._begin()
        places = [place for one in (*self._watched, *self._left) for place in one.places]
        return tell(places, self._frames, self._unit)

    def _search(self, frame: Frame) -> None:
        self._waiting.append((frame.time_s, frame.luma.copy()))
        del self._waiting[: -max(FIRST_SURVEY, MOST_WAITING_BYTES // frame.luma.size)]
        if frame.time_s < self._next_survey_s:
            return
        self._survey.add(frame.luma)
        self._next_survey_s = frame.time_s + self._pause_s
        if self._survey.count and self._survey.count % FIRST_SURVEY == 0:
            self._begin()
            self._pause_s = min(SLOWEST_SEARCH_S, self._pause_s * 1.5)
        if self._survey.count >= 3 * FIRST_SURVEY:
            self._survey = Survey()

    def _begin(self) -> None:
        """Start to watch the lines found, with the frames that waited for them."""
        lines = self._survey.lines()
        if not lines:
            return
        start = self._waiting[0][0]
        self._watched = [self._watch(line, start) for line in lines]
        for time_s, luma in self._waiting:
            for one in self._watched:
                one.read(time_s, luma)
        self._next_survey_s = self._waiting[-1][0] + SURVEY_GAP_S / 2
        self._waiting = []

    def _watch(self, line: TextLine, since_s: float) -> Watched:
        samples = [luma for _, luma in self._waiting[:: max(1, len(self._waiting) // 4)]]
        line = best_fit(line, samples)
        return Watched(line, line_window(line), since_s)

    def _prune(self, now_s: float) -> None:
        """Leave lines without numbers, and once the counter is plain, all others."""
        for one in list(self._watched):
            if len(one.times_s) >= 25 and not any(p.seen for p in one.places):
                self._drop(one)
        if len(self._watched) < 2 or self._frames % 25:
            return
        ranked = sorted(
            (
                (max((judge(p).score for p in one.places), default=0.0), id(one), one)
                for one in self._watched
            ),
            reverse=True,
        )
        best, _, leader = ranked[0]
        sure = any(judge(p).moves for p in leader.places)
        if now_s - leader.since_s < DECIDE_S or not sure or best < 0.3:
            return
        for score, _, one in ranked[1:]:
            if score < 0.5 * best and now_s - one.since_s > DECIDE_S:
                self._drop(one)

    def _drop(self, one: Watched) -> None:
        self._watched.remove(one)
        self._left.append(one)

    def _look_again(self, frame: Frame) -> None:
        """Look for lines that came or moved since."""
        self._looked_s = frame.time_s
        self._next_survey_s = frame.time_s + SURVEY_GAP_S
        survey = Survey()
        survey.add(frame.luma)
        known = [one.line for one in (*self._watched, *self._left)]
        for line in survey.lines():
            if len(self._watched) < 10 and not any(line.near(other) for other in known):
                fitted = best_fit(line, [frame.luma])
                self._watched.append(Watched(fitted, line_window(fitted), frame.time_s))


def line_window(line: TextLine) -> Window:
    """Return the window for a whole line with room on both sides."""
    room = ROOM_CAPS * line.cap_px
    return window(line, line.left_px - room, line.right_px + room)


def best_fit(line: TextLine, pictures: list[NDArray[np.uint8]]) -> TextLine:
    """Return the line with the height and level at which the reader is surest of it."""
    best, best_sure = line, -1.0
    for grow in (1.0, 0.85, 1.18):
        for shift in (0.0, -0.12, 0.12):
            tried = line._replace(
                cap_px=line.cap_px * grow, middle_px=line.middle_px + shift * line.cap_px
            )
            place = line_window(tried)
            odds, _ = read_strips(np.stack([cut(luma, place) for luma in pictures]))
            sure = _sureness(odds)
            if sure > best_sure + (0.02 if best_sure >= 0 else 0.0):
                best, best_sure = tried, sure
    return best


def _sureness(odds: NDArray[np.float32]) -> float:
    """Mean likelihood of the characters read, weighted up for numbers."""
    likely = [
        c.likely * (2.0 if c.char.isdigit() else 1.0) for row in odds for c in characters(row)
    ]
    weight = [2.0 if c.char.isdigit() else 1.0 for row in odds for c in characters(row)]
    return float(sum(likely) / sum(weight)) if weight else 0.0
