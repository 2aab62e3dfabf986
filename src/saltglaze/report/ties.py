"""Ties numbers to their units and margins, so that no line break parts them."""

from __future__ import annotations

import re
from typing import Any

_UNITS = "ft|in|m|cm|mm|psi|bar|gpm|gal|L|o'clock|months|years"
_TIES = re.compile(rf"(?<=\d) (?=(?:{_UNITS})\b|%)| (?=±)|(?<=±) ")


def tied(text: str) -> str:
    """Return text with unbreakable spaces within its quantities ("63 ± 2 ft")."""
    return _TIES.sub("\u00a0", text)


def all_tied(node: Any) -> Any:  # noqa: ANN401  (any JSON-ready data)
    """Return data with the quantities in all its texts tied."""
    if isinstance(node, str):
        return tied(node)
    if isinstance(node, dict):
        return {key: all_tied(value) for key, value in node.items()}
    if isinstance(node, list | tuple):
        return [all_tied(part) for part in node]
    return node
