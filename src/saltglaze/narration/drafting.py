"""Drafts of the notebook to finding records with stable ids."""

from __future__ import annotations

from collections.abc import Sequence

from saltglaze.model.finding import Certainty, DraftedBy, Evidence, Facts, Finding
from saltglaze.narration.threads import Draft


def findings_of(drafts: Sequence[Draft], run_id: str) -> tuple[Finding, ...]:
    """Return the standing drafts as findings with stable ids, in order of time."""
    findings: list[Finding] = []
    used: dict[str, int] = {}
    standing = [draft for draft in drafts if not draft.withdrawn and not draft.asked]
    for draft in sorted(standing, key=lambda d: (d.start_s, d.feature.value)):
        minutes, seconds = divmod(int(draft.start_s), 60)
        base = f"{run_id}-{minutes:02d}{seconds:02d}-{draft.feature.value}"
        used[base] = used.get(base, 0) + 1
        suffix = "" if used[base] == 1 else _letters(used[base])
        findings.append(_finding(draft, base + suffix, run_id))
    return tuple(findings)


def _letters(count: int) -> str:
    """2 -> b, 3 -> c, ..., 27 -> aa."""
    letters = ""
    count -= 1
    while True:
        letters = chr(ord("a") + count % 26) + letters
        count = count // 26 - 1
        if count < 0:
            return letters


def _finding(draft: Draft, finding_id: str, run_id: str) -> Finding:
    facts = Facts(
        feature=draft.feature,
        certainty=Certainty.SUPPOSED if draft.supposed else Certainty.CERTAIN,
        **draft.fields,
    )
    end_s = draft.ended_s if draft.ended_s is not None else draft.last_s
    return Finding(
        id=finding_id,
        draft=facts,
        evidence=Evidence(
            drafted_by=DraftedBy.NARRATION,
            run_id=run_id,
            words=tuple(draft.words),
            mention_ids=tuple(draft.mentions),
        ),
        start_s=round(draft.start_s, 2),
        end_s=round(max(end_s, draft.start_s), 2),
    )
