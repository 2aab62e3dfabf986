"""Text made safe for the format it goes into."""

from __future__ import annotations

import re

_NOT_TEXT = re.compile(
    "[^\t\n\r\u0020-\u007e\u0085\u00a0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]"
)
"""What XML 1.0 cannot hold (W3C, section 2.2), and the control characters it discourages."""


def clean(text: str) -> str:
    """Return text without control characters, which no exchange format can hold."""
    return _NOT_TEXT.sub(" ", text)


def one_line(text: str) -> str:
    """Return clean text on one line, white space folded."""
    return " ".join(clean(text).split())


def cell(text: str) -> str:
    """Return text that no spreadsheet takes for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text


def file_stem(text: str) -> str:
    """Return a name that is safe as the beginning of a file name on any system."""
    return re.sub(r"[^\w.-]+|^\.+", "-", text)[:50] or "run"
