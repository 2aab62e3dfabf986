"""A film already watched is not watched again, unless what it was read by has changed."""

import os
from dataclasses import replace

import pytest

from saltglaze.commands import watching
from saltglaze.demo.film import shoot
from saltglaze.demo.varied import varied_script
from saltglaze.model.job import Job
from saltglaze.model.line import Line
from saltglaze.model.run import LengthUnit, Run


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("watched")
    script = replace(varied_script(5004, 1.2), fps=12.5)
    shoot(script, folder / "run.mp4")
    return folder


@pytest.fixture
def watched(folder, tmp_path, monkeypatch):
    """Watch the film with an eye that counts its looks."""
    looks = []
    real = watching.watch
    monkeypatch.setattr(
        watching, "watch", lambda *given, **named: looks.append(1) or real(*given, **named)
    )

    def watch(**facts):
        run = Run(id="front", video="run.mp4", **facts)
        job = Job(id="j", line=Line(id="L"), runs=(run,))
        before = len(looks)
        watching.watch_films(folder, job, tmp_path, again=False, on_progress=lambda *_: None)
        return len(looks) > before

    return watch


def test_the_same_film_is_watched_once(watched):
    assert watched()
    assert not watched()


def test_another_word_on_the_counter_makes_it_watched_again(watched):
    watched()
    assert watched(counter_unit=LengthUnit.METRES)
    assert not watched(counter_unit=LengthUnit.METRES)


def test_other_nets_make_it_watched_again(watched, monkeypatch):
    watched()
    monkeypatch.setattr(watching, "fingerprint", lambda: "other nets")
    assert watched()


def test_a_changed_film_is_watched_again(watched, folder):
    watched()
    os.utime(folder / "run.mp4", ns=(1, 1))
    assert watched()


def test_a_broken_kept_track_is_watched_again(watched, tmp_path):
    watched()
    (tmp_path / "tracks" / "front.json").write_text("{")
    assert watched()
    assert not watched()
