"""Times of pictures that never fall, whatever the file's time stamps do."""

from __future__ import annotations

import av

LEAP_S = 30.0
"""A jump forward by more than this beyond the film's stated end is a broken stamp."""


class FilmClock:
    """Turns the time stamps of pictures, in decoding order, into seconds of film."""

    def __init__(
        self, frames_per_s: float | None, begin_s: float, duration_s: float | None
    ) -> None:
        self._step_s = 1.0 / (frames_per_s or 25.0)
        self._begin_s = begin_s
        self._duration_s = duration_s
        self._shift_s = 0.0
        self._last_s: float | None = None

    def time_of(self, frame: av.VideoFrame) -> float:
        """Return the time of the next picture."""
        time_s = self._placed(frame.time)
        self._last_s = time_s
        return time_s

    def _placed(self, stamp_s: float | None) -> float:
        last = self._last_s
        if last is None:
            return max((stamp_s or 0.0) - self._begin_s, 0.0)
        follows = last + self._step_s
        if stamp_s is None:
            return follows
        time_s = stamp_s - self._begin_s + self._shift_s
        if time_s > last and not self._leaps(time_s, last):
            return time_s
        if abs(time_s - last) > 1.0:  # stamps begin anew: go on from here
            self._shift_s += follows - time_s
            return follows
        return last + 0.001

    def _leaps(self, time_s: float, last_s: float) -> bool:
        return (
            time_s - last_s > LEAP_S
            and self._duration_s is not None
            and time_s > self._duration_s + LEAP_S
        )
