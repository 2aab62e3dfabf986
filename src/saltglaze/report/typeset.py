"""Papers to PDF: the blocks as JSON beside one fixed template, compiled as PDF/UA-1.

Text reaches the compiler as JSON strings, never as markup, so that no name in a job can
be read as a command. Typst's own fonts are used; the compiler refuses a picture without
alternative text in this mode.
"""

from __future__ import annotations

import datetime as dt
import json
import tempfile
import unicodedata
from dataclasses import asdict
from importlib import resources
from pathlib import Path
from typing import Any, Final

import typst

from saltglaze.report.blocks import Card, Cards, Drawing, Figures, Paper, Picture
from saltglaze.report.sheet.sheet import Page
from saltglaze.report.ties import all_tied

STANDARD: Final = "ua-1"
_PAPER = {"letter": "us-letter", "a4": "a4"}


def pdf(paper: Paper, page: Page, made_at: dt.datetime | None = None) -> bytes:
    """Return the paper as a tagged PDF/UA-1 file.

    Letters that no font at hand can draw are replaced by U+FFFD's plain stand-in "?",
    tried only after the compiler has refused them.
    """
    with tempfile.TemporaryDirectory(prefix="saltglaze-") as name:
        folder = Path(name)
        lay_out(paper, page, folder)
        return compile_folder(folder, made_at)


def lay_out(paper: Paper, page: Page, folder: Path) -> None:
    """Write template, JSON and pictures of a paper to a folder, ready to compile."""
    template = resources.files("saltglaze.report") / "typst" / "paper.typ"
    (folder / "paper.typ").write_bytes(template.read_bytes())
    placed = _Placed(folder)
    data = all_tied(placed.plain(paper))
    data["page"] = _PAPER[page]
    (folder / "paper.json").write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")


def compile_folder(folder: Path, made_at: dt.datetime | None = None) -> bytes:
    """Compile a laid-out folder; on letters without a glyph, once more without them."""
    try:
        return _compiled(folder, made_at)
    except typst.TypstError as error:
        if "glyph" not in str(error) and "font" not in str(error):
            raise
    data = folder / "paper.json"
    data.write_text(_only_known_scripts(data.read_text(encoding="utf-8")), encoding="utf-8")
    for drawing in folder.glob("*.svg"):
        drawing.write_text(_only_known_scripts(drawing.read_text("utf-8")), encoding="utf-8")
    return _compiled(folder, made_at)


def _compiled(folder: Path, made_at: dt.datetime | None) -> bytes:
    stamp = made_at or dt.datetime(1980, 1, 1, tzinfo=dt.UTC)
    if stamp.tzinfo is None:
        stamp = stamp.replace(tzinfo=dt.UTC)
    return bytes(
        typst.compile(
            str(folder / "paper.typ"),
            root=str(folder),
            pdf_standards=[STANDARD],
            timestamp=int(stamp.timestamp()),
        )
    )


_OURS = set("±–—·•…×½°“”‘’≈→≤≥✓☐")


def _only_known_scripts(text: str) -> str:
    """Keep Latin, Greek, Cyrillic, Hebrew and Arabic letters; others become "?"."""
    return "".join(letter if _drawable(letter) else "?" for letter in text)


def _drawable(letter: str) -> bool:
    if ord(letter) < 0x250 or letter in _OURS:
        return True
    name = unicodedata.name(letter, "")
    return name.startswith(("LATIN", "GREEK", "CYRILLIC", "HEBREW", "ARABIC", "COMBINING"))


class _Placed:
    """Turns blocks into plain data, writing pictures and drawings as files on the way."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.count = 0

    def plain(self, paper: Paper) -> dict[str, Any]:
        """Return the paper as JSON-ready data."""
        return {
            "language": paper.language,
            "document_title": paper.document_title,
            "size": paper.size,
            "one_page": paper.one_page,
            "title": paper.title,
            "subtitle": paper.subtitle,
            "foot": paper.foot,
            "heading": paper.heading,
            "author": paper.author,
            "opening": [self.block(block) for block in paper.opening],
            "sections": [
                {
                    "title": section.title,
                    "anchor": section.anchor,
                    "new_page": section.new_page,
                    "together": section.together,
                    "blocks": [self.block(block) for block in section.blocks],
                }
                for section in paper.sections
            ],
        }

    def block(self, block: Any) -> dict[str, Any]:  # noqa: ANN401  (any block kind)
        """Return one block as JSON-ready data."""
        if isinstance(block, Figures):
            drawings = [self.drawing(drawing) for drawing in block.drawings]
            return {
                "kind": "figures",
                "drawings": drawings,
                "landscape": block.landscape,
                "caption": block.caption,
            }
        if isinstance(block, Cards):
            return {"kind": "cards", "items": [self.card(card) for card in block.items]}
        return asdict(block)

    def card(self, card: Card) -> dict[str, Any]:
        """Return one finding's card as JSON-ready data."""
        return {
            "number": card.number,
            "title": card.title,
            "grade": card.grade,
            "grade_words": card.grade_words,
            "plain": card.plain,
            "pairs": card.pairs,
            "section": self.drawing(card.section) if card.section else None,
            "still": self.still(card.still),
            "still_words": card.still_words,
            "why_label": card.why_label,
            "why": card.why,
            "code_label": card.code_label,
            "code": card.code,
            "anchor": card.anchor,
        }

    def drawing(self, drawing: Drawing) -> dict[str, Any]:
        """Write a drawing, return where it lies."""
        name = self._name("svg")
        (self.folder / name).write_text(drawing.print_svg, encoding="utf-8")
        return {
            "path": name,
            "alt": drawing.alt,
            "width": drawing.width_mm,
            "height": drawing.height_mm,
        }

    def still(self, still: Picture | None) -> dict[str, Any] | None:
        """Write a still, return where it lies."""
        if still is None:
            return None
        name = self._name("jpg")
        (self.folder / name).write_bytes(still.jpeg)
        return {"path": name, "alt": still.alt, "square": still.square}

    def _name(self, suffix: str) -> str:
        self.count += 1
        return f"f{self.count:04d}.{suffix}"
