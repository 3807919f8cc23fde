"""Colours, line weights and label placing shared by all figures.

A crack is told from a joint by line style as well as by colour, and a wide crack from a fine one
by line weight and by its label, so that the figures read in black and white and for colour-blind
readers.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from analyzer.records import CrackSize
from analyzer.units import format_width

CRACK = "#a3003f"
JOINT = "#0b4f8a"
OUTLINE = "#2b2b2b"
PANEL_FILL = "#ece8e1"
PANEL_MARKED = "#f3d9b8"
UNSEEN = "#8a8a8a"
HOUSE = "#5b4636"
STATION = "#1f5f3a"
SET_OUT = "#1f5f3a"
NEW_JOINT = "#7a3b00"
CONTOUR = "#4f6d8f"
GRIND = "#a3003f"
NEW_CONCRETE = "#cfd8dc"
WATER = "#d3e6f2"
WATER_EDGE = "#3b7ea8"
HIGHLIGHT = "#f2b84b"
PAPER = "#ffffff"


@dataclass(frozen=True, slots=True)
class Box:
    """An axis-parallel box in figure units, y downwards."""

    x: float
    y: float
    width: float
    height: float

    def overlaps(self, other: Box) -> bool:
        """Whether two boxes share area."""
        return (
            self.x < other.x + other.width
            and other.x < self.x + self.width
            and self.y < other.y + other.height
            and other.y < self.y + self.height
        )

    def inside(self, other: Box) -> bool:
        """Whether this box lies within the other."""
        return (
            self.x >= other.x
            and self.y >= other.y
            and self.x + self.width <= other.x + other.width
            and self.y + self.height <= other.y + other.height
        )


_AROUND: tuple[tuple[float, float], ...] = (
    (1, -1), (1, 1), (-1, -1), (-1, 1), (0, -1.4), (0, 1.4), (1.6, 0), (-1.6, 0),
)  # fmt: skip


def place_label(
    anchor: tuple[float, float],
    size: tuple[float, float],
    taken: Sequence[Box],
    frame: Box,
    prefer: tuple[float, float] | None = None,
) -> Box:
    """Find a place for a label near its anchor that covers no other label.

    Tries rings of positions around the anchor and returns the first free one inside the frame,
    or the nearest position if none is free (a covered label is better than none). With ``prefer``
    (x, y, y downwards) the positions in that direction are tried first.
    """
    width, height = size
    first: Box | None = None
    around = _AROUND if prefer is None else sorted(_AROUND, key=lambda d: -_along(d, prefer))
    for ring in (0.8, 1.6, 2.6, 3.8, 5.2):
        for dx, dy in around:
            x = anchor[0] + dx * ring * height - (width if dx < 0 else width / 2 if dx == 0 else 0)
            y = anchor[1] + dy * ring * height - height / 2
            box = Box(x, y, width, height)
            if not box.inside(frame):
                continue
            first = first or box
            if not any(box.overlaps(other) for other in taken):
                return box
    return first or Box(anchor[0], anchor[1], width, height)


def _along(position: tuple[float, float], direction: tuple[float, float]) -> float:
    """Cosine between a position round a label and a direction."""
    x, y = position
    return (x * direction[0] + y * direction[1]) / math.hypot(x, y)


def crack_weight(crack: CrackSize) -> float:
    """Relative line weight: 1 for fine, 1.7 for medium, 2.6 for wide cracks.

    The steps are 1 mm and 2 mm (fine, medium, wide of ACI 201.1R, from memory). A crack without
    a width is drawn as fine.
    """
    width_mm = crack.width_max_mm
    if width_mm is None or width_mm < 1.0:
        return 1.0
    return 1.7 if width_mm <= 2.0 else 2.6


def crack_label(crack: CrackSize, system: str) -> str:
    """``C3: 0.12 in (3.1 mm)``, or ``C3: under 0.4 mm`` where the photo could not measure it."""
    if crack.width_max_mm is not None:
        return f"{crack.crack_id}: {format_width(crack.width_max_mm, system)}"
    if crack.width_upper_mm is not None:
        return f"{crack.crack_id}: under {format_width(crack.width_upper_mm, system)}"
    return f"{crack.crack_id}: width unknown"


def longest_branch_middle(lines: Iterable[Sequence[tuple[float, float]]]) -> tuple[float, float] | None:
    """The middle vertex of the polyline with the most vertices: where a label points."""
    longest: Sequence[tuple[float, float]] = max(lines, key=len, default=())
    return longest[len(longest) // 2] if longest else None
