"""Watch a film once, frame by frame, with every eye at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from saltglaze.model.frame import FilmFacts, Frame
from saltglaze.model.run import LengthUnit
from saltglaze.model.track import SightTrack
from saltglaze.sight.counter import CounterEye
from saltglaze.sight.pipe_eye import PipeEye


def watch(
    frames: Iterable[Frame],
    facts: FilmFacts,
    run_id: str,
    on_progress: Callable[[float], None] | None = None,
    *,
    counter_unit: LengthUnit | None = None,
) -> SightTrack:
    """Return all that can be seen in a film, in one pass that holds a few frames at most.

    ``frames`` come in time order, as many as the film has: each eye takes what it needs.
    ``on_progress`` hears the share done, 0..1, where the film's length is known.
    ``counter_unit`` is the counter's unit where the job states it.
    """
    counter, pipe = CounterEye(counter_unit), PipeEye()
    told_s = 0.0
    for frame in frames:
        counter.feed(frame)
        pipe.feed(frame)
        if on_progress and facts.duration_s and frame.time_s - told_s >= 1.0:
            told_s = frame.time_s
            on_progress(min(1.0, frame.time_s / facts.duration_s))
    if on_progress:
        on_progress(1.0)
    read = counter.finish()
    return SightTrack(run_id=run_id, film=facts, counter=read, **pipe.finish(read)._asdict())
