"""A packed job, read back by zipfile and loaded as a job."""

import os
import zipfile

import pytest

from saltglaze.commands.pack import pack_job
from saltglaze.demo.scenario import FILM, demo_job
from saltglaze.errors import InputError
from saltglaze.store.jobfolder import load_job, write_job


@pytest.fixture
def jobdir(tmp_path):
    folder = tmp_path / "job"
    job = demo_job(short=True)
    runs = tuple(run.model_copy(update={"narration": None}) for run in job.runs)
    write_job(job.model_copy(update={"runs": runs}), folder)
    (folder / FILM).write_bytes(b"film " * 1000)
    (folder / "out").mkdir()
    (folder / "out/record.json").write_text("{}")
    return folder


def on_disk(folder):
    return sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())


def test_the_unpacked_job_is_the_job(jobdir, tmp_path):
    target = tmp_path / "job.zip"
    pack_job(jobdir, target, film=True)
    with zipfile.ZipFile(target) as packed:
        assert packed.testzip() is None
        packed.extractall(tmp_path / "again")
        assert packed.getinfo(FILM).compress_type == zipfile.ZIP_STORED
        assert packed.getinfo("job.toml").compress_type == zipfile.ZIP_DEFLATED
    assert on_disk(tmp_path / "again") == on_disk(jobdir)
    for name in on_disk(jobdir):
        assert (tmp_path / "again" / name).read_bytes() == (jobdir / name).read_bytes()
    assert load_job(tmp_path / "again") == load_job(jobdir)


def test_the_film_can_stay_at_home(jobdir, tmp_path):
    target = tmp_path / "job.zip"
    pack_job(jobdir, target, film=False)
    with zipfile.ZipFile(target) as packed:
        assert set(packed.namelist()) == set(on_disk(jobdir)) - {FILM}


def test_the_same_folder_gives_the_same_bytes(jobdir, tmp_path):
    pack_job(jobdir, tmp_path / "a.zip", film=True)
    pack_job(jobdir, tmp_path / "b.zip", film=True)
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()


def test_a_zip_file_in_the_folder_does_not_hold_itself(jobdir):
    for _ in range(2):
        pack_job(jobdir, jobdir / "job.zip", film=True)
    with zipfile.ZipFile(jobdir / "job.zip") as packed:
        assert "job.zip" not in packed.namelist()


def test_links_out_of_the_folder_are_left_out_and_named(jobdir, tmp_path, capsys):
    secret = tmp_path / "secret.txt"
    secret.write_text("not yours")
    (jobdir / "leak.txt").symlink_to(secret)
    (jobdir / "elsewhere").symlink_to(tmp_path)
    (jobdir / "same.toml").symlink_to(jobdir / "job.toml")
    pack_job(jobdir, tmp_path / "job.zip", film=True)
    with zipfile.ZipFile(tmp_path / "job.zip") as packed:
        assert packed.read("same.toml") == packed.read("job.toml")
        assert not any("leak" in name or "elsewhere" in name for name in packed.namelist())
    said = capsys.readouterr().out
    assert "left out leak.txt" in said
    assert "left out elsewhere" in said


def test_names_stay_inside_the_folder(jobdir, tmp_path):
    (jobdir / "ריצה עם רווח.txt").write_text("x")
    pack_job(jobdir, tmp_path / "job.zip", film=True)
    with zipfile.ZipFile(tmp_path / "job.zip") as packed:
        names = packed.namelist()
    assert "ריצה עם רווח.txt" in names
    assert not any(name.startswith("/") or ".." in name.split("/") for name in names)


def test_a_file_that_cannot_be_read_leaves_no_half_zip(jobdir, tmp_path, monkeypatch):
    def broken(*_args, **_more):
        raise OSError(5, "Input/output error")

    monkeypatch.setattr("saltglaze.commands.pack.shutil.copyfileobj", broken)
    with pytest.raises(InputError, match="cannot be packed"):
        pack_job(jobdir, tmp_path / "out.zip", film=True)
    assert [p.name for p in tmp_path.iterdir()] == ["job"]


def test_what_is_no_job_is_an_error(tmp_path):
    with pytest.raises(InputError, match="no job here"):
        pack_job(tmp_path, tmp_path / "a.zip", film=True)


def test_a_name_that_is_not_text_is_an_error(jobdir, tmp_path):
    try:
        (jobdir / os.fsdecode(b"\xff.txt")).write_text("x")
    except OSError:
        pytest.skip("this file system holds no such name")
    with pytest.raises(InputError, match="not text"):
        pack_job(jobdir, tmp_path / "a.zip", film=True)
