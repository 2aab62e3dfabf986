"""Read the counter of varied made-up films and compare with what they truly showed.

    python benchmarks/counter_reading.py [--first 5000] [--count 44] [--seconds 12] [--films DIR]

Prints one line a film and the totals. Seeds 5000 to 5043 were never looked at while the
reader or the rules were made. ``--harsh`` films the same scripts through a bad recorder.
Right means: the number on the frame at the moment it was sampled, to the last digit.
"""

from __future__ import annotations

import argparse
import dataclasses
import hashlib
import re
import tempfile
from pathlib import Path

import numpy as np

from saltglaze.demo.film import shoot
from saltglaze.demo.script import FilmScript, Recorder
from saltglaze.demo.truth import truth
from saltglaze.demo.varied import varied_script
from saltglaze.media.film import Film
from saltglaze.model.run import LengthUnit
from saltglaze.sight.watch import watch

FOOT_M = 0.3048
BINS = ((0.0, 0.5), (0.5, 0.9), (0.9, 0.99), (0.99, 1.01))
"""Bins of confidence for the table of calibration."""


def harsh(script: FilmScript) -> FilmScript:
    """Return the script as an old analogue recorder would have kept it, 4:3 and small."""
    draw = np.random.default_rng([script.seed, 99])
    recorder = Recorder(
        chroma_shift_px=float(draw.uniform(2, 5)),
        ghost=float(draw.uniform(0.1, 0.3)),
        bleed_px=float(draw.uniform(1.5, 3.5)),
        line_noise=float(draw.uniform(3, 6)),
        dropouts_per_s=0.15,
    )
    width, height = ((320, 240), (640, 480))[int(draw.integers(2))]
    overlay = dataclasses.replace(
        script.overlay,
        size_px=max(11, round(script.overlay.size_px * height / script.height_px)),
        margin_px=round(script.overlay.margin_px * height / script.height_px),
    )
    return dataclasses.replace(
        script,
        width_px=width,
        height_px=height,
        overlay=overlay,
        recorder=recorder,
        bitrate=int(width * height * script.fps * 0.06),
    )


def measure(script: FilmScript, path: Path) -> dict[str, float]:
    """Watch one film; return counts and print its line."""
    if not path.exists():
        unfinished = path.with_suffix(".part.mp4")
        shoot(script, unfinished)
        unfinished.rename(path)
    film = Film(path)
    counter = watch(film.frames(), film.facts, "run").counter
    overlay = script.overlay
    times = np.array([r.time_s for r in counter.readings])
    sampled = np.arange(0, script.duration_s - 0.05, 0.2) if not times.size else times
    shown = truth(script, sampled)
    readable = shown.counter_readable
    place = 10.0**-overlay.decimals
    want = np.array([_figure(text) for text in shown.counter_text])
    if times.size:
        worth = FOOT_M if counter.unit is LengthUnit.FEET else 1.0
        got = np.array(
            [np.nan if r.distance_m is None else r.distance_m / worth for r in counter.readings]
        )
    else:
        got = np.full(sampled.shape, np.nan)
    right = np.abs(got - want) < 0.01 * place
    raw = np.array([_figure(r.raw) for r in counter.readings]) if times.size else got
    raw_right = np.abs(raw - want) < 0.01 * place
    far = ~(np.abs(got - want) < 0.1 + 0.01 * place) & readable
    sure = (
        np.array([r.confidence for r in counter.readings])
        if times.size
        else np.zeros(sampled.shape)
    )
    unit_clear = bool(overlay.unit_text)
    result = {
        "readable": int(readable.sum()),
        "right": int((right & readable).sum()),
        "raw": int((raw_right & readable).sum()),
        "longest_far_s": _longest(sampled, far),
        "unit_clear": unit_clear,
        "unit_right": counter.unit == overlay.unit,
        "unread": int(not times.size),
        "resets_true": len(script.counter.resets) if overlay.shown else 0,
        "resets": len(counter.resets),
        "misreads": counter.misreads,
    }
    for low, high in BINS:
        within = readable & (sure >= low) & (sure < high)
        result[f"count {low}"] = int(within.sum())
        result[f"good {low}"] = int((within & right).sum())
    unit = "right" if result["unit_right"] else "wrong" if unit_clear else "not shown"
    print(
        f"{script.seed} {script.width_px}x{script.height_px} {overlay.font:14} "
        f"{overlay.size_px:2}px {overlay.style.value:9} {overlay.corner.value:13} "
        f"{overlay.text(12.3)!r:12} {script.bitrate // 1000:5}k "
        f"raw {raw_right[readable].mean():6.1%} right {right[readable].mean():6.1%} "
        f"of {int(readable.sum())} far {result['longest_far_s']:.1f} s unit {unit} "
        f"resets {result['resets']}/{result['resets_true']} {counter.unread_because or ''}",
        flush=True,
    )
    for k in np.flatnonzero(readable & ~right)[:3]:
        print(
            f"      at {sampled[k]:.2f} s shown {shown.counter_text[k]!r}, read "
            f"{counter.readings[k].raw if times.size else None!r}, decided {got[k]:.3f}"
        )
    return result


def _figure(text: str | None) -> float:
    match = re.search(r"[-+]?\d+(\.\d+)?", text or "")
    return float(match.group()) if match else float("nan")


def _longest(times: np.ndarray, wrong: np.ndarray) -> float:
    longest, since = 0.0, None
    for time_s, bad in zip(times, wrong, strict=True):
        since = (time_s if since is None else since) if bad else None
        longest = max(longest, time_s - since if since is not None else 0.0)
    return float(longest)


def main() -> None:
    """Measure films and print the totals."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--first", type=int, default=5000)
    ask.add_argument("--count", type=int, default=44)
    ask.add_argument("--seconds", type=float, default=12.0)
    ask.add_argument("--films", type=Path)
    ask.add_argument("--harsh", action="store_true")
    given = ask.parse_args()
    folder = given.films or Path(tempfile.mkdtemp(prefix="counter-films-"))
    folder.mkdir(parents=True, exist_ok=True)
    rows = []
    for seed in range(given.first, given.first + given.count):
        script = varied_script(seed, given.seconds)
        script = harsh(script) if given.harsh else script
        name = hashlib.sha256(repr(script).encode()).hexdigest()[:12]
        rows.append(measure(script, folder / f"{seed}-{name}.mp4"))
    total = {key: sum(row[key] for row in rows) for key in rows[0]}
    clear = [row for row in rows if row["unit_clear"]]
    whole = sum(row["right"] == row["readable"] for row in rows)
    print(
        f"\n{len(rows)} films, {total['readable']} readable sampled frames\n"
        f"right: single frames {total['raw'] / total['readable']:.2%}, "
        f"after time {total['right'] / total['readable']:.2%}; "
        f"films with every frame right {whole}; films not read {total['unread']}\n"
        f"longest wrong by more than a tenth: {max(r['longest_far_s'] for r in rows):.1f} s\n"
        f"unit right where shown: {sum(r['unit_right'] for r in clear)} of {len(clear)}; "
        f"resets told {total['resets']}, true {total['resets_true']}; misreads {total['misreads']}"
    )
    for low, high in BINS:
        count, good = total[f"count {low}"], total[f"good {low}"]
        if count:
            print(f"confidence {low:.3f} to {high:.3f}: {good / count:.1%} right of {count}")


if __name__ == "__main__":
    main()
