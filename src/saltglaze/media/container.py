"""Open a film or sound file that may be hostile, or say in one sentence why not."""

from __future__ import annotations

from pathlib import Path

import av
import av.container
import av.video.stream

from saltglaze.errors import MediaError

FORMATS = (
    "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,mpeg,mpegts,mpegvideo,m4v,h264,hevc,mjpeg,"
    "flv,asf,dv,ogg,mxf,wav,mp3,aac,flac"
)
"""Containers that hold pictures or sound themselves. Playlists and scripts, which name
other files or addresses, are left out on purpose."""

MAX_SIDE_PX = 8192
MAX_PIXELS = 36_000_000
"""Pictures beyond this (8192 x 4320 is 35 million) are refused before they are decoded."""

EXPECTED = "an AVI, MP4, MOV, MKV or MPEG film"


def open_media(path: Path) -> av.container.InputContainer:
    """Return the opened file; raise :class:`MediaError` where it cannot be opened.

    Only the file itself is ever read: no playlist, no address, no other protocol.
    """
    where = path.name
    if not path.exists():
        raise MediaError("the file is not there", where=where, mend="check the name and the folder")
    if not path.is_file():
        raise MediaError("this is not a file", where=where, expected=EXPECTED)
    if path.stat().st_size == 0:
        raise MediaError(
            "the file is empty (0 bytes)", where=where, mend="copy it from the recorder again"
        )
    options = {"protocol_whitelist": "file", "format_whitelist": FORMATS}
    try:
        # The file: prefix keeps a name such as "concat:a" from being read as a protocol.
        return av.open(f"file:{path.resolve()}", options=options, metadata_errors="replace")
    except (av.error.FFmpegError, OSError, ValueError) as error:
        raise MediaError(_why_unopened(path), where=where, expected=EXPECTED) from error


def _why_unopened(path: Path) -> str:
    """Return the likely reason why a file does not open, from its first bytes."""
    with path.open("rb") as file:
        head = file.read(16)
    if head[4:8] in (b"ftyp", b"moov", b"mdat", b"free", b"wide"):
        return "the film's index is missing, so the recording was cut off before it was finished"
    if head[:4] in (b"RIFF", b"\x1aE\xdf\xa3", b"\x00\x00\x01\xba", b"\x00\x00\x01\xb3"):
        return "the film's header is cut short or damaged"
    return "this is not a film or sound file that can be read"


def video_stream(container: av.container.InputContainer, path: Path) -> av.video.stream.VideoStream:
    """Return the first real video stream (not a cover picture), with its size checked."""
    for stream in container.streams.video:
        if "ATTACHED_PIC" in str(stream.disposition).upper():
            continue
        width, height = stream.codec_context.width or 0, stream.codec_context.height or 0
        if width <= 0 or height <= 0:
            raise MediaError(
                "the film does not say how large its pictures are",
                where=path.name,
                mend="the header is probably damaged; copy it from the recorder again",
            )
        if max(width, height) > MAX_SIDE_PX or width * height > MAX_PIXELS:
            raise MediaError(
                f"the film claims pictures of {width} x {height} pixels",
                where=path.name,
                expected=f"at most {MAX_SIDE_PX} pixels a side",
            )
        return stream
    raise MediaError("there is no video in this file", where=path.name, expected=EXPECTED)
