"""Take a still of each finding: the sharpest good frame near it, upright by the roll."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final

from saltglaze import atomic
from saltglaze.errors import MediaError
from saltglaze.media.colour import colour_frame
from saltglaze.model.appraisal import Appraisal, Still
from saltglaze.model.finding import Finding
from saltglaze.model.track import SightTrack
from saltglaze.sight.stills import best_moment, roll_at, upright
from saltglaze.store.folder import inside

FOLDER: Final = "stills"
QUALITY: Final = 88


def take_stills(jobdir: Path, out: Path, appraisal: Appraisal) -> Appraisal:
    """Return the appraisal with a still for every finding that has a moment of film.

    A moment that cannot be decoded has no still; the papers say so.
    """
    films = {run.id: run.video for run in appraisal.job.runs if run.video}
    tracks = {track.run_id: track for track in appraisal.tracks}
    stills: list[Still] = []
    for finding in (found.finding for found in appraisal.findings):
        run_id = finding.evidence.run_id
        if run_id in tracks and run_id in films and finding.start_s is not None:
            video = inside(jobdir, films[run_id], where="job.toml")
            stills += _take(video, tracks[run_id], finding, out)
    return appraisal.model_copy(update={"stills": tuple(stills)})


def _take(video: Path, track: SightTrack, finding: Finding, out: Path) -> Iterator[Still]:
    import cv2

    time_s = best_moment(track, finding.start_s or 0.0, finding.end_s)
    try:
        picture = colour_frame(video, time_s)
    except MediaError:
        return
    roll = roll_at(track, time_s)
    picture = upright(picture, roll, track.counter.box)
    height, width = picture.shape[:2]
    name = f"{FOLDER}/{finding.id}.jpg"
    bgr = cv2.cvtColor(picture, cv2.COLOR_RGB2BGR)
    done, data = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    if done:
        atomic.write_bytes(out / name, data.tobytes())
        yield Still(
            finding_id=finding.id,
            run_id=track.run_id,
            time_s=time_s,
            path=name,
            roll_deg=roll.value if roll is not None else None,
            width_px=width,
            height_px=height,
        )
