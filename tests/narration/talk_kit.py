"""Short talks of invented remarks, and what the ear drafts from them."""

from saltglaze.model.talk import Cue, Transcript
from saltglaze.narration import listen


def drafts(*remarks, every_s=9.0):
    """Listen to remarks, one cue of four seconds each; return the drafted facts."""
    cues = tuple(
        Cue(start_s=100.0 + every_s * i, end_s=104.0 + every_s * i, text=text)
        for i, text in enumerate(remarks)
    )
    return [f.draft for f in listen(Transcript(cues=cues)).findings]


def found(*said: str, apart_s: float = 5.0) -> list[str]:
    """The features that remarks so far apart give, between a start and a bright picture."""
    cues, start_s = [Cue(start_s=0.0, end_s=4.0, text="In at the clean-out, clay.")], 60.0
    for text in said:
        end_s = start_s + 1.0 + len(text.split()) / 2.6
        cues.append(Cue(start_s=start_s, end_s=end_s, text=text))
        start_s = end_s + apart_s
    cues.append(Cue(start_s=start_s + 30.0, end_s=start_s + 33.0, text="Bright picture today."))
    heard = listen(Transcript(cues=tuple(cues), source="a test"))
    return [finding.draft.feature.value for finding in heard.findings]
