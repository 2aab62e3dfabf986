"""Make the demo job folder: film, talk, tables, and the truth beside them."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from saltglaze.demo import site
from saltglaze.demo.film import shoot
from saltglaze.demo.said import sayings, webvtt
from saltglaze.demo.scenario import FILM, TALK, demo_job
from saltglaze.demo.script import FilmScript, joint_stations
from saltglaze.demo.takes import long_take, short_take
from saltglaze.demo.truth import truth
from saltglaze.store.jobfolder import write_job

TRUTH = "truth.json"
TRUTH_EVERY_S = 0.2


def make_demo(
    folder: Path, on_progress: Callable[[float], None] | None = None, *, short: bool = False
) -> None:
    """Write the invented job into a folder: job, film, narration, and truth.json.

    ``short`` makes 28 s of 640 x 360 instead of 290 s of 1280 x 720. The film is written
    beside its final name first, so that a folder never holds half a film.
    """
    folder.mkdir(parents=True, exist_ok=True)
    take = short_take() if short else long_take()
    half = folder / f"unfinished-{FILM}"
    shoot(take.script, half, sound=True, on_progress=on_progress)
    half.replace(folder / FILM)
    (folder / TALK).write_text(webvtt(sayings(short=short)), encoding="utf-8")
    (folder / TRUTH).write_text(json.dumps(truth_table(take.script), indent=1), encoding="utf-8")
    write_job(demo_job(short=short), folder)


def truth_table(script: FilmScript) -> dict[str, object]:
    """Return the truth of a take and of the line as plain lists, SI units in the names."""
    told = truth(script, np.arange(0.0, script.duration_s, TRUTH_EVERY_S))
    stations = np.arange(0.0, site.line_length_m(), 0.25)
    points = [site.point_at(float(s)) for s in stations]

    def rounded(values: NDArray[np.float64], digits: int = 4) -> list[float]:
        return [round(float(v), digits) for v in values]

    return {
        "invented": True,
        "film": {
            "time_s": rounded(told.time_s),
            "station_m": rounded(told.station_m),
            "counter_m": rounded(told.counter_m),
            "counter_text": list(told.counter_text),
            "roll_deg": rounded(told.roll_deg, 2),
            "water_share": rounded(told.water_share),
            "under_water": [bool(v) for v in told.under_water],
            "motion": [str(v) for v in told.motion],
            "view": [str(v) for v in told.view],
            "joints": [
                {"time_s": round(p.time_s, 3), "station_m": round(p.station_m, 4)}
                for p in told.joints
            ],
        },
        "line": {
            "station_m": rounded(stations),
            "east_m": [round(p.east_m, 4) for p in points],
            "north_m": [round(p.north_m, 4) for p in points],
            "invert_level_m": [round(site.invert_at(float(s)), 4) for s in stations],
            "ground_level_m": [round(site.ground_at(p), 4) for p in points],
            "length_m": round(site.line_length_m(), 4),
            "joints_m": [round(v, 4) for v in joint_stations(script)],
            "defects": [
                {
                    "id": d.id,
                    "kind": str(d.kind),
                    "station_m": round(d.station_m, 4),
                    "clock_deg": d.clock_deg,
                }
                for d in script.defects
            ],
        },
    }
