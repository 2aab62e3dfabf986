"""WebVTT and SRT: blocks of an arrow line and the words under it.

WebVTT as in the W3C document "WebVTT: The Web Video Text Tracks Format" (from
memory); SRT has no standard, only custom. One reader takes both, because files in
the wild mix them (commas in WebVTT stamps, missing numbers and blank lines in SRT).
"""

from __future__ import annotations

import html
import re

from saltglaze.model.talk import Cue
from saltglaze.narration.transcripts.stamps import STAMP, seconds

_ARROW = re.compile(rf"^\s*({STAMP})\s*-->\s*({STAMP})?")
_TAG = re.compile(r"</?[^<>\n]{0,200}>")
_VOICE = re.compile(r"<v(?:\.[^\s>]*)?\s+([^>\n]{1,80})>")
_SKIPPED = ("NOTE", "STYLE", "REGION")


def looks_like_captions(text: str) -> bool:
    """Whether the text holds arrow lines or names itself WebVTT."""
    head = text.lstrip("\ufeff \n\t")[:200_000]
    return head.startswith("WEBVTT") or "-->" in head


def read_captions(text: str) -> tuple[list[Cue], list[str]]:
    """Return cues as they stand in the file, and problems with their line numbers."""
    lines = text.split("\n")
    cues: list[Cue] = []
    problems: list[str] = []
    at = 0
    while at < len(lines):
        line = lines[at]
        if line.startswith(_SKIPPED):
            at = _end_of_block(lines, at)
            continue
        if "-->" not in line:
            at += 1
            continue
        body_end = _end_of_body(lines, at + 1)
        cue = _cue(line, lines[at + 1 : body_end], at + 1)
        if isinstance(cue, str):
            problems.append(cue)
        elif cue.text:
            cues.append(cue)
        at = body_end
    return cues, problems


def plain_words(text: str) -> str:
    """Return caption text without tags and entities, on one line."""
    without = _TAG.sub(" ", text)
    return " ".join(html.unescape(without).replace("\u200b", "").split())


def _end_of_block(lines: list[str], at: int) -> int:
    while at < len(lines) and lines[at].strip():
        at += 1
    return at + 1


def _end_of_body(lines: list[str], at: int) -> int:
    """A body ends at a blank line, or before the next arrow (and its cue number)."""
    while at < len(lines) and lines[at].strip() and "-->" not in lines[at]:
        following = lines[at + 1] if at + 1 < len(lines) else ""
        if "-->" in following and lines[at].strip().isdigit():
            break
        at += 1
    return at


def _cue(arrow: str, body: list[str], line_number: int) -> Cue | str:
    match = _ARROW.match(arrow)
    start = seconds(match.group(1)) if match else None
    if match is None or start is None:
        return f"line {line_number}: no time can be read in “{arrow.strip()[:60]}”, cue left out"
    end = seconds(match.group(6)) if match.group(6) else None
    raw = "\n".join(body)
    voice = _VOICE.search(raw)
    return Cue(
        start_s=start,
        end_s=end if end is not None and end >= start else None,
        text=plain_words(raw),
        speaker=voice.group(1).strip() if voice else "",
        source_line=line_number,
    )
