"""Watch a job's films, keeping what was seen so that a second run need not."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from saltglaze import __version__, atomic
from saltglaze.media.film import Film
from saltglaze.model.base import Record
from saltglaze.model.job import Job
from saltglaze.model.run import LengthUnit, Run
from saltglaze.model.track import SightTrack
from saltglaze.sight.watch import watch
from saltglaze.sight.weights import fingerprint
from saltglaze.store.folder import inside

TRACKS: Final = "tracks"

Progress = Callable[[str, float], None]


class _ReadFrom(Record):
    """What a track hangs on: another film, eye or word on the counter makes another track."""

    version: str
    eyes: str
    video_bytes: int
    video_mtime_ns: int
    counter_unit: LengthUnit | None = None


class _Kept(Record):
    """A track on disk, with what it was read from."""

    read_from: _ReadFrom
    track: SightTrack


def watch_films(
    jobdir: Path, job: Job, out: Path, *, again: bool, on_progress: Progress
) -> tuple[SightTrack, ...]:
    """Return what was seen of each run's film; kept tracks serve unless ``again``.

    A track is kept in ``out/tracks`` as soon as its film is through, so that a
    stopped run goes on with the next film. Raises MediaError.
    """
    return tuple(
        _track(inside(jobdir, run.video, where="job.toml"), run, out, again, on_progress)
        for run in job.runs
        if run.video
    )


def _track(video: Path, run: Run, out: Path, again: bool, on_progress: Progress) -> SightTrack:
    path = out / TRACKS / f"{run.id}.json"
    stat = video.stat()
    now = _ReadFrom(
        version=__version__,
        eyes=fingerprint(),
        video_bytes=stat.st_size,
        video_mtime_ns=stat.st_mtime_ns,
        counter_unit=run.counter_unit,
    )
    kept = None if again else _read(path)
    if kept and kept.read_from == now:
        return kept.track
    film = Film(video)
    track = watch(
        film.frames(),
        film.facts,
        run.id,
        lambda share: on_progress(run.id, share),
        counter_unit=run.counter_unit,
    )
    track = track.model_copy(update={"film": film.facts})
    kept = _Kept(read_from=now, track=track)
    atomic.write_text(path, kept.model_dump_json(exclude_none=True))
    return track


def _read(path: Path) -> _Kept | None:
    """Return a kept track; a missing, broken or outdated one is simply watched anew."""
    try:
        return _Kept.model_validate_json(path.read_bytes())
    except (OSError, ValidationError):
        return None
