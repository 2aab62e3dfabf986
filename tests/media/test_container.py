"""Hostile and broken files: one clear sentence each, and nothing else is opened."""

from __future__ import annotations

import struct

import numpy as np
import pytest

from saltglaze.errors import MediaError
from saltglaze.media.film import Film, probe


def _refused(path) -> str:
    with pytest.raises(MediaError) as caught:
        probe(path)
    sentence = str(caught.value)
    assert path.name in sentence
    assert sentence.endswith(".")
    assert "\n" not in sentence
    return sentence


def test_a_missing_file(tmp_path):
    assert "not there" in _refused(tmp_path / "none.mp4")


def test_a_folder(tmp_path):
    assert "not a file" in _refused(tmp_path)


def test_an_empty_file(tmp_path):
    path = tmp_path / "a.mp4"
    path.touch()
    assert "empty (0 bytes)" in _refused(path)


@pytest.mark.parametrize("content", [b"hello, this is a letter\n" * 50, bytes(5000), b"\x00\x01"])
def test_what_is_not_a_film(tmp_path, content):
    path = tmp_path / "a.mp4"
    path.write_bytes(content)
    assert "not a film" in _refused(path)


@pytest.mark.parametrize("seed", range(12))
def test_noise_is_refused_in_one_sentence(tmp_path, seed):
    path = tmp_path / "a.avi"
    path.write_bytes(np.random.default_rng(seed).integers(0, 256, 40_000, np.uint8).tobytes())
    _refused(path)


def test_a_recording_cut_before_its_index_was_written(tmp_path, clip):
    data = clip(tmp_path / "whole.mp4", count=60).read_bytes()
    path = tmp_path / "a.mp4"
    path.write_bytes(data[: data.index(b"moov") - 4])
    assert "index is missing" in _refused(path)


@pytest.mark.parametrize("ending", ["avi", "mkv"])
def test_a_header_cut_short(tmp_path, clip, ending):
    data = clip(tmp_path / f"whole.{ending}", codec="mjpeg", count=10).read_bytes()
    path = tmp_path / f"a.{ending}"
    path.write_bytes(data[:60])
    assert "header" in _refused(path)


def test_sound_without_pictures(tmp_path):
    import av

    path = tmp_path / "a.mp4"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("aac", rate=48000)
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), "fltp", "mono")
        frame.sample_rate = 48000
        for packet in [*stream.encode(frame), *stream.encode(None)]:
            container.mux(packet)
    assert "no video" in _refused(path)


def test_pictures_of_absurd_size(tmp_path, clip):
    path = clip(tmp_path / "a.avi", codec="mjpeg", count=2, size=(8800, 64))
    assert "8800 x 64" in _refused(path)


def test_a_header_that_lies_about_the_size(tmp_path, clip):
    data = bytearray(clip(tmp_path / "a.avi", codec="mjpeg", count=3).read_bytes())
    at = 0
    while (at := data.find(b"\xff\xc0\x00\x11\x08", at)) >= 0:  # start of a JPEG frame
        struct.pack_into(">HH", data, at + 5, 60000, 60000)
        at += 5
    path = tmp_path / "b.avi"
    path.write_bytes(data)
    assert "no picture" in _refused(path)


@pytest.mark.parametrize(
    "text",
    [
        "#EXTM3U\n#EXT-X-TARGETDURATION:10\n#EXTINF:9,\nfile://{other}\n#EXT-X-ENDLIST\n",
        "ffconcat version 1.0\nfile {other}\n",
        "v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nm=video 5000 RTP/AVP 96\n",
    ],
)
@pytest.mark.parametrize("ending", ["mp4", "m3u8", "txt"])
def test_a_file_that_names_other_files_is_refused(tmp_path, clip, text, ending):
    other = clip(tmp_path / "other.mp4", count=3)
    path = tmp_path / f"a.{ending}"
    path.write_text(text.format(other=other))
    _refused(path)


def test_a_name_that_looks_like_a_protocol_is_only_a_name(tmp_path, clip):
    made = clip(tmp_path / "a.mp4", count=3)
    path = tmp_path / "concat:a.mp4"
    made.rename(path)
    assert len(list(Film(path).frames())) == 3


@pytest.mark.parametrize("ending", ["mp4", "avi", "mkv", "mpg"])
@pytest.mark.parametrize("seed", range(3))
def test_flipped_bytes_never_raise_anything_but_a_media_error(tmp_path, clip, ending, seed):
    codec = "h264" if ending in ("mp4", "mkv") else "mpeg2video"
    path = clip(tmp_path / f"a.{ending}", codec=codec, count=25)
    draw = np.random.default_rng(seed)
    data = np.frombuffer(path.read_bytes(), np.uint8).copy()
    hit = draw.integers(0, data.size, max(data.size // 80, 20))
    data[hit] = draw.integers(0, 256, hit.size)
    path.write_bytes(data.tobytes())
    try:
        times = [f.time_s for f in Film(path).frames()]
    except MediaError as error:
        assert path.name in str(error)
    else:
        assert times == sorted(times)
