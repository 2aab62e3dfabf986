"""Inks of the drawings: few, dark enough to print, told apart by shape and hatch first.

Blue and vermilion stay apart for the common kinds of colour blindness (Okabe and Ito,
"Color Universal Design", 2002; from memory); every meaning is also carried by shape,
hatch, line type or a letter, so that the drawing survives a photocopier.
"""

from __future__ import annotations

from typing import Final

INK: Final = "#1b2733"
SOFT: Final = "#55626d"
FAINT: Final = "#b9c3ca"
HAIR: Final = "#dde3e7"
PAPER: Final = "#ffffff"
WATER: Final = "#1f6391"
WATER_FILL: Final = "#cfe2ef"
MARGIN95: Final = "#e9edf0"
MARGIN68: Final = "#cfd7dd"
ALARM: Final = "#a23412"
EARTH: Final = "#6d5a44"
BUILDING: Final = "#f1eee9"
STREET: Final = "#f3f5f6"
