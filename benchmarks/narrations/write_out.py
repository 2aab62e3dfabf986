"""Turn hand-written talks (``*.talk``) into WebVTT files and label files beside them.

The words and the labels are written by hand, line by line; this script only
turns their times, units and short names into the two files that the scorer
reads. Run it after a talk was changed::

    python benchmarks/narrations/write_out.py

A talk is plain text. Lines beginning with ``#`` are its title, voice and service.
Every other line is one cue::

    M:SS words as spoken || label ; label ; label

A label is one of

``feature [kind] [key=value ...]``
    a finding stated in these words. Keys: ``width= length= dia= after=`` (3in, 2ft,
    40mm, 1.5m), ``section= round= water= deform=`` (25%), ``angle=45``,
    ``clock=2``, ``clock=10-2``, ``clock=all``, ``screen=left``, ``place=crown`` or
    ``place=invert`` (a word of the pipe; clock or screen both answer it), ``turn= mat=
    matafter= joints= count= grade= or=`` (another feature a listener may fairly call
    it). Flags: ``maybe joint active inactive capped soil void``; ``optional`` for what may
    fairly be drafted or not (the second of "one each side"). ``..M:SS`` says that the
    talk about this thing goes on to a later cue; ``until=M:SS`` that the thing itself
    runs on to there.
``station 42ft``
    a distance called out.
``fact kind [value] [maybe]``
    something said of the line (see LineFactKind); numbers carry their unit.
``-denial``, ``-advice``, ``-cleaning``, ``-talk``
    words that must not become a finding, and why.
"""

from __future__ import annotations

import json
import re
import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
WORDS_PER_SECOND = 2.6
"""Ordinary speaking pace, common practice; sets where a cue ends."""

METRES = {"in": 0.0254, "ft": 0.3048, "mm": 0.001, "cm": 0.01, "m": 1.0}
SIZES = {"width": "width_m", "length": "length_m", "dia": "diameter_m", "after": "diameter_after_m"}
SHARES = {
    "section": "section_share",
    "round": "round_share",
    "water": "water_share",
    "deform": "deformation_share",
}
WORDS = {
    "turn": "turn",
    "mat": "material",
    "matafter": "material_after",
    "grade": "grade_word",
    "screen": "screen",
    "place": "place",
}
COUNTS = {"joints": "joints", "count": "count"}
FLAGS: dict[str, tuple[str, Any]] = {
    "maybe": ("certainty", "supposed"),
    "joint": ("at_joint", True),
    "active": ("active", True),
    "inactive": ("active", False),
    "capped": ("capped", True),
    "soil": ("soil_visible", True),
    "void": ("void_visible", True),
}
SILENT = {"-denial", "-advice", "-cleaning", "-talk"}
NUMBER_FACTS = {"diameter", "section_length", "depth", "length", "year"}


@dataclass
class Line:
    """One cue with its labels still as written."""

    start_s: float
    end_s: float
    text: str
    labels: list[str]


@dataclass
class Talk:
    """A hand-written narration."""

    about: dict[str, str] = field(default_factory=dict)
    lines: list[Line] = field(default_factory=list)


def seconds(stamp: str) -> float:
    """Read ``M:SS`` as seconds."""
    minutes, rest = stamp.split(":")
    return 60.0 * int(minutes) + float(rest)


def metres(size: str) -> float:
    """Read a size with its unit (``1/4in``, ``2.5ft``, ``40mm``) as metres."""
    match = re.fullmatch(r"([\d./]+)(in|ft|mm|cm|m)", size)
    if match is None:
        raise ValueError(f"no size with a unit: {size!r}")
    top, _, bottom = match[1].partition("/")
    return round(float(top) / float(bottom or 1) * METRES[match[2]], 5)


def read_talk(text: str) -> Talk:
    """Read the source text of one talk."""
    talk = Talk()
    for raw in text.splitlines():
        line = raw.strip()
        if line.startswith("#"):
            key, _, value = line[1:].partition(":")
            talk.about[key.strip()] = value.strip()
        elif line:
            words, _, labels = line.partition("||")
            stamp, _, said = words.strip().partition(" ")
            start = seconds(stamp)
            end = start + 1.0 + len(said.split()) / WORDS_PER_SECOND
            wanted = [label.strip() for label in labels.split(";") if label.strip()]
            talk.lines.append(Line(start, end, said.strip(), wanted))
    for line, after in zip(talk.lines, talk.lines[1:], strict=False):
        if after.start_s <= line.start_s:
            raise ValueError(f"cue out of order: {after.text!r}")
        line.end_s = min(line.end_s, after.start_s - 0.1)
    return talk


def stated(words: list[str]) -> dict[str, Any]:
    """Turn a finding's keys and flags into the field values they state."""
    values: dict[str, Any] = {}
    for word in words:
        key, equals, value = word.partition("=")
        if not equals and key in FLAGS:
            name, flag = FLAGS[key]
            values[name] = flag
        elif not equals:
            values["kind"] = key
        elif key in SIZES:
            values[SIZES[key]] = metres(value)
        elif key in SHARES:
            values[SHARES[key]] = round(float(value.rstrip("%")) / 100.0, 4)
        elif key in WORDS:
            values[WORDS[key]] = value
        elif key in COUNTS:
            values[COUNTS[key]] = int(value)
        elif key == "angle":
            values["angle_deg"] = float(value)
        elif key == "clock":
            values["clock"] = clock(value)
        else:
            raise ValueError(f"unknown key: {word!r}")
    return values


def clock(value: str) -> dict[str, Any]:
    """Read ``2``, ``10-2`` or ``all`` as hours of the clock."""
    if value == "all":
        return {"all_round": True}
    first, _, last = value.partition("-")
    hours: dict[str, Any] = {"from_h": float(first) % 12.0}
    if last:
        hours["to_h"] = float(last) % 12.0
    return hours


def finding_label(label: str, line: Line, cue_ends: dict[float, float]) -> dict[str, Any]:
    """Return one finding label with its time window."""
    feature, *rest = label.split()
    end_s, stretch, others = line.end_s, False, []
    words = []
    for word in rest:
        if word.startswith(".."):
            end_s = cue_ends[seconds(word[2:])]
        elif word.startswith("until="):
            end_s, stretch = seconds(word[6:]), True
            if end_s not in cue_ends:
                raise ValueError(f"no cue at the end of the stretch: {label!r}")
        elif word.startswith("or="):
            others = word[3:].split(",")
        elif word == "optional":
            continue
        else:
            words.append(word)
    return {
        "feature": feature,
        "or": others,
        "start_s": line.start_s,
        "end_s": round(end_s, 1),
        "stretch": stretch,
        "optional": "optional" in rest,
        "stated": stated(words),
        "text": line.text,
    }


def fact_label(words: list[str], line: Line) -> dict[str, Any]:
    """Return one line-fact label."""
    kind, *rest = words
    supposed = "maybe" in rest
    value = next((word for word in rest if word != "maybe"), None)
    number = None
    if kind in NUMBER_FACTS and value is not None:
        number = float(value) if kind == "year" else metres(value)
        value = None
    return {
        "kind": kind,
        "time_s": line.start_s,
        "value": value,
        "number": number,
        "supposed": supposed,
        "text": line.text,
    }


def labels_of(talk: Talk) -> dict[str, Any]:
    """Return the label file's content."""
    out: dict[str, Any] = {
        "about": talk.about,
        "invented": True,
        "duration_s": round(talk.lines[-1].end_s, 1),
        "findings": [],
        "stations": [],
        "facts": [],
        "silent": [],
    }
    cue_ends = {line.start_s: line.end_s for line in talk.lines}
    for line in talk.lines:
        for label in line.labels:
            words = label.split()
            if label in SILENT:
                out["silent"].append(
                    {
                        "start_s": line.start_s,
                        "end_s": round(line.end_s, 1),
                        "because": label[1:],
                        "text": line.text,
                    }
                )
            elif words[0] == "station":
                out["stations"].append(
                    {"time_s": line.start_s, "distance_m": metres(words[1]), "text": line.text}
                )
            elif words[0] == "fact":
                out["facts"].append(fact_label(words[1:], line))
            else:
                out["findings"].append(finding_label(label, line, cue_ends))
    return out


def stamp(time_s: float) -> str:
    """Write a WebVTT time."""
    minutes, rest = divmod(time_s, 60.0)
    return f"{int(minutes) // 60:02d}:{int(minutes) % 60:02d}:{rest:06.3f}"


def webvtt(talk: Talk) -> str:
    """Write the words as WebVTT, with a note that all of it is invented."""
    parts = [
        "WEBVTT",
        "NOTE Invented: the line, the people and the places do not exist. "
        + "; ".join(f"{key}: {value}" for key, value in talk.about.items()),
    ]
    parts += [f"{stamp(line.start_s)} --> {stamp(line.end_s)}\n{line.text}" for line in talk.lines]
    return "\n\n".join(parts) + "\n"


def check(labels: dict[str, Any], name: str) -> None:
    """Refuse labels that the records do not know."""
    from saltglaze.model.finding import KINDS, Feature, Grade, ScreenPlace, Turn
    from saltglaze.model.line import Material
    from saltglaze.model.talk import LineFactKind

    for label in labels["findings"]:
        feature, said = Feature(label["feature"]), label["stated"]
        [Feature(other) for other in label["or"]]
        kinds = KINDS.get(feature, ())
        if "kind" in said and said["kind"] not in kinds:
            raise ValueError(f"{name}: {feature} has no kind {said['kind']!r}: {label['text']}")
        checks: dict[str, Any] = {
            "screen": ScreenPlace,
            "turn": Turn,
            "grade_word": Grade,
            "material": Material,
            "material_after": Material,
            "place": {"crown": 1, "invert": 1}.__getitem__,
        }
        for key, read in checks.items():
            if key in said:
                read(said[key])
        if label["end_s"] < label["start_s"]:
            raise ValueError(f"{name}: ends before it starts: {label['text']}")
    for fact in labels["facts"]:
        LineFactKind(fact["kind"])
        if fact["kind"] == "material":
            Material(fact["value"])


def main() -> None:
    """Write every talk out and print how many labels each half holds."""
    for split in ("seen", "unseen"):
        findings = talks = 0
        for path in sorted((HERE / split).glob("*.talk")):
            try:
                talk = read_talk(path.read_text(encoding="utf-8"))
                labels = labels_of(talk)
                check(labels, path.name)
            except (ValueError, KeyError) as error:
                sys.exit(f"{path}: {error}")
            path.with_suffix(".vtt").write_text(webvtt(talk), encoding="utf-8")
            text = json.dumps(labels, indent=1, ensure_ascii=False)
            path.with_suffix(".json").write_text(text + "\n", encoding="utf-8")
            talks += 1
            findings += sum(not label["optional"] for label in labels["findings"])
        print(f"{split}: {talks} narrations, {findings} findings")


if __name__ == "__main__":
    main()
