"""From talk to drafted findings: transcripts read, trade words heard, threads followed."""

from saltglaze.narration.listen import listen
from saltglaze.narration.transcripts import read_transcript

__all__ = ["listen", "read_transcript"]
