"""Plain text with a stamp before each remark: ``[1:05] roots at this joint``."""

from __future__ import annotations

import re

from saltglaze.model.talk import Cue
from saltglaze.narration.transcripts.captions import plain_words
from saltglaze.narration.transcripts.stamps import STAMP, seconds

_STAMP = re.compile(rf"[\[(<]\s*({STAMP})\s*[\])>]|^\s*({STAMP})(?=\s|$)(?:\s*[-–—:])?", re.M)


def read_stamped(text: str) -> tuple[list[Cue], list[str]]:
    """Return one cue per stamp, ends unknown; words before the first stamp are a problem.

    A remark may run over several lines, and one line may hold several stamps.
    """
    marks = list(_STAMP.finditer(text))
    problems: list[str] = []
    if not marks:
        return [], ["no [m:ss] stamps: nothing in the talk can be given a time"]
    if text[: marks[0].start()].strip():
        problems.append("words before the first stamp were left out")
    cues: list[Cue] = []
    line, counted_to = 1, 0
    for mark, following in zip(marks, [*marks[1:], None], strict=True):
        line += text.count("\n", counted_to, mark.start(1) if mark.group(1) else mark.start(6))
        counted_to = max(counted_to, mark.start(1) if mark.group(1) else mark.start(6))
        start = seconds(mark.group(1) or mark.group(6))
        words = plain_words(text[mark.end() : following.start() if following else len(text)])
        if start is None:
            problems.append(f"line {line}: stamp {mark.group(0).strip()} is out of any range")
        elif words:
            cues.append(Cue(start_s=start, text=words, source_line=line))
    return cues, problems
