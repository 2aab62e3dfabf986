"""How far each kind of evidence is trusted before anything else is known.

Every figure is a standard deviation unless its name says otherwise. Sources by status:
"dossier M" is from memory (field dossier section 5), "common practice, no source" is a
working value that a firm may replace. None is a measured property of any instrument.
"""

from __future__ import annotations

from typing import Final

COUNTER_SCALE: Final = 0.02
"""Scale of a rod or cable counter, 1 sigma. Contracts ask for 0.5 % (Sunny Isles Beach
section 02762, confirmed) and allow 5 % on private laterals (City of Ottawa, confirmed);
slack and wheel slip give 0 to 3 % (from memory)."""
COUNTER_ZERO_M: Final = 0.3
"""Zero taken late or early: 0.3 to 2 ft (from memory)."""
COUNTER_ZERO_GROSS: Final = (0.05, 1.5)
"""Share of counters zeroed grossly wrong, and by how much (common practice, no source)."""
COUNTER_READING_M: Final = 0.03
"""Reading noise beside the display's resolution (common practice, no source)."""
COUNTER_MISREAD_M: Final = 10.0
"""Spread of a misread digit (common practice, no source)."""
SLIP_M_PER_SQRT_M: Final = 0.04
"""Random walk of the counter against the lens (common practice, no source)."""
SLIP_JUMP_M: Final = 0.15
"""Mean size of a single slip, either way: with the walk above one in 28 m (no source)."""
SLIP_GROSS: Final = (0.001, 3.0)
"""Share of seconds with a gross slip or an unseen reset, and its spread in metres."""
RESET_M: Final = 0.3
"""Movement hidden behind a counter reset (common practice, no source)."""
BUNCHING_M: Final = 0.15
"""Cable taken up before the head follows when the run turns round (no source)."""
WANDER_M2_PER_S: Final = 0.03
"""Variance of the lens's wandering in a second where nothing else is known:
a head that moves at 0.1 to 0.2 m/s for about a second or two at a time (no source)."""
BLIND_WANDER_M2_PER_S: Final = 0.12
"""The same while no counter is read: speed varies by 0.06 m/s over a quarter of a minute,
and halts are not all seen (no source; 2 * 0.06**2 * 15)."""
UNREAD_S: Final = 3.0
"""A counter not read for this long leaves the head unwatched."""
HOLD_M2_PER_S: Final = 1e-6
"""The same while the picture stands still."""
FILM_START_M: Final = 0.05
"""The head against its start station when the film begins (no source)."""
FILM_LATE_GROSS: Final = (0.05, 3.0)
"""Share of films that start after the head has left the access, and how far in."""
SPOKEN_M: Final = 0.25
"""A distance called out: rounded, and said before or after the lens is there (no source)."""
SPOKEN_GROSS: Final = (0.08, 8.0)
"""Share of spoken distances misheard, and their spread (no source)."""
LEAD_M: Final = (0.15, 0.1)
"""How far ahead of the lens a thing lies when it is named or seen, mean and sd, one habit
for a whole run. A lens that sees 45 degrees off its axis shows the wall from one radius
ahead on (geometry: 5 cm in a 100 mm bore), and things show well up to some radii further;
who halts before a thing names it there, who talks in passing names it at the lens (no
source)."""
MOMENT_M: Final = 0.15
"""Single findings about their run's lead: seen sooner or later, spoken late (no source)."""
MOMENT_S: Final = 1.0
"""The same in seconds of movement."""
KNOWN_GROSS: Final = (0.05, 10.0)
"""Share of known stations that belong to something else (no source)."""
SAME_PLACE_M: Final = 0.1
"""The same joint or landmark passed twice (no source)."""
SAME_PLACE_GROSS: Final = (0.05, 3.0)
LAYING_SHARE: Final = 0.007
"""A recorded laying length against the one in the ground, common to a stretch: gaps,
hubs, rounding of the record (no source)."""
LAYING_UNKNOWN_SHARE: Final = 0.1
"""Spread of a laying length that only the joints themselves tell, about their median gap."""
SECTION_SHARE: Final = 0.005
"""Single sections against their stretch's laying length (no source)."""
JOINT_M: Final = 0.03
"""Moment of a joint's passage, in metres (no source)."""
JOINT_GROSS: Final = (0.1, 0.5)
"""Share of sections cut short or repaired, and their spread (no source)."""
SONDE_BEHIND_M: Final = (0.15, 0.1)
"""Transmitter behind the lens where it is not stated: mean and sd (no source)."""
STATED_COUNTER_M: Final = 0.05
"""A counter value noted by hand beside a locate (no source)."""

HEADING_RAD_PER_SQRT_M: Final = {
    "clay": 0.014,
    "concrete": 0.014,
    "asbestos_cement": 0.012,
    "cast_iron": 0.014,
    "ductile_iron": 0.014,
    "pvc": 0.02,
    "abs": 0.02,
    "polyethylene": 0.035,
    "bituminised_fibre": 0.02,
}
"""Random walk of the heading along the pipe. Rigid pipe lies straight from joint to joint
and turns about a degree at a joint; plastic follows its trench (no source)."""
HEADING_OTHER: Final = 0.02
BEND_SD_RAD: Final = 0.07
"""A factory bend against its nominal angle, with play in its joints: 4 degrees (no source)."""
BEND_UNTOLD_RAD: Final = (0.9, 0.45)
"""A bend of untold angle: between 1/16 and 1/4, mean and sd (no source)."""
UNSAID_BENDS_PER_M: Final = 0.01
"""Bends that nobody mentioned, by length (no source)."""
TURN_WORD_RIGHT: Final = 0.95
"""Chance that "left" or "right" is right where no roll confirms it (no source)."""
TURN_ROLL_RIGHT: Final = 0.98
"""The same where the roll shows the picture upright to within 45 degrees (no source)."""
TURN_ROLLED_RIGHT: Final = 0.75
"""The same where the picture lay on its side (no source)."""
TURN_BY_HAND_RIGHT: Final = 0.999
"""A turn that a person typed or edited (no source)."""
LOCATE_GROSS: Final = (0.05, 5.0)
"""Share of surface points grossly wrong, and their spread per axis (no source)."""
SONDE_SPOT_M: Final = 0.1
"""Marking the peak on the ground: per axis (no source)."""
START_POINT_M: Final = 0.3
START_STATION_M: Final = 0.1
