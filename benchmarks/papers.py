"""Time of the papers of thirty findings, against compiling the same typst files bare.

Run: ``.venv/bin/python benchmarks/papers.py``. Each figure is the best of five fresh
processes, wall clock and processor time, imports left out. The peer is typst itself,
compiling the very files that the report lays out, already written to disk; both start
with an empty compiler cache.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "report"))

import appraisals

from saltglaze.report.frame import Frame
from saltglaze.report.measures import Measures
from saltglaze.report.owner import owner_report
from saltglaze.report.papers import write_papers
from saltglaze.report.sheet.sheet import sheets
from saltglaze.report.typeset import compile_folder, lay_out
from saltglaze.report.wording import Words

ROUNDS = 5


def once(what: str, folder: Path) -> None:
    """Do one thing once and print its wall and processor seconds."""
    appraisal = appraisals.many(30, 25.0)
    words = Words()
    frame = Frame(appraisal, words, Measures("us", words), "letter")
    out, laid = folder / "out", folder / "laid"
    wall, processor = time.perf_counter(), time.process_time()
    if what == "report":
        scenes = sheets(appraisal, frame.measures, frame.page)
        lay_out(owner_report(frame, scenes, out), frame.page, laid)
        compile_folder(laid)
    elif what == "bare":
        compile_folder(laid)
    else:
        write_papers(appraisal, out)
    print(time.perf_counter() - wall, time.process_time() - processor)


def best(what: str, folder: Path) -> tuple[float, float]:
    """Return the least wall and processor seconds over fresh processes."""
    times = []
    for _ in range(ROUNDS):
        command = [sys.executable, __file__, what, str(folder)]
        told = subprocess.run(command, check=True, capture_output=True, text=True).stdout
        times.append(tuple(float(t) for t in told.split()))
    return min(t[0] for t in times), min(t[1] for t in times)


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for part in ("out", "laid"):
            (folder / part).mkdir()
        appraisals.draw_stills(appraisals.many(30, 25.0), folder / "out")
        figures = {what: best(what, folder) for what in ("report", "bare", "all")}
        for what, (wall, processor) in figures.items():
            print(f"{what:<8} {wall:.2f} s wall, {processor:.2f} s processor")
        ratio = figures["report"][1] / figures["bare"][1]
        print(f"report.pdf over bare typst, processor time: {ratio:.1f}")
        for path in sorted((folder / "out").iterdir()):
            if path.is_file():
                print(f"  {path.name:<20} {path.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    if len(sys.argv) == 3:
        once(sys.argv[1], Path(sys.argv[2]))
    else:
        main()
