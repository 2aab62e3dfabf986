"""The report as one HTML file: inline style and drawings, stills as data, no scripts."""

from __future__ import annotations

import base64
from functools import cache
from importlib import resources
from typing import Any

from jinja2 import Environment, StrictUndefined, Template

from saltglaze.report.blocks import Paper
from saltglaze.report.wording import Words


def html(paper: Paper, words: Words) -> str:
    """Return the paper as a page that works offline and needs no script."""
    return _template().render(paper=paper, css=_text("report.css"), words=words)


def _text(name: str) -> str:
    return (resources.files("saltglaze.report") / "html" / name).read_text(encoding="utf-8")


@cache
def _template() -> Template:
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["b64"] = lambda data: base64.b64encode(data).decode("ascii")
    environment.filters["items_of"] = _items
    return environment.from_string(_text("report.html"))


def _items(block: Any) -> Any:  # noqa: ANN401  (lists, answers and cards all carry items)
    return block.items
