"""Shot films read back: what was scripted is what the file holds."""

from __future__ import annotations

import json

import numpy as np
import pytest

from saltglaze.demo.film import shoot
from saltglaze.demo.laws import KnotLaw
from saltglaze.demo.make import make_demo
from saltglaze.demo.renderer import Renderer
from saltglaze.demo.script import Recorder
from saltglaze.demo.varied import varied_script
from saltglaze.media.audio import samples
from saltglaze.media.film import Film
from saltglaze.store.jobfolder import load_job


@pytest.mark.parametrize(
    ("ending", "codec"), [("mp4", "h264"), ("avi", "mjpeg"), ("mpg", "mpeg2video")]
)
def test_a_shot_film_holds_the_scripts_pictures(tmp_path, script, ending, codec):
    film = script(duration_s=0.8, fps=12.5 if codec != "mpeg2video" else 25.0, bitrate=3_000_000)
    path = tmp_path / f"a.{ending}"
    heard: list[float] = []
    shoot(film, path, codec=codec, on_progress=heard.append)
    frames = list(Film(path).frames())
    assert np.allclose([f.time_s for f in frames], film.frame_times_s, atol=0.002)
    assert heard[-1] == pytest.approx(1.0)
    seen = Renderer(film).picture(float(film.frame_times_s[4]))[..., 1].astype(float)
    assert np.corrcoef(frames[4].luma.ravel(), seen.ravel())[0, 1] > 0.98


def test_a_squeezed_capture_comes_back_with_round_pipes(tmp_path, script):
    film = script(width_px=768, height_px=576, stored_width_px=720, duration_s=0.2, fps=25.0)
    path = tmp_path / "a.avi"
    shoot(film, path, codec="mpeg2video")
    luma = next(iter(Film(path).frames())).luma
    assert luma.shape == (576, 768)
    seen = Renderer(film).picture(0.0)[..., 1].astype(float)
    assert np.corrcoef(luma.ravel(), seen.ravel())[0, 1] > 0.98


def test_an_interlaced_capture_shows_two_moments(tmp_path, script):
    film = script(
        width_px=768,
        height_px=576,
        stored_width_px=720,
        duration_s=0.4,
        fps=25.0,
        roll_deg=KnotLaw(((0.0, 0.0), (0.4, 60.0))),
        recorder=Recorder(interlaced=True),
    )
    path = tmp_path / "a.mpg"
    shoot(film, path, codec="mpeg2video")
    assert Film(path).facts.interlaced


@pytest.mark.parametrize("seed", range(4))
def test_every_varied_script_renders(seed):
    film = varied_script(seed, duration_s=6.0)
    assert varied_script(seed, duration_s=6.0) == film
    picture = Renderer(film).picture(3.0)
    assert picture.shape == (film.height_px, film.width_px, 3)
    assert picture.std() > 3


def test_varied_scripts_differ():
    films = [varied_script(seed) for seed in range(30)]
    assert len({f.overlay.font for f in films}) > 8
    assert len({f.overlay.corner for f in films}) == 4
    assert len({(f.width_px, f.height_px) for f in films}) >= 4
    assert len({f.overlay.unit for f in films}) == 2


def test_the_short_demo_is_a_whole_job_folder(tmp_path):
    folder = tmp_path / "demo"
    make_demo(folder, short=True)
    assert {"run.mp4", "narration.vtt", "truth.json", "job.toml"} <= {
        p.name for p in folder.iterdir()
    }
    assert not list(folder.glob("unfinished*"))
    film = Film(folder / "run.mp4")
    assert film.facts.duration_s == pytest.approx(28.0, abs=0.3)
    assert film.facts.has_audio
    assert samples(folder / "run.mp4").std() > 0.001
    told = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    assert told["invented"] is True
    assert len(told["film"]["time_s"]) == len(told["film"]["counter_text"]) == 140
    job = load_job(folder)
    assert job.invented
    assert len(job.talks[0].transcript.cues) == 5
    assert len(job.locates) == 4
