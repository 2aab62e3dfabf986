"""The sound of a film as plain samples, for speech to text."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

from saltglaze.errors import MediaError
from saltglaze.media.container import begins_at_s, open_media

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
        stream = container.streams.audio[0]
        resampler = av.AudioResampler(format="flt", layout="mono", rate=rate_hz)
        parts: list[NDArray[np.float32]] = []
        count = 0
        packets = container.demux(stream)
        bad = 0
        while bad < 200 and count < LONGEST_S * rate_hz:
            try:
                packet = next(packets, None)
                if packet is None:
                    break
                frames = packet.decode()
            except (av.error.FFmpegError, OSError, ValueError):
                bad += 1
                continue
            for frame in frames:
                if not isinstance(frame, av.AudioFrame):
                    continue
                if not parts and frame.time is not None:
                    late = min(max(frame.time - begins_at_s(container), 0.0), LONGEST_S)
                    parts.append(np.zeros(round(late * rate_hz), np.float32))
                frame.pts = None
                for piece in resampler.resample(frame):
                    heard = np.asarray(piece.to_ndarray(), np.float32).reshape(-1)
                    parts.append(heard)
                    count += heard.size
        parts.extend(
            np.asarray(piece.to_ndarray(), np.float32).reshape(-1)
            for piece in resampler.resample(None)
        )
    if not parts:
        raise MediaError("the sound of this file cannot be decoded", where=path.name)
    return np.concatenate(parts)
