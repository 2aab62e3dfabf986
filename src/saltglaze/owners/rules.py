"""Who owns the pipe, by the local rule; there is no default.

Sample rules differ from town to town: to the main, to and including the connection,
to the property line (city pages of Fresno, St. Helena, Napa and others, confirmed).
Without a cited rule the pipe's owner is unknown.
"""

from __future__ import annotations

from saltglaze.model.appraisal import Reason
from saltglaze.model.ground import Parcel, ParcelKind
from saltglaze.model.job import Job, OwnershipRule

NO_RULE = "no local rule on who owns the line was given for this place"


def private_owner(job: Job) -> str:
    """Return how to call the owner of the building that the line serves."""
    if job.owner is not None and job.owner.name:
        return job.owner.name
    return "the owner of the building served"


def public_owner(rule: OwnershipRule) -> str:
    """Return how to call the authority."""
    return rule.authority or "the sewer authority"


def pipe_owner(job: Job, ground: Parcel | None, *, known_ground: bool) -> tuple[str | None, Reason]:
    """Return who owns the pipe under a piece of ground, and why.

    ``known_ground`` is false where the line is not tied to the map at all.
    """
    rule = job.place.ownership
    if rule is None:
        return None, Reason(because=NO_RULE, rule="no default is taken")
    if rule.split in {"main", "main_connection"}:
        ends = "up to and including the connection" if _connection(rule) else "up to the main"
        return private_owner(job), _cited(f"the owner keeps the line {ends}", rule)
    if not known_ground:
        because = "the rule splits the line on the ground, and the line is not tied to the map"
        return None, _cited(because, rule)
    return _by_ground(job, ground, rule)


def _by_ground(job: Job, ground: Parcel | None, rule: OwnershipRule) -> tuple[str | None, Reason]:
    if ground is None:
        return None, _cited("no outline on the map covers this stretch", rule)
    if rule.split == "property_line":
        return _by_property_line(job, ground, rule)
    if rule.split == "building":
        inside = ground.kind is ParcelKind.BUILDING
        who = private_owner(job) if inside else public_owner(rule)
        return who, _cited("the private part ends at the building", rule)
    return None, _cited(f'the split "{rule.split}" is not one that we know', rule)


def _by_property_line(job: Job, ground: Parcel, rule: OwnershipRule) -> tuple[str | None, Reason]:
    if ground.kind is ParcelKind.RIGHT_OF_WAY:
        because = "beyond the property line, in the street right of way"
        return public_owner(rule), _cited(because, rule)
    if ground.kind is ParcelKind.WATER:
        return None, _cited("it lies under water, which the rule does not name", rule)
    return private_owner(job), _cited("on the building's side of the property line", rule)


def _connection(rule: OwnershipRule) -> bool:
    if rule.connection_private is not None:
        return rule.connection_private
    return rule.split == "main_connection"


def _cited(because: str, rule: OwnershipRule) -> Reason:
    return Reason(because=because, rule=f"split at {rule.split}", source=rule.citation)
