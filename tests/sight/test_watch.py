"""One pass over a film feeds every eye."""

from __future__ import annotations

import numpy as np

from saltglaze.model.frame import FilmFacts, Frame
from saltglaze.model.track import SightTrack
from saltglaze.sight.watch import watch


def test_an_empty_film_gives_an_empty_track():
    track = watch([], FilmFacts(width_px=640, height_px=480), "run-1")
    assert track.run_id == "run-1"
    assert track.counter.unread_because


def test_progress_runs_to_the_end_and_the_track_can_be_kept():
    frames = (Frame(n * 0.5, np.full((120, 160), 60, np.uint8), n) for n in range(10))
    heard = []
    facts = FilmFacts(width_px=160, height_px=120, duration_s=5.0)
    track = watch(frames, facts, "run-1", heard.append)
    assert heard == sorted(heard)
    assert heard[-1] == 1.0
    assert SightTrack.model_validate_json(track.model_dump_json()) == track
