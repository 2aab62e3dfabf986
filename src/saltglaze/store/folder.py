"""Reach files inside a job folder, and nothing outside it."""

from __future__ import annotations

from pathlib import Path

from saltglaze.errors import InputError

MAX_TABLE_BYTES = 20_000_000
"""A table or text of a job larger than this is refused (a talk may be larger, see TALK)."""

MAX_TALK_BYTES = 100_000_000
"""A transcript larger than this is refused."""


def inside(folder: Path, relative: str, *, where: str) -> Path:
    """Return the path of ``relative`` in ``folder``.

    Raises InputError where it is absolute or leads out of the folder, by ``..`` or
    by a link.
    """
    root = folder.resolve()
    if "\0" in relative:
        raise InputError("the file name holds a zero byte", where=where)
    path = (root / relative).resolve()
    if Path(relative).is_absolute() or not path.is_relative_to(root):
        raise InputError(
            f"the path {relative!r} leaves the job folder",
            where=where,
            expected="a file inside the folder",
            mend="copy the file into the job folder and name it there",
        )
    return path


def read_bytes(path: Path, *, limit: int = MAX_TABLE_BYTES) -> bytes:
    """Return the bytes of a file.

    Raises InputError where it is missing, a folder, unreadable, or over ``limit``.
    """
    try:
        size = path.stat().st_size
        if not path.is_file():
            raise InputError("this is not a file", where=path.name)
        if size > limit:
            raise InputError(
                f"the file holds {size:,} bytes",
                where=path.name,
                expected=f"at most {limit:,}",
                mend="split it or take out what does not belong",
            )
        return path.read_bytes()
    except FileNotFoundError:
        raise InputError(
            "there is no such file",
            where=path.name,
            mend="put it in the job folder or take its name out",
        ) from None
    except OSError as error:
        raise InputError(f"the file cannot be read ({error.strerror})", where=path.name) from error


def decode(data: bytes, *, where: str) -> str:
    """Return text from bytes: UTF-8 with or without mark, UTF-16 with mark, else Latin-1.

    Raises InputError for binary data.
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    if b"\0" in data[:4096]:
        raise InputError("this is not a text file", where=where, expected="text in UTF-8")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")
