"""What a paper is made of: sections of blocks, worded already, ready for any writer.

The PDF and the page are two writers of the same blocks; neither knows the trade.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Drawing:
    """A scene as written for the screen and for print, with its words for those who do not see."""

    screen_svg: str
    print_svg: str
    alt: str
    width_mm: float
    height_mm: float


@dataclass(frozen=True)
class Picture:
    """A still ready to place: JPEG bytes, and its words."""

    jpeg: bytes
    alt: str
    square: bool = False
    """As high as wide: the round window of a picture turned upright."""


@dataclass(frozen=True)
class Para:
    """A paragraph; ``tone`` is plain, lead, small or strong."""

    text: str
    tone: str = "plain"
    kind: Literal["para"] = "para"


@dataclass(frozen=True)
class Bullets:
    """A list; ``boxes`` draws a tick box before each item."""

    items: tuple[str, ...]
    boxes: bool = False
    kind: Literal["bullets"] = "bullets"


@dataclass(frozen=True)
class Facts:
    """Labels with their values."""

    pairs: tuple[tuple[str, str], ...]
    kind: Literal["facts"] = "facts"


@dataclass(frozen=True)
class Table:
    """A table with a header row; ``numeric`` columns are set flush right."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: tuple[int, ...] = ()
    widths: tuple[float, ...] = ()
    strong_rows: tuple[int, ...] = ()
    anchors: tuple[str, ...] = ()
    """Where the first cell of each row leads, if anywhere in the paper."""
    kind: Literal["table"] = "table"


def without_blank_columns(table: Table, blank: str = "–") -> Table:
    """Return the table less the columns that say nothing in any row."""
    keep = [i for i in range(len(table.head)) if any(row[i] != blank for row in table.rows)]
    if len(keep) == len(table.head):
        return table
    return Table(
        table.caption,
        tuple(table.head[i] for i in keep),
        tuple(tuple(row[i] for i in keep) for row in table.rows),
        tuple(keep.index(i) for i in table.numeric if i in keep),
        tuple(table.widths[i] for i in keep) if table.widths else (),
        table.strong_rows,
        table.anchors,
    )


@dataclass(frozen=True)
class Answer:
    """A question of the owner's with its answer and the small print of it."""

    question: str
    answer: str
    detail: str = ""


@dataclass(frozen=True)
class Answers:
    """Page one."""

    items: tuple[Answer, ...]
    kind: Literal["answers"] = "answers"


@dataclass(frozen=True)
class Note:
    """A framed note; ``tone`` is invented, caution or plain."""

    text: str
    tone: str = "plain"
    title: str = ""
    kind: Literal["note"] = "note"


@dataclass(frozen=True)
class Figures:
    """Drawings; ``landscape`` ones take a page each."""

    drawings: tuple[Drawing, ...]
    landscape: bool = False
    caption: str = ""
    kind: Literal["figures"] = "figures"


@dataclass(frozen=True)
class Card:
    """One finding: heading, grade, plain words, facts, still and cross-section."""

    anchor: str
    number: int
    title: str
    grade: int | None
    grade_words: str
    plain: str
    pairs: tuple[tuple[str, str], ...]
    section: Drawing | None
    still: Picture | None
    still_words: str
    """Caption of the still, or why there is none."""
    why_label: str = ""
    why: str = ""
    """Why it has this grade, or none; set below the rest in small type."""
    code_label: str = ""
    code: str = ""
    """The trade's letters for it, for those who read them."""


@dataclass(frozen=True)
class Cards:
    """All findings."""

    items: tuple[Card, ...]
    kind: Literal["cards"] = "cards"


@dataclass(frozen=True)
class Lines:
    """Lines to sign or fill in by hand, each with its label below."""

    labels: tuple[str, ...]
    kind: Literal["lines"] = "lines"


@dataclass(frozen=True)
class Letterhead:
    """Sender, date and addressee of a letter."""

    sender: tuple[str, ...]
    date: str
    to: tuple[str, ...]
    kind: Literal["letterhead"] = "letterhead"


Block = Para | Bullets | Facts | Table | Answers | Note | Figures | Cards | Lines | Letterhead


@dataclass(frozen=True)
class Section:
    """A headed part of a paper."""

    anchor: str
    title: str
    blocks: tuple[Block, ...]
    new_page: bool = False
    together: bool = False
    """Goes over to the next page as a whole where it does not fit on this one."""


@dataclass(frozen=True)
class Paper:
    """A whole paper: headings, opening blocks, sections and a running foot."""

    language: str
    title: str
    subtitle: str
    foot: str
    opening: tuple[Block, ...] = ()
    sections: tuple[Section, ...] = ()
    heading: str = ""
    """A small line above the title: firm, kind of paper."""
    author: str = ""
    size: Literal["page", "dense", "card"] = "page"
    one_page: bool = False
    """Closed up, and set smaller by up to a seventh, where that keeps it on one page."""
    document_title: str = ""
    """Title in the file where no title is printed on the page."""
