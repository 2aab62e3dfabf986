"""Readers for talk: WebVTT, SRT, stamped plain text, JSON of speech recognisers."""

from saltglaze.narration.transcripts.read import read_transcript

__all__ = ["read_transcript"]
