"""What a finding is called in a sentence: by its feature and its place, never by its id."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from saltglaze.model.finding import Finding
from saltglaze.position.keys import Keys
from saltglaze.position.places import station
from saltglaze.units import ft

FINDING = "finding"


def metres(value: float, decimals: int = 1) -> str:
    """A length in metres, to so many decimals, and feet."""
    return f"{value:.{decimals}f} m ({ft(value):.1f} ft)"


def spoken_names(findings: Iterable[Finding], keys: Keys) -> dict[str, str]:
    """Return what each finding is called, by id: "the bend at 8.8 m (29.0 ft)"."""
    return {one.id: _spoken(one, station(one, keys).value) for one in findings}


def _spoken(finding: Finding, station_m: float | None) -> str:
    feature = finding.facts.feature.value.replace("_", " ")
    if station_m is not None:
        return f"the {feature} at {metres(station_m)}"
    return f"the {feature} whose place is not known"


def finding_named(key_name: str) -> str | None:
    """Return the finding's id in the name of a key or a known station, if it is a finding's.

    >>> finding_named("finding:r1-bend:end"), finding_named("locate P4")
    ('r1-bend', None)
    """
    for mark in (f"{FINDING}:", f"{FINDING} "):
        if key_name.startswith(mark):
            return key_name.removeprefix(mark).removesuffix(":end")
    return None


def told(key_name: str, names: Mapping[str, str]) -> str:
    """Return what a key or known station is called: a finding by its spoken name."""
    ident = finding_named(key_name)
    if ident is None:
        return key_name.replace(":", " ", 1)
    return names.get(ident, "a finding")
