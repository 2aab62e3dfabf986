"""Bytes to text, with what was odd about them said aloud."""

from __future__ import annotations

import codecs

from saltglaze.errors import InputError

LIMIT_BYTES = 64 * 1024 * 1024
"""More than this is no talk of one camera run (an hour of speech is about 0.1 MB)."""

_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


def decode_text(data: bytes, name: str) -> tuple[str, tuple[str, ...]]:
    r"""Return the text and the problems met on the way.

    A byte order mark decides; then UTF-8; then UTF-16 without a mark (every other
    byte zero); then Latin-1, which reads any byte. Line ends become ``\n``.

    Raises
    ------
    InputError
        The file is empty, too big, or not text.
    """
    if not data.strip():
        raise InputError(
            "the narration file is empty",
            where=name,
            expected="WebVTT, SRT, JSON or text with [m:ss] stamps",
        )
    if len(data) > LIMIT_BYTES:
        raise InputError(
            f"the narration file holds {len(data) // 1_000_000} MB",
            where=name,
            expected=f"at most {LIMIT_BYTES // 1_000_000} MB",
            mend="cut it to the talk of one run",
        )
    text, problems = _decode(data)
    _refuse_binary(text, name)
    if not text.strip():
        raise InputError("the narration file holds no words", where=name)
    return text.replace("\r\n", "\n").replace("\r", "\n"), problems


def _decode(data: bytes) -> tuple[str, tuple[str, ...]]:
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            text = data[len(mark) :].decode(encoding, errors="replace")
            return text, _lost(text)
    bare = _utf16_without_mark(data)
    if bare:
        text = data.decode(bare, errors="replace")
        return text, (f"read as {bare} though the file does not say so", *_lost(text))
    try:
        return data.decode("utf-8"), ()
    except UnicodeDecodeError:
        return data.decode("latin-1"), ("not UTF-8: read as Latin-1, accents may be wrong",)


def _lost(text: str) -> tuple[str, ...]:
    count = text.count("\ufffd")
    return (f"{count} unreadable characters",) if count else ()


def _utf16_without_mark(data: bytes) -> str | None:
    """Plain English in UTF-16 has a zero for every other byte."""
    head = data[:2000]
    if len(head) < 8:
        return None
    even, odd = head[0::2].count(0), head[1::2].count(0)
    if odd > 0.4 * len(head[1::2]) and even == 0:
        return "utf-16-le"
    if even > 0.4 * len(head[0::2]) and odd == 0:
        return "utf-16-be"
    return None


def _refuse_binary(text: str, name: str) -> None:
    head = text[:20_000]
    odd = sum(1 for ch in head if ch < " " and ch not in "\t\n\r\f\v\x1b")
    odd += sum(1 for ch in head if "\x7f" <= ch < "\xa0")
    if odd > max(2, 0.02 * len(head)):
        raise InputError(
            "the narration file is not text",
            where=name,
            expected="WebVTT, SRT, JSON or text with [m:ss] stamps",
            mend="export the talk as text, or give the film and let speech be read from it",
        )
