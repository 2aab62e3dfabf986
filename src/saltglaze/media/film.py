"""Read a film: what its container says, and its pictures as upright luma, one after another."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path

import av
import av.container
import av.video.stream

from saltglaze.errors import MediaError
from saltglaze.media.clock import FilmClock
from saltglaze.media.comb import COMBED, FIELD_HEIGHTS, comb_ratio
from saltglaze.media.container import open_media, video_stream
from saltglaze.media.geometry import Shape, luma_of, shape_of
from saltglaze.model.frame import FilmFacts, Frame

MOST_BAD_PACKETS = 200
"""Packets in a row that may fail to decode before the film counts as broken off."""

CODEC_DELAY_S = 0.5

LOOKED_AT = 96
"""Pictures at the start of a standard-definition film among which a comb is looked for."""

EARLY_END_SHARE = 0.02
EARLY_END_S = 1.0
"""A film that ends before its stated length by more than both has broken off."""


@dataclass(frozen=True)
class Opening:
    """What opening a film told: its facts, its pictures' shape, the stamp of the first one."""

    facts: FilmFacts
    shape: Shape
    begin_s: float


def probe(path: Path) -> FilmFacts:
    """Return what the container and the first picture say about a film.

    Raises :class:`MediaError` for anything that is not a film with at least one picture.
    """
    return opening(path).facts


def opening(path: Path) -> Opening:
    """Open a film, decode its first picture, and return what that told."""
    with open_media(path) as container:
        stream = video_stream(container, path)
        begun = _first_pictures(container, stream, path)
        first = begun[0]
        shape = shape_of(first, stream.sample_aspect_ratio)
        if not shape.field and max(comb_ratio(luma_of(f)) for f in begun) > COMBED:
            shape = replace(shape, field=True)
        rate = stream.average_rate or stream.guessed_rate
        sane = rate is not None and 0.5 <= rate <= 480
        facts = FilmFacts(
            width_px=shape.width_px,
            height_px=shape.height_px,
            frames_per_s=float(rate) if rate is not None and sane else None,
            duration_s=_duration_s(container, stream),
            has_audio=bool(container.streams.audio),
            interlaced=shape.field,
            codec=stream.codec_context.name,
        )
        return Opening(facts, shape, _begin_s(container, first))


def _begin_s(container: av.container.InputContainer, first: av.VideoFrame) -> float:
    """Return the stamp that counts as time 0.

    Codec delay puts the first picture some frames after the container's start in some
    files; that is no time of film. A picture that really comes late (sound first) keeps
    its distance.
    """
    start = (container.start_time or 0) / 1_000_000
    if first.time is not None and abs(first.time - start) < CODEC_DELAY_S:
        return float(first.time)
    return start


def _first_pictures(
    container: av.container.InputContainer, stream: av.video.stream.VideoStream, path: Path
) -> list[av.VideoFrame]:
    """Return the first picture, or some of the first where they may hold unstated fields."""
    wanted = LOOKED_AT if stream.codec_context.height in FIELD_HEIGHTS else 1
    begun = list(islice(decoded(container, stream), wanted))
    if not begun:
        raise MediaError(
            "no picture of this film can be decoded",
            where=path.name,
            mend="copy it from the recorder again",
        )
    return begun[:: max(wanted // 12, 1)]


def _duration_s(
    container: av.container.InputContainer, stream: av.video.stream.VideoStream
) -> float | None:
    if stream.duration and stream.time_base:
        length = float(stream.duration * stream.time_base)
    elif container.duration:
        length = container.duration / 1_000_000
    else:
        return None
    if container.format.name == "avi" and stream.frames and stream.average_rate:
        # A cut-off AVI is given the length that is left; its header still counts all.
        length = max(length, float(stream.frames / stream.average_rate))
    return length if 0 < length < 7 * 24 * 3600 else None


def decoded(
    container: av.container.InputContainer, stream: av.video.stream.VideoStream
) -> Iterator[av.VideoFrame]:
    """Yield the pictures of a stream; a packet that cannot be decoded is passed over.

    Stops at the end, where the container itself can no longer be read, or after
    ``MOST_BAD_PACKETS`` failures in a row.
    """
    stream.thread_type = "AUTO"
    bad = 0
    packets = container.demux(stream)
    while bad < MOST_BAD_PACKETS:
        try:
            packet = next(packets, None)
        except (av.error.FFmpegError, OSError):
            bad += 1
            continue
        if packet is None:
            return
        try:
            frames = packet.decode()
        except (av.error.FFmpegError, OSError, ValueError):
            bad += 1
            continue
        if frames:
            bad = 0
        yield from (f for f in frames if isinstance(f, av.VideoFrame) and not f.is_corrupt)


class Film:
    """A film on disk. Nothing of it is held in memory but the picture at hand.

    ``facts`` is what the container says; once ``frames`` has run to its end it also
    tells where a damaged film broke off.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        opened = opening(path)
        self._facts, self._shape, self._begin_s = opened.facts, opened.shape, opened.begin_s

    @property
    def facts(self) -> FilmFacts:
        """What is known of the film so far."""
        return self._facts

    def frames(self, start_s: float = 0.0, min_gap_s: float = 0.0) -> Iterator[Frame]:
        """Yield upright square-pixel luma pictures in time order.

        ``start_s`` skips what lies before it; of pictures closer together than
        ``min_gap_s`` only the first is yielded. A picture's ``luma`` is a view that
        stays good after the next one has come; ``number`` counts decoded pictures from
        the first one read. Times never fall; where the file gives
        none they go on at the frame rate.
        """
        with open_media(self.path) as container:
            stream = video_stream(container, self.path)
            if start_s > 0:
                seek(container, stream, start_s + self._begin_s)
            clock = FilmClock(self._facts.frames_per_s, self._begin_s, self._facts.duration_s)
            step = 0.5 / (self._facts.frames_per_s or 25.0)
            due, last = start_s - step, None
            for number, frame in enumerate(decoded(container, stream)):
                time_s = clock.time_of(frame)
                last = time_s
                if time_s < due:
                    continue
                due = max(time_s + min_gap_s - step, time_s) if min_gap_s > 0 else time_s
                yield Frame(time_s, self._shape.apply(luma_of(frame)), number)
            self._note_end(last)

    def _note_end(self, last_s: float | None) -> None:
        """Note where the film broke off, if it ended before its stated length."""
        stated = self._facts.duration_s
        if stated is None or last_s is None:
            return
        missing = stated - last_s
        if missing > max(EARLY_END_S, EARLY_END_SHARE * stated):
            self._facts = self._facts.model_copy(
                update={
                    "broke_off_at_s": last_s,
                    "broke_off_because": (
                        f"the film says that it lasts {stated:.0f} s, "
                        f"but nothing after {last_s:.1f} s can be decoded"
                    ),
                }
            )


def seek(
    container: av.container.InputContainer, stream: av.video.stream.VideoStream, stamp_s: float
) -> None:
    """Go to the key picture at or before a time stamp, or to the start where that fails."""
    base = float(stream.time_base) if stream.time_base else 1.0
    try:
        container.seek(int(stamp_s / base), stream=stream, backward=True, any_frame=False)
    except (av.error.FFmpegError, OSError):
        container.seek(0)
