"""Write films: pictures and sound into a file, for the demo and for tests of decoding."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import Self

import av
import numpy as np
from numpy.typing import NDArray

PIXELS = {"mjpeg": "yuvj420p"}
AUDIO_RATE_HZ = 48000


class FilmWriter:
    """Writes RGB pictures (height, width, 3) uint8 and, if asked, mono sound.

    ``codec`` is h264, mpeg2video or mjpeg; the container follows the path's ending
    (.mp4, .mkv, .avi, .mpg). Either ``crf`` (H.264 quality, 0 best .. 51) or
    ``bitrate`` (bits a second) holds; ``pixel_shape`` is width over height of a pixel
    for anamorphic films, ``rotate_deg`` (0, 90, 180, 270) the display rotation,
    counter-clockwise, that players are told to apply.
    """

    def __init__(
        self,
        path: Path,
        *,
        width_px: int,
        height_px: int,
        fps: float,
        codec: str = "h264",
        crf: int | None = None,
        bitrate: int | None = None,
        audio: bool = False,
        pixel_shape: Fraction | None = None,
        interlaced: bool = False,
        rotate_deg: int = 0,
        key_every: int = 50,
        preset: str = "veryfast",
        threads: int = 2,
    ) -> None:
        self._base = Fraction(1, 90000)
        self._container = av.open(str(path), "w")
        rate = Fraction(fps).limit_denominator(1001)
        stream = self._container.add_stream(codec, rate=rate)
        stream.width, stream.height = width_px, height_px
        stream.pix_fmt = PIXELS.get(codec, "yuv420p")
        if rotate_deg:
            stream.set_display_rotation(rotate_deg)
        context = stream.codec_context
        context.thread_count = threads
        context.gop_size = key_every
        if pixel_shape is not None:
            context.sample_aspect_ratio = pixel_shape
        if bitrate is not None:
            context.bit_rate = bitrate
        options: dict[str, str] = {}
        if codec == "h264":
            options["preset"] = preset
            if bitrate is None:
                options["crf"] = str(26 if crf is None else crf)
            else:
                options["maxrate"], options["bufsize"] = str(int(bitrate * 1.5)), str(bitrate * 2)
        elif codec == "mjpeg":
            options["qmin"], options["qmax"] = "3", "12"
        if interlaced and codec != "mjpeg":  # which has no way to say so
            options["flags"] = "+ildct+ilme"
            if codec == "h264":
                options["x264-params"] = "tff=1"
        context.options = options
        # Containers that count frames (AVI) take the frame rate as clock; others a fine one.
        self._fine = path.suffix.lower() in (".mp4", ".mkv", ".mov", ".ts")
        context.time_base = self._base if self._fine and codec == "h264" else 1 / rate
        self._stream = stream
        self._clock = context.time_base
        self._sound = self._container.add_stream("aac", rate=AUDIO_RATE_HZ) if audio else None
        if self._sound is not None:
            self._sound.codec_context.layout = "mono"
        self._heard = 0

    def picture(self, rgb: NDArray[np.uint8], time_s: float) -> None:
        """Add a picture at a time; times must grow."""
        frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(rgb), format="rgb24")
        frame.pts = round(time_s / self._clock)
        frame.time_base = self._clock
        for packet in self._stream.encode(frame):
            self._container.mux(packet)

    def sound(self, samples: NDArray[np.float32]) -> None:
        """Add mono samples in -1..1 at 48 kHz, following the last ones."""
        if self._sound is None:
            raise ValueError("the film was opened without sound")
        for begin in range(0, len(samples), 1024):
            part = samples[begin : begin + 1024]
            frame = av.AudioFrame.from_ndarray(part[None, :].astype(np.float32), "fltp", "mono")
            frame.sample_rate = AUDIO_RATE_HZ
            frame.pts = self._heard
            frame.time_base = Fraction(1, AUDIO_RATE_HZ)
            self._heard += len(part)
            for packet in self._sound.encode(frame):
                self._container.mux(packet)

    def close(self) -> None:
        """Flush and finish the file."""
        for stream in (self._stream, self._sound):
            if stream is not None:
                for packet in stream.encode(None):
                    self._container.mux(packet)
        self._container.close()

    def __enter__(self) -> Self:
        """Return the writer itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Finish the file, or drop what is half written after an error."""
        if kind is None:
            self.close()
        else:
            self._container.close()
