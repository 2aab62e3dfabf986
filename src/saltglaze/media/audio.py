"""The sound of a film as plain samples, for speech to text."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import av
import av.audio.stream
import av.container
import numpy as np
from numpy.typing import NDArray

from saltglaze.errors import MediaError
from saltglaze.media.container import open_media
from saltglaze.media.film import MOST_BAD_PACKETS, opening

LONGEST_S = 6 * 3600.0


def samples(path: Path, rate_hz: int = 16000) -> NDArray[np.float32]:
    """Return the sound as mono samples in -1..1 at ``rate_hz``, from the start of the film.

    Sound that begins late is preceded by silence; damaged packets are passed over.
    Raises :class:`MediaError` where there is no sound.
    """
    with open_media(path) as container:
        if not container.streams.audio:
            raise MediaError(
                "there is no sound in this file", where=path.name, mend="add a narration file"
            )
        film_begins_s = opening(path).begin_s if container.streams.video else None
        stream = container.streams.audio[0]
        resampler = av.AudioResampler(format="flt", layout="mono", rate=rate_hz)
        parts: list[NDArray[np.float32]] = []
        count, late_s = 0, 0.0
        for frame in _decoded(container, stream):
            if not parts and frame.time is not None and film_begins_s is not None:
                late_s = frame.time - film_begins_s
            frame.pts = None
            parts += [_flat(piece) for piece in resampler.resample(frame)]
            count += frame.samples
            if count > LONGEST_S * stream.codec_context.sample_rate:
                break
        parts += [_flat(piece) for piece in resampler.resample(None)]
    if not parts:
        raise MediaError("the sound of this file cannot be decoded", where=path.name)
    return _from_the_start(np.concatenate(parts), late_s, rate_hz)


def _decoded(
    container: av.container.InputContainer, stream: av.audio.stream.AudioStream
) -> Iterator[av.AudioFrame]:
    """Yield the frames of a stream, passing over packets that cannot be decoded."""
    packets = container.demux(stream)
    bad = 0
    while bad < MOST_BAD_PACKETS:
        try:
            packet = next(packets, None)
            frames = [] if packet is None else packet.decode()
        except (av.error.FFmpegError, OSError, ValueError):
            bad += 1
            continue
        if packet is None:
            return
        yield from (f for f in frames if isinstance(f, av.AudioFrame))


def _flat(piece: av.AudioFrame) -> NDArray[np.float32]:
    return np.asarray(piece.to_ndarray(), np.float32).reshape(-1)


def _from_the_start(heard: NDArray[np.float32], late_s: float, rate_hz: int) -> NDArray[np.float32]:
    """Return sound that began ``late_s`` after the film, lined up with the film's start."""
    shift = round(float(np.clip(late_s, -LONGEST_S, LONGEST_S)) * rate_hz)
    if shift < 0:
        return heard[-shift:]
    return np.concatenate([np.zeros(shift, np.float32), heard])
