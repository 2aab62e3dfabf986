"""The whole main job on the demo against bare decoding of the same film.

    python benchmarks/appraise_demo.py demo-job

Both run in their own process, in turn, on this machine; wall and processor seconds, peak
memory, and the ratios are printed. The kept tracks are not used: the film is watched.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import time
from pathlib import Path

DECODE = """
import sys, av
with av.open(sys.argv[1]) as film:
    stream = film.streams.video[0]
    stream.thread_type = "AUTO"
    print(sum(1 for _ in film.decode(stream)))
"""


def measured(command: list[str]) -> tuple[float, float, float]:
    """Return wall seconds, processor seconds and peak memory (MB) of a command."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.monotonic()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    wall_s = time.monotonic() - start
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu_s = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    return wall_s, cpu_s, after.ru_maxrss / 1024.0


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("jobdir", type=Path)
    given = parser.parse_args()
    film = next(given.jobdir.glob("run.*"))
    bare = measured([sys.executable, "-c", DECODE, str(film)])
    whole = measured(
        [sys.executable, "-m", "saltglaze", "appraise", str(given.jobdir), "--watch-again"]
    )
    for name, (wall_s, cpu_s, peak_mb) in (("bare decoding", bare), ("appraise", whole)):
        print(f"{name:14} {wall_s:7.1f} s wall {cpu_s:7.1f} s processor {peak_mb:6.0f} MB peak")
    print(f"ratio          {whole[0] / bare[0]:7.2f}   wall {whole[1] / bare[1]:7.2f}   processor")


if __name__ == "__main__":
    main()
