"""The report as one HTML file: inline style and drawings, stills as data, no scripts."""

from __future__ import annotations

import base64
from functools import cache
from importlib import resources
from typing import Any

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from saltglaze.report.blocks import Paper, Table
from saltglaze.report.ties import tied
from saltglaze.report.wording import Words


def html(paper: Paper, words: Words) -> str:
    """Return the paper as a page that works offline and needs no script."""
    return _template().render(paper=paper, css=_text("report.css"), words=words)


def _text(name: str) -> str:
    return (resources.files("saltglaze.report") / "html" / name).read_text(encoding="utf-8")


@cache
def _template() -> Template:
    environment = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_tied,
    )
    environment.filters["b64"] = lambda data: base64.b64encode(data).decode("ascii")
    environment.filters["items_of"] = _items
    environment.filters["stacks"] = _stacks
    return environment.from_string(_text("report.html"))


_LONG_CELL = 44
"""A table with cells longer than this is read row by row on a small screen."""


def _tied(value: Any) -> Any:  # noqa: ANN401  (whatever a template prints)
    """Return text tied; markup and drawings as they are."""
    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    return tied(value)


def _stacks(table: Table) -> bool:
    return max((len(cell) for row in table.rows for cell in row), default=0) > _LONG_CELL


def _items(block: Any) -> Any:  # noqa: ANN401  (lists, answers and cards all carry items)
    return block.items
