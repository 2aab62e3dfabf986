"""Text made safe for the format it goes into."""

from __future__ import annotations

import re

_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def xml_safe(text: str) -> str:
    """Return text without the characters that XML 1.0 cannot hold."""
    return _NOT_XML.sub(" ", text)


def one_line(text: str) -> str:
    """Return text on one line, white space folded."""
    return " ".join(text.split())


def cell(text: str) -> str:
    """Return text that no spreadsheet takes for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
