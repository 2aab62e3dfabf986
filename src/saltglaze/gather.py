"""Bring together what was typed, heard and seen, and lay a person's edits over it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from saltglaze.model.appraisal import Check, Verdict
from saltglaze.model.finding import Edit, Facts, Feature, Finding

SAME_THING_S: Final = 8.0
"""Talk about a thing and the sight of it lie this close in the film: common practice, no source."""


def gather(
    typed: Iterable[Finding],
    heard: Iterable[Finding],
    seen: Iterable[Finding],
    edits: dict[str, Finding],
) -> tuple[tuple[Finding, ...], tuple[Check, ...]]:
    """Return all findings, each once, with its edit, and a check for each edit without one.

    What the eye drafted on its own is laid into what was said or typed of the same
    feature at the same moment: words keep their fields, sight fills the unknown ones.
    """
    findings = [*typed, *heard]
    for sight in seen:
        spoken = next((f for f in findings if _same_thing(f, sight)), None)
        if spoken is None:
            findings.append(sight)
        else:
            findings[findings.index(spoken)] = _filled(spoken, sight)
    known = {finding.id for finding in findings}
    edited = tuple(_edited(finding, edits.get(finding.id)) for finding in findings)
    lost = (edit for name, edit in edits.items() if name not in known)
    return edited, tuple(_lost(edit) for edit in lost)


_SEEN_AS: Final = {Feature.STANDING_WATER: (Feature.STANDING_WATER, Feature.SAG)}
"""What the eye sees of a thing that the talk may call by another name."""


def _same_thing(one: Finding, other: Finding) -> bool:
    feature = other.draft.feature
    if one.draft.feature not in _SEEN_AS.get(feature, (feature,)):
        return False
    if one.evidence.run_id != other.evidence.run_id:
        return False
    if one.start_s is None or other.start_s is None:
        return False
    one_end, other_end = one.end_s or one.start_s, other.end_s or other.start_s
    return one.start_s - SAME_THING_S <= other_end and other.start_s - SAME_THING_S <= one_end


def _filled(spoken: Finding, sight: Finding) -> Finding:
    """Fill the unknown facts of what was said from what was seen."""
    said, saw = spoken.draft, sight.draft
    gaps = {
        name: getattr(saw, name)
        for name in Facts.model_fields
        if getattr(said, name) is None and getattr(saw, name) is not None
    }
    evidence = spoken.evidence.model_copy(
        update={"frames_s": (*spoken.evidence.frames_s, *sight.evidence.frames_s)}
    )
    return spoken.model_copy(update={"draft": said.model_copy(update=gaps), "evidence": evidence})


def _edited(finding: Finding, edit: Finding | None) -> Finding:
    if edit is None or edit.edit is None:
        return finding
    change: Edit = edit.edit
    return finding.model_copy(
        update={
            "edit": change,
            "station_m": change.station_m or finding.station_m,
            "end_station_m": change.end_station_m or finding.end_station_m,
        }
    )


def _lost(edit: Finding) -> Check:
    return Check(
        name="edit without its finding",
        verdict=Verdict.DOUBT,
        about=edit.id,
        reason=f"{edit.evidence.typed_in} edits {edit.id!r}, which was not drafted this time",
        mend="name an id of the findings table in the report, or leave the cell edits empty",
    )
