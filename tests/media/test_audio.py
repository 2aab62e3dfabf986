from __future__ import annotations

import numpy as np
import pytest

from saltglaze.errors import MediaError
from saltglaze.media.audio import samples


def test_the_sound_keeps_its_pitch_and_length(tmp_path, clip):
    heard = samples(clip(tmp_path / "a.mp4", count=50, sound=True), rate_hz=16000)
    assert heard.dtype == np.float32
    assert heard.size == pytest.approx(2.0 * 16000, rel=0.05)
    middle = heard[8000:24000]
    pitch = np.argmax(np.abs(np.fft.rfft(middle))) * 16000 / middle.size
    assert pitch == pytest.approx(440.0, abs=2.0)
    # A sine of amplitude 0.5; its root mean square, as AAC does not keep each peak.
    assert np.sqrt(np.mean(middle**2)) == pytest.approx(0.5 / np.sqrt(2), rel=0.05)


def test_no_sound_is_said_in_one_sentence(tmp_path, clip):
    with pytest.raises(MediaError, match="no sound"):
        samples(clip(tmp_path / "a.mp4", count=5))


def test_sound_and_pictures_share_their_start(tmp_path):
    """A flash and a click at one and the same moment, half a second in."""
    import av

    from saltglaze.media.encode import AUDIO_RATE_HZ, FilmWriter
    from saltglaze.media.film import Film

    path = tmp_path / "a.mpg.ts"
    with FilmWriter(
        path, width_px=320, height_px=240, fps=25, codec="mpeg2video", audio=True
    ) as film:
        for number in range(50):
            film.picture(np.full((240, 320, 3), 240 if number == 13 else 20, np.uint8), number / 25)
        click = np.zeros(2 * AUDIO_RATE_HZ, np.float32)
        begin = round(13 / 25 * AUDIO_RATE_HZ)
        click[begin : begin + 960] = 0.8
        film.sound(click)
    flash_s = max(Film(path).frames(), key=lambda f: f.luma.mean()).time_s
    heard = samples(path)
    click_s = float(np.flatnonzero(np.abs(heard) > 0.3)[0]) / 16000
    assert flash_s == pytest.approx(13 / 25, abs=0.03)
    # MPEG audio coders smear and delay a click by up to two frames of 1024 samples.
    assert click_s == pytest.approx(flash_s, abs=2 * 1024 / 48000 + 0.02)
    assert av.open(str(path)).start_time > 0
