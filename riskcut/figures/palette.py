"""The colours and marks of every figure.

Eight hues that differ in lightness as well as in hue, each paired with its own marker and line, so that a
figure printed in grey or read by a colour-blind reader says the same.
"""

from __future__ import annotations

from dataclasses import dataclass

from matplotlib.typing import LineStyleType

INK = "#1d2226"
GREY = "#8d9499"
PALE = "#c3c8cb"
TARGET = "#9c2f23"
SHORT = "#f3e4df"
"""Ground of the side on which a target is missed, or a limit state fails."""
BAND = "#c9d7e3"
WATER = "#2f6690"
WATER_BODY = "#dbe8f1"

HUES = ("#1f3a5f", "#b4532a", "#2f8079", "#c7952f", "#6b4472", "#6fa0c4", "#66752f", "#c08b95")
MARKERS = ("o", "s", "^", "D", "v", "P", "X")
DASHES: tuple[LineStyleType, ...] = (
    "-",
    (0, (5, 1.6)),
    (0, (1.4, 1.4)),
    (0, (6, 1.6, 1.4, 1.6)),
    (0, (9, 3)),
)


@dataclass(frozen=True, slots=True)
class Mark:
    """How one series is told from the others."""

    colour: str
    marker: str
    dashes: LineStyleType


def mark(index: int) -> Mark:
    """Return the mark of the series with this index: 280 differ before the first comes back.

    The three cycles have lengths 8, 7 and 5, which share no factor.
    """
    return Mark(HUES[index % len(HUES)], MARKERS[index % len(MARKERS)], DASHES[index % len(DASHES)])
