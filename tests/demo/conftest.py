"""Plain scripts to render in tests: a smooth pale pipe without noise, unless asked for more."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from saltglaze.demo.laws import KnotLaw
from saltglaze.demo.script import FilmScript, Look, Overlay, Picture, PipeSegment

CLEAN = Picture(noise=0.0, vignette=0.0, reach_diameters=12.0, motion_blur=False)


def _script(**changes: Any) -> FilmScript:
    facts: dict[str, Any] = {
        "duration_s": 10.0,
        "station": KnotLaw(((0.0, 1.0), (10.0, 2.0))),
        "segments": (PipeSegment(0.0, 12.0, Look.PVC, 0.15),),
        "width_px": 640,
        "height_px": 480,
        "fps": 10.0,
        "overlay": Overlay(shown=False),
        "picture": CLEAN,
    }
    return FilmScript(**(facts | changes))


@pytest.fixture
def script() -> Callable[..., FilmScript]:
    """Return a plain script with the changes asked for."""
    return _script
