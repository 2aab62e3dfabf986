"""What digging asks for: the trench, its protection, and what must be said before."""

from __future__ import annotations

from saltglaze.condition.wording import UnitWords
from saltglaze.model.appraisal import Reason
from saltglaze.remedy.site import Site
from saltglaze.remedy.trench import trench


def trench_note(site: Site, words: UnitWords) -> str:
    """Say how deep, wide and large the trench is, and what must guard it."""
    depth_m = site.mean_depth_m.value
    if depth_m is None:
        return "trench not sized: the depth is not known"
    sized = trench(depth_m, site.job.line.soil)
    guard = "with trench protection" if sized.protection else "no protection needed by depth alone"
    engineer = "; an engineer must design it" if sized.engineer else ""
    return (
        f"trench about {words.depth(depth_m)} deep, {words.depth(sized.bottom_width_m)} wide, "
        f"{guard}{engineer}; {words.volume_per_length(sized.vertical_m3_per_m)} with upright "
        f"sides, {words.volume_per_length(sized.volume_m3_per_m)} if sloped"
    )


def safety(site: Site) -> tuple[Reason, ...]:
    """Return what must be said before anyone digs."""
    call = site.job.place.one_call or "the one-call service"
    reasons = [
        Reason(
            because=f"before any digging call {call}; private lines are mostly not marked, "
            "dig by hand near marks",
            source="Common Ground Alliance and state one-call pages (confirmed)",
        )
    ]
    depth_m = site.mean_depth_m.value
    if depth_m is None or trench(depth_m, site.job.line.soil).protection:
        reasons.append(
            Reason(
                because="from 5 ft of depth a trench must be shored, shielded or sloped, in bad "
                "ground before that; nobody goes into an unprotected trench",
                source="29 CFR 1926.652(a)(1) (read); local law may ask more",
            )
        )
    return tuple(reasons)


def depth_assumption(site: Site) -> tuple[str, ...]:
    """Say what depth is assumed where none was taken."""
    if site.mean_depth_m.known:
        return ()
    return ("the depth is not known: priced for 1.5 to 2.4 m",)


def dig_obstacles(site: Site, words: UnitWords) -> list[str]:
    """Say what part of the line cannot be dug from outside."""
    if site.buildings <= 0.5:
        return []
    under = words.length(site.buildings)
    return [f"{under} of the line lies under a building and stays as it is"]
