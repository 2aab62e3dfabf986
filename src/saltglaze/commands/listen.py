"""``saltglaze listen``: drafted findings and line facts from a transcript or a voice."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Final

import typer

from saltglaze.model.appraisal import Heard
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Facts
from saltglaze.model.run import Run
from saltglaze.model.talk import Transcript
from saltglaze.narration.listen import listen
from saltglaze.narration.transcripts import read_transcript
from saltglaze.store.folder import MAX_TALK_BYTES, read_bytes

TALK_ENDINGS: Final = (".vtt", ".srt", ".txt", ".json")


def listen_to(file: Path, *, as_json: bool, model: Path | None) -> None:
    """Print what was understood. Raises InputError, MediaError or MissingPartError."""
    transcript = _transcript(file, model)
    heard = listen(transcript, Run(id="talk"))
    if as_json:
        typer.echo(heard.model_dump_json(indent=1, exclude_none=True))
        return
    for problem in transcript.problems:
        typer.echo(f"saltglaze: {file.name}: {problem}", err=True)
    _print(heard)


def _transcript(file: Path, model: Path | None) -> Transcript:
    if file.suffix.lower() in TALK_ENDINGS:
        return read_transcript(read_bytes(file, limit=MAX_TALK_BYTES), file.name)
    from saltglaze.media.audio import samples
    from saltglaze.narration.models import find_model
    from saltglaze.narration.speech import transcribe

    speech = find_model(model)
    return transcribe(samples(file), speech, on_progress=_percent)


def _percent(done_s: float, whole_s: float) -> None:
    if sys.stderr.isatty():
        share = done_s / whole_s if whole_s else 1.0
        typer.echo(f"\rlistening {share:4.0%}", nl=share >= 1.0, err=True)


def _print(heard: Heard) -> None:
    typer.echo(f"{len(heard.findings)} findings")
    for finding in heard.findings:
        words = " / ".join(finding.evidence.words)
        typer.echo(f"{clock(finding.start_s)}  {_facts(finding.draft)}")
        typer.echo(f"         {words}")
    typer.echo(f"{len(heard.facts)} facts about the line")
    for fact in heard.facts:
        value = fact.value or (_number(fact.number) if fact.number else "")
        typer.echo(f"{clock(fact.time_s)}  {fact.kind.value}: {value}")
    for mention in heard.mentions:
        for correction in mention.corrections:
            typer.echo(
                f"{clock(mention.start_s)}  heard {correction.heard!r}, "
                f"understood {correction.understood!r}"
            )


def clock(time_s: float | None) -> str:
    """Return seconds of film as h:mm:ss."""
    if time_s is None:
        return "-:--:--"
    minutes, seconds = divmod(int(time_s), 60)
    return f"{minutes // 60}:{minutes % 60:02d}:{seconds:02d}"


def _facts(facts: Facts) -> str:
    said = [facts.feature.value.replace("_", " ")]
    for name, value in facts:
        if name == "feature" or value in (None, ""):
            continue
        if isinstance(value, Estimate):
            said.append(f"{name} {_number(value)}")
        elif hasattr(value, "from_h"):
            end = f" to {value.to_h or 12:g}" if value.to_h is not None else ""
            said.append(f"{value.from_h or 12:g}{end} o'clock")
        else:
            said.append(f"{name} {value}")
    return ", ".join(said)


def _number(estimate: Estimate) -> str:
    if estimate.value is None:
        return f"unknown ({estimate.unknown_because})"
    return f"{estimate.value:.3g} ± {estimate.spread:.1g}"
