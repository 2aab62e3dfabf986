"""One colour picture of a film at a moment, for stills."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from saltglaze.errors import MediaError
from saltglaze.media.clock import FilmClock
from saltglaze.media.container import open_media, video_stream
from saltglaze.media.film import Opening, decoded, opening, seek
from saltglaze.media.geometry import rgb_of


def colour_frame(path: Path, time_s: float) -> NDArray[np.uint8]:
    """Return the picture on the screen at ``time_s``, (height, width, 3) RGB.

    That is the last picture that does not come after the time, in the same upright
    square-pixel geometry as the luma of :class:`~saltglaze.media.film.Film`. A time
    beyond the end gives the last picture. Raises :class:`MediaError` where none can be
    decoded.
    """
    opened = opening(path)
    # Some containers (MPEG program streams) seek by guess: begin earlier until it holds.
    for back_s in (0.0, 3.0, 20.0):
        shown, at_s = _last_until(path, opened, time_s, max(time_s - back_s, 0.0))
        if shown is not None and at_s <= time_s + 1e-4:
            return shown
    shown, _ = _last_until(path, opened, time_s, 0.0)
    if shown is None:
        raise MediaError(f"no picture can be decoded near {time_s:.1f} s", where=path.name)
    return shown


def _last_until(
    path: Path, opened: Opening, time_s: float, from_s: float
) -> tuple[NDArray[np.uint8] | None, float]:
    """Return the last picture up to a time, reading on from ``from_s``, and its time."""
    with open_media(path) as container:
        stream = video_stream(container, path)
        if from_s > 0:
            seek(container, stream, from_s + opened.begin_s)
        facts = opened.facts
        clock = FilmClock(facts.frames_per_s, opened.begin_s, facts.duration_s)
        shown, shown_s = None, 0.0
        for frame in decoded(container, stream):
            at_s = clock.time_of(frame)
            if shown is not None and at_s > time_s + 1e-4:
                break
            shown, shown_s = frame, at_s
        if shown is None:
            return None, 0.0
        return opened.shape.apply(rgb_of(shown)), shown_s
