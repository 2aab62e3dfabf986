"""Write a file whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO


@contextmanager
def opened(path: Path) -> Iterator[BinaryIO]:
    """Open a file to write, so that a reader sees the old file or the new, never a part.

    The bytes go to a temporary file in the same folder, reach the disk, and only
    then take the name; after an error there is nothing of them left. Raises OSError
    where the folder cannot be written.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).chmod(0o644)
        Path(temporary).replace(path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise


def write_bytes(path: Path, data: bytes) -> None:
    """Write ``data`` to ``path``, whole or not at all."""
    with opened(path) as file:
        file.write(data)


def write_text(path: Path, text: str) -> None:
    """Write ``text`` as UTF-8, whole or not at all."""
    write_bytes(path, text.encode("utf-8"))
