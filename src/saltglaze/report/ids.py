"""Puts a finding's number and name in place of its id wherever a sentence carries one."""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

from saltglaze.report.blocks import Drawing, Picture
from saltglaze.report.frame import Frame

T = TypeVar("T")


def numbers_for_ids(frame: Frame, paper: T) -> T:
    """Return the paper with every finding's id told as "4 (Tap)".

    Only ids that no person would write as a word (with a digit, "-" or "_") are touched.
    """
    told = {i: frame.tagged(i) for i in frame.by_id if re.search(r"[\d_-]", i) and len(i) > 3}
    if not told:
        return paper
    longest_first = sorted(told, key=len, reverse=True)
    pattern = re.compile(rf"(?<![\w-])({'|'.join(map(re.escape, longest_first))})(?![\w-])")

    def put(node: Any) -> Any:  # noqa: ANN401  (any part of a paper)
        if isinstance(node, str):
            return pattern.sub(lambda found: told[found[1]], node)
        if isinstance(node, tuple):
            return tuple(put(part) for part in node)
        if is_dataclass(node) and not isinstance(node, Drawing | Picture | type):
            changed = {f.name: put(getattr(node, f.name)) for f in fields(node)}
            return replace(node, **changed)
        return node

    return put(paper)  # type: ignore[no-any-return]
