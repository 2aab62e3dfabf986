"""``saltglaze pack``: the whole job folder as one ZIP file."""

from __future__ import annotations

import os
import shutil
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import typer

from saltglaze import atomic
from saltglaze.errors import InputError
from saltglaze.store.job_toml import FILE

FILMS: Final = frozenset(
    (".mp4", ".m4v", ".mov", ".mkv", ".avi", ".webm", ".mpg", ".mpeg", ".ts", ".wmv", ".3gp")
)
PACKED_ALREADY: Final = FILMS | {".jpg", ".jpeg", ".png", ".pdf", ".zip", ".mp3", ".m4a", ".ogg"}
"""Kinds of file that do not get smaller; they are stored as they are."""

LARGE_BYTES: Final = 1 << 31


def pack_job(jobdir: Path, zip_path: Path, *, film: bool) -> None:
    """Write every file of the job folder into a ZIP file and say how many.

    Names in it are relative to the job folder, in order; a link is packed as the file
    it leads to where that lies in the folder, and left out where not. The ZIP file
    appears whole or not at all. Raises InputError where there is no job, or the ZIP
    file cannot be written there.
    """
    if not (jobdir / FILE).is_file():
        raise InputError(
            "there is no job here", where=str(jobdir), expected=f"a folder with {FILE}"
        )
    if zip_path.is_dir():
        raise InputError("this is a folder", where=str(zip_path), expected="a name for a ZIP file")
    count = left_out = 0
    with (
        atomic.opened(zip_path) as file,
        zipfile.ZipFile(file, "w", strict_timestamps=False) as packed,
    ):
        for name, source in _files(jobdir, zip_path):
            if source is None or (not film and source.suffix.lower() in FILMS):
                left_out += 1
                typer.echo(f"left out {name}")
            else:
                _add(packed, name, source)
                count += 1
    typer.echo(f"{count} files in {zip_path}" + (f", {left_out} left out" if left_out else ""))


def _files(jobdir: Path, zip_path: Path) -> Iterator[tuple[str, Path | None]]:
    """Return each file's name in the folder and where its bytes lie; None: not in the folder."""
    root = jobdir.resolve()
    for folder, folders, names in os.walk(root):
        folders.sort()
        linked = [name for name in folders if (Path(folder) / name).is_symlink()]
        yield from ((_name(Path(folder) / name, root), None) for name in linked)
        for name in sorted(names):
            path = Path(folder) / name
            target = path.resolve()
            if target == zip_path.resolve() or name.startswith(f".{zip_path.name}."):
                continue
            within = target.is_relative_to(root) and target.is_file()
            yield _name(path, root), target if within else None


def _name(path: Path, root: Path) -> str:
    name = path.relative_to(root).as_posix()
    if any("\ud800" <= character <= "\udfff" for character in name):
        raise InputError("the file's name is not text", where=ascii(name), mend="rename it")
    return name


def _add(packed: zipfile.ZipFile, name: str, source: Path) -> None:
    stored = source.suffix.lower() in PACKED_ALREADY
    entry = zipfile.ZipInfo.from_file(source, name, strict_timestamps=False)
    entry.compress_type = zipfile.ZIP_STORED if stored else zipfile.ZIP_DEFLATED
    entry.external_attr = 0o644 << 16
    large = entry.file_size >= LARGE_BYTES
    try:
        with source.open("rb") as bytes_in, packed.open(entry, "w", force_zip64=large) as bytes_out:
            shutil.copyfileobj(bytes_in, bytes_out, length=1 << 20)
    except OSError as error:
        raise InputError(f"the file cannot be packed ({error.strerror})", where=name) from error
