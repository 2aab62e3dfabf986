"""Decoding of every kind of film a camera may hand over. Clips are made here."""

from __future__ import annotations

from fractions import Fraction

import av
import numpy as np
import pytest

from saltglaze.media.encode import FilmWriter
from saltglaze.media.film import Film, probe

KINDS = [
    ("mp4", "h264"),
    ("mkv", "h264"),
    ("avi", "mjpeg"),
    ("avi", "mpeg2video"),
    ("mpg", "mpeg2video"),
    ("mov", "mjpeg"),
]


@pytest.mark.parametrize(("ending", "codec"), KINDS)
def test_every_kind_gives_its_pictures_in_order(tmp_path, clip, number_shown, ending, codec):
    film = Film(clip(tmp_path / f"a.{ending}", codec=codec))
    frames = list(film.frames())
    assert (film.facts.width_px, film.facts.height_px) == (320, 240)
    assert film.facts.frames_per_s == pytest.approx(25.0)
    assert film.facts.codec == codec
    assert film.facts.broke_off_at_s is None
    assert [number_shown(f.luma) for f in frames] == [n % 14 for n in range(30)]
    assert np.allclose([f.time_s for f in frames], np.arange(30) / 25.0, atol=0.002)
    assert all(f.luma.shape == (240, 320) and f.luma.dtype == np.uint8 for f in frames)


def test_luma_honours_lines_longer_than_the_picture(tmp_path, clip):
    film = Film(clip(tmp_path / "a.mp4", size=(338, 240), count=3))
    luma = next(iter(film.frames())).luma
    assert luma.shape == (240, 338)
    # The dark half begins at one and the same column in every line.
    edge = np.argmin(np.diff(luma[30:].astype(int), axis=1), axis=1)
    assert np.all(np.abs(edge - 168) <= 1)


def test_pictures_stay_good_after_later_ones_came(tmp_path, clip, number_shown):
    frames = list(Film(clip(tmp_path / "a.mp4")).frames())
    assert number_shown(frames[2].luma) == 2


def test_a_gap_thins_out_the_pictures(tmp_path, clip):
    film = Film(clip(tmp_path / "a.mp4", count=50))
    times = [f.time_s for f in film.frames(min_gap_s=0.2)]
    assert np.allclose(np.diff(times), 0.2, atol=0.001)
    assert times[0] == 0.0


def test_reading_may_start_late(tmp_path, clip, number_shown):
    film = Film(clip(tmp_path / "a.mp4", count=60, key_every=10))
    first = next(iter(film.frames(start_s=1.0)))
    assert first.time_s == pytest.approx(1.0, abs=0.001)
    assert number_shown(first.luma) == 25 % 14


@pytest.mark.parametrize("ending", ["mkv", "mp4"])
def test_a_varying_frame_rate_keeps_its_times(tmp_path, clip, ending):
    times = list(np.cumsum([0.0, 0.04, 0.04, 0.2, 0.04, 0.5, 0.033, 0.04, 0.04, 0.3]))
    film = Film(clip(tmp_path / f"a.{ending}", count=10, times=times))
    assert np.allclose([f.time_s for f in film.frames()], times, atol=0.002)


def test_a_stream_without_time_stamps_goes_on_at_its_frame_rate(tmp_path, clip, number_shown):
    # An elementary stream holds pictures and nothing else.
    path = clip(tmp_path / "a.h264", codec="h264", count=20)
    frames = list(Film(path).frames())
    times = np.array([f.time_s for f in frames])
    assert len(frames) == 20
    assert np.all(np.diff(times) > 0)
    assert np.allclose(np.diff(times), 0.04, atol=0.002)


@pytest.mark.parametrize(
    ("size", "aspect", "seen"),
    [
        ((720, 576), None, (768, 576)),
        ((720, 576), Fraction(16, 15), (768, 576)),
        ((720, 480), None, (640, 480)),
        ((640, 480), None, (640, 480)),
        ((352, 288), Fraction(12, 11), (384, 288)),
    ],
)
def test_anamorphic_pictures_come_with_square_pixels(tmp_path, clip, size, aspect, seen):
    film = Film(
        clip(tmp_path / "a.avi", codec="mpeg2video", size=size, count=2, pixel_shape=aspect)
    )
    frame = next(iter(film.frames()))
    assert (film.facts.width_px, film.facts.height_px) == seen
    assert frame.luma.shape == (seen[1], seen[0])


@pytest.mark.parametrize(
    ("turn", "corner"), [(90, "bottom_left"), (180, "bottom_right"), (270, "top_right")]
)
def test_rotated_streams_come_upright(tmp_path, clip, turn, corner):
    """The first picture's white block stands top left in the file."""
    film = Film(clip(tmp_path / "a.mp4", count=2, rotate_deg=turn))
    luma = next(iter(film.frames())).luma
    height, width = luma.shape
    assert (width, height) == ((240, 320) if turn in (90, 270) else (320, 240))
    rows, columns = np.nonzero(luma > 200)
    where = ("top" if rows.mean() < height / 2 else "bottom") + (
        "_left" if columns.mean() < width / 2 else "_right"
    )
    assert where == corner


@pytest.mark.parametrize(("ending", "codec"), [("mpg", "mpeg2video"), ("avi", "mjpeg")])
def test_an_interlaced_film_comes_without_combs(tmp_path, ending, codec):
    """Fields half a picture apart, stated in the file (MPEG-2) or not (MJPEG)."""
    path = tmp_path / f"a.{ending}"
    with FilmWriter(
        path, width_px=720, height_px=576, fps=25, codec=codec, interlaced=True, bitrate=8_000_000
    ) as film:
        for number in range(6):
            rgb = np.full((576, 720, 3), 40, np.uint8)
            rgb[0::2, 100 + 20 * number : 200 + 20 * number] = 220
            rgb[1::2, 110 + 20 * number : 210 + 20 * number] = 220
            film.picture(rgb, number / 25)
    film = Film(path)
    assert film.facts.interlaced
    frame = list(film.frames())[3]
    assert frame.luma.shape == (576, 768)
    rows = frame.luma[100:400].astype(int)
    assert np.abs(rows[:-1] - rows[1:]).max() < 40


@pytest.mark.parametrize("noise", [0.0, 12.0])
def test_a_progressive_film_keeps_all_its_lines(tmp_path, noise):
    path = tmp_path / "a.avi"
    draw = np.random.default_rng(2)
    with FilmWriter(
        path, width_px=640, height_px=480, fps=25, codec="mjpeg", bitrate=8_000_000
    ) as film:
        for number in range(12):
            rgb = np.full((480, 640, 3), 60, np.uint8)
            slant = np.arange(640)[None, :] + np.arange(480)[:, None] + 6 * number
            rgb[slant // 40 % 2 == 0] = 170  # slanted bars that move
            noisy = rgb + draw.normal(0, noise, rgb.shape)
            film.picture(np.clip(noisy, 0, 255).astype(np.uint8), number / 25)
    assert not Film(path).facts.interlaced


def test_probe_tells_length_rate_and_sound(tmp_path, clip):
    facts = probe(clip(tmp_path / "a.mp4", count=50, sound=True))
    assert facts.duration_s == pytest.approx(2.0, abs=0.05)
    assert facts.has_audio
    assert not facts.interlaced


def test_a_picture_rate_that_is_nonsense_is_unknown(tmp_path, clip):
    path = clip(tmp_path / "a.mkv", count=3, times=[0.0, 90.0, 200.0], fps=25.0)
    times = [f.time_s for f in Film(path).frames()]
    assert times == pytest.approx([0.0, 90.0, 200.0], abs=0.01)


@pytest.mark.parametrize("ending", ["mkv", "avi", "mpg", "ts"])
def test_a_film_cut_off_gives_what_is_there_and_says_where_it_ends(tmp_path, clip, ending):
    codec = "mjpeg" if ending == "avi" else "mpeg2video"
    whole = clip(tmp_path / f"whole.{ending}", codec=codec, count=200)
    data = whole.read_bytes()
    cut = tmp_path / f"cut.{ending}"
    cut.write_bytes(data[: len(data) // 2])
    film = Film(cut)
    frames = list(film.frames())
    assert 60 < len(frames) < 140
    if ending in ("mkv", "avi"):  # these state their length in the header
        assert film.facts.broke_off_at_s == pytest.approx(frames[-1].time_s)
        assert "nothing after" in (film.facts.broke_off_because or "")


def test_a_film_damaged_in_the_middle_goes_on_after_the_hole(tmp_path, clip):
    whole = clip(tmp_path / "a.mkv", codec="mpeg2video", count=200, key_every=10)
    data = bytearray(whole.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 3000] = bytes(np.random.default_rng(1).integers(0, 256, 3000, np.uint8))
    whole.write_bytes(data)
    times = np.array([f.time_s for f in Film(whole).frames()])
    assert times[-1] > 7.0
    assert len(times) > 120
    assert np.all(np.diff(times) > 0)


def test_times_never_fall_when_stamps_begin_anew(tmp_path, clip):
    """Two recordings joined end to end, as some recorders do."""
    first = clip(tmp_path / "a.mpg", codec="mpeg2video", count=40).read_bytes()
    joined = tmp_path / "joined.mpg"
    joined.write_bytes(first + first)
    times = np.array([f.time_s for f in Film(joined).frames()])
    assert np.all(np.diff(times) > 0)
    assert times[-1] < 10.0


def test_the_encoder_library_agrees_on_the_number_of_pictures(tmp_path, clip):
    path = clip(tmp_path / "a.mp4", count=77)
    with av.open(str(path)) as container:
        counted = sum(1 for _ in container.decode(video=0))
    assert len(list(Film(path).frames())) == counted == 77


def test_a_copy_cut_short_of_a_film_with_its_index_in_front(tmp_path, clip):
    """As a broken download or a full memory card leaves it."""
    whole, front, cut = (tmp_path / f"{name}.mp4" for name in ("whole", "front", "cut"))
    clip(whole, count=200)
    with (
        av.open(str(whole)) as source,
        av.open(str(front), "w", options={"movflags": "faststart"}) as target,
    ):
        stream = target.add_stream_from_template(source.streams.video[0])
        for packet in source.demux(source.streams.video[0]):
            if packet.dts is not None:
                packet.stream = stream
                target.mux(packet)
    data = front.read_bytes()
    assert data.index(b"moov") < data.index(b"mdat")
    cut.write_bytes(data[: len(data) * 6 // 10])
    film = Film(cut)
    frames = list(film.frames())
    assert 60 < len(frames) < 160
    assert film.facts.duration_s == pytest.approx(8.0, abs=0.1)
    assert film.facts.broke_off_at_s == pytest.approx(frames[-1].time_s)
