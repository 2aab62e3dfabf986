"""How long an hour of talk takes to interpret, against a named peer in the same run.

The peer is Python's own ``re`` splitting the same text into words twenty times over:
work that anyone can repeat, on the same core, in the same minute.

    python benchmarks/listening_speed.py
"""

from __future__ import annotations

import random
import re
import resource
import time

from saltglaze.model.talk import Cue, Transcript
from saltglaze.narration import listen

REMARKS = (
    "Okay we're at {n} feet, roots at this joint from ten to two, maybe thirty percent.",
    "Longitudinal crack along the top, runs about three feet, hairline.",
    "No cracks, no offsets through here, joints look tight.",
    "There's a wye on the left at nine o'clock, that's probably the laundry.",
    "So I told the customer the maple out front is what's doing this to him every spring.",
    "Little belly here, holding about a third of a pipe, lens has gone under.",
    "Alright we're out of the water, clear again.",
    "We jetted this at three thousand psi, two passes, with the root cutter.",
    "routes at the joined and a sir conferential crack just past it",
)
WORDS_PER_MINUTE = 140
SEED = 7


def hour_of_talk() -> Transcript:
    """Return an hour of dense invented talk, about 140 words a minute without a pause."""
    rng = random.Random(SEED)
    cues, at_s, n = [], 0.0, 1
    while at_s < 3600.0:
        text = rng.choice(REMARKS).format(n=n)
        lasts_s = len(text.split()) * 60.0 / WORDS_PER_MINUTE
        cues.append(Cue(start_s=at_s, end_s=at_s + lasts_s, text=text))
        at_s, n = at_s + lasts_s, n + 1
    return Transcript(cues=tuple(cues))


def best_of(times: int, work) -> float:
    """Return the least processor time of several runs, in seconds."""
    least = float("inf")
    for _ in range(times):
        began = time.process_time()
        work()
        least = min(least, time.process_time() - began)
    return least


def main() -> None:
    """Print seconds, words a second and the ratio to the peer."""
    talk = hour_of_talk()
    text = " ".join(cue.text for cue in talk.cues)
    began = time.process_time()
    heard = listen(talk)
    first_s = time.process_time() - began
    listen_s = best_of(3, lambda: listen(talk))
    splitter = re.compile(r"[a-z]+(?:'[a-z]+)?", re.IGNORECASE)
    peer_s = best_of(3, lambda: [splitter.findall(text) for _ in range(20)])
    words = len(text.split())
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    print(f"an hour of dense talk: {words} words, {len(heard.findings)} findings")
    print(f"  first run, tables read and compiled: {first_s:.2f} s of one core")
    print(f"  interpreting: {listen_s:.2f} s of one core ({words / listen_s:,.0f} words/s)")
    print(f"  ratio to splitting the words 20 times with re: {listen_s / peer_s:.0f}")
    print(f"  peak memory of the process: {peak_mb:.0f} MB")


if __name__ == "__main__":
    main()
