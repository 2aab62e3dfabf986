"""Time one full watch of a long 720p film against bare decoding of the same file.

    python benchmarks/watch_throughput.py [--seconds 600] [--rounds 2] [--film FILE]

The film is a rendered clip, its packets repeated to the length asked for. Bare decoding
is PyAV with automatic threads that takes each picture and lets it go. Each pass runs in a
process of its own, by turns; the best time of each kind counts. Peak memory is the
process's largest resident set (VmHWM of /proc/self/status: Linux only).
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import re
import subprocess
import sys
import tempfile
import time
from fractions import Fraction
from pathlib import Path

import av

from saltglaze.demo.film import shoot
from saltglaze.demo.varied import varied_script
from saltglaze.media.film import Film
from saltglaze.sight.watch import watch

CLIP_S = 12.0


def long_film(path: Path, seconds: float) -> None:
    """Write a film of ``seconds`` by repeating the packets of a rendered clip."""
    clip = path.with_name("clip.mp4")
    script = varied_script(7101, CLIP_S)
    script = dataclasses.replace(
        script, width_px=1280, height_px=720, stored_width_px=None, fps=25.0, bitrate=4_500_000
    )
    shoot(script, clip)
    with av.open(str(clip)) as source, av.open(str(path), "w") as target:
        stream = source.streams.video[0]
        copy = target.add_stream_from_template(stream)
        packets = [p for p in source.demux(stream) if p.pts is not None]
        length = round(CLIP_S / Fraction(stream.time_base))
        times = [(p.pts, p.dts) for p in packets]
        for turn in range(max(1, round(seconds / CLIP_S))):
            for packet, (pts, dts) in zip(packets, times, strict=True):
                packet.pts, packet.dts = pts + turn * length, dts + turn * length
                packet.stream = copy
                target.mux(packet)


def bare(path: Path) -> int:
    """Decode every picture and let it go."""
    with av.open(str(path)) as source:
        stream = source.streams.video[0]
        stream.thread_type = "AUTO"
        return sum(1 for _ in source.decode(stream))


def full(path: Path) -> int:
    """Decode and watch with every eye."""
    film = Film(path)
    return len(watch(film.frames(), film.facts, "run").counter.readings)


def peak_mb() -> float:
    """Return this process's largest resident set so far, in megabytes."""
    return int(re.search(r"VmHWM:\s+(\d+)", Path("/proc/self/status").read_text()).group(1)) / 1024


def once(kind: str, path: Path) -> dict[str, float]:
    """Run one pass in a process of its own; return seconds, peak megabytes and a count."""
    told = subprocess.run(
        [sys.executable, __file__, "--one", kind, "--film", str(path)],
        check=True,
        capture_output=True,
        text=True,
    )
    return json.loads(told.stdout.splitlines()[-1])


def main() -> None:
    """Time by turns and print the ratio."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--seconds", type=float, default=600.0)
    ask.add_argument("--rounds", type=int, default=2)
    ask.add_argument("--film", type=Path)
    ask.add_argument("--one", choices=["bare", "full"])
    given = ask.parse_args()
    if given.one:
        begin, cpu = time.perf_counter(), time.process_time()
        count = bare(given.film) if given.one == "bare" else full(given.film)
        peak = peak_mb()
        spent = {"s": time.perf_counter() - begin, "cpu_s": time.process_time() - cpu}
        print(json.dumps({**spent, "mb": peak, "count": count}))
        return
    with tempfile.TemporaryDirectory(prefix="watch-") as folder:
        path = given.film or Path(folder) / "long.mp4"
        if not path.exists():
            long_film(path, given.seconds)
        runs = [(kind, once(kind, path)) for _ in range(given.rounds) for kind in ("bare", "full")]
    best = {
        kind: min((r for k, r in runs if k == kind), key=lambda r: r["s"])
        for kind in ("bare", "full")
    }
    for kind, run in runs:
        print(f"{kind}: {run['s']:.1f} s, {run['cpu_s']:.1f} cpu s, peak {run['mb']:.0f} MB")
    print(
        f"full pass over {best['bare']['count']:.0f} pictures: "
        f"{best['full']['s'] / best['bare']['s']:.2f} times bare decoding by the clock, "
        f"{best['full']['cpu_s'] / best['bare']['cpu_s']:.2f} by processor time; "
        f"peak {best['full']['mb']:.0f} MB; {best['full']['count']:.0f} counter readings"
    )


if __name__ == "__main__":
    main()
