"""What the technician says over the film, as speech-to-text wrote it down.

The words stand in ``data/talk_*.toml``: each saying has its time and, for tests, what it
is about and the place on the screen that it names. Some words are mis-heard on purpose,
and long silences lie between some of them, as when a person only watches.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from importlib import resources

from saltglaze.model.finding import ScreenPlace


@dataclass(frozen=True)
class Said:
    """One cue: seconds of film, the words, the id of the wall defect or feature meant."""

    start_s: float
    end_s: float
    words: str
    about: str = ""
    screen: ScreenPlace | None = None


def sayings(*, short: bool = False) -> tuple[Said, ...]:
    """Return the talk over the long or the short take."""
    name = "talk_short.toml" if short else "talk_long.toml"
    text = resources.files("saltglaze.demo").joinpath("data", name).read_text(encoding="utf-8")
    return tuple(
        Said(
            start_s=float(row["start_s"]),
            end_s=float(row["end_s"]),
            words=str(row["words"]),
            about=str(row.get("about", "")),
            screen=ScreenPlace(row["screen"]) if "screen" in row else None,
        )
        for row in tomllib.loads(text)["said"]
    )


def webvtt(said: tuple[Said, ...]) -> str:
    """Return sayings as a WebVTT file (W3C WebVTT)."""
    cues = [f"{_stamp(s.start_s)} --> {_stamp(s.end_s)}\n{s.words}\n" for s in said]
    return "WEBVTT\n\nNOTE Invented talk over an invented line.\n\n" + "\n".join(cues)


def _stamp(time_s: float) -> str:
    minutes, milliseconds = divmod(round(time_s * 1000), 60_000)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{milliseconds // 1000:02d}.{milliseconds % 1000:03d}"
