"""The sheet alone, for printing at its scale."""

from __future__ import annotations

from saltglaze.report.blocks import Figures, Paper, Section
from saltglaze.report.frame import Frame
from saltglaze.report.sheet.scene import Scene


def sheet_paper(frame: Frame, scenes: tuple[Scene, ...]) -> Paper:
    """Return a paper of nothing but the sheets, one landscape page each."""
    drawings = tuple(frame.drawing(s, f"sheet{i}") for i, s in enumerate(scenes, start=1))
    return Paper(
        language=frame.words.language,
        title="",
        subtitle="",
        foot=frame.foot,
        author=frame.appraisal.job.firm.name if frame.appraisal.job.firm else "",
        document_title=scenes[0].title,
        sections=(Section("sheet", "", (Figures(drawings, landscape=True),)),),
    )
