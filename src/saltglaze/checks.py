"""All checks of an appraisal, from the rooms that made them."""

from __future__ import annotations

from saltglaze.model.appraisal import Appraisal, Check


def all_checks(appraisal: Appraisal) -> tuple[Check, ...]:
    """Return every check: of the job itself, the talk, position, drainage and cleaning."""
    return (
        *appraisal.checks,
        *(check for heard in appraisal.heard for check in heard.checks),
        *appraisal.position.checks,
        *appraisal.drainage.checks,
        *appraisal.cleaning.checks,
    )
