"""Sides and corners of a panel."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from analyzer.records import Float

CORNER_TURN_DEG = 35.0
"""A vertex that turns by less is a bend in a side, not a corner."""


@dataclass(frozen=True, slots=True, eq=False)
class Corner:
    """A corner of a panel with its two sides, as polylines (N, 2) that start at the corner."""

    at: Float
    side_a: Float
    side_b: Float

    @property
    def lengths_mm(self) -> tuple[float, float]:
        """Lengths of the two sides."""
        return _length(self.side_a), _length(self.side_b)


def sides_of(polygon: shapely.Polygon) -> tuple[float, float]:
    """Long and short side of the smallest enclosing rectangle, mm."""
    ring = np.asarray(polygon.minimum_rotated_rectangle.exterior.coords)
    first, second = (float(np.hypot(*(ring[i + 1] - ring[i]))) for i in (0, 1))
    return max(first, second), min(first, second)


def long_axis_deg(polygon: shapely.Polygon) -> float:
    """Direction of the long side of the smallest enclosing rectangle, 0 up to 180 degrees."""
    ring = np.asarray(polygon.minimum_rotated_rectangle.exterior.coords)
    steps = np.diff(ring[:3], axis=0)
    size = np.hypot(steps[:, 0], steps[:, 1])
    step = steps[int(np.argmax(size))]
    return math.degrees(math.atan2(step[1], step[0])) % 180.0


def corners_of(polygon: shapely.Polygon) -> tuple[Corner, ...]:
    """Outward corners of a panel, each with the sides that run from it to the next corner."""
    ring = np.asarray(shapely.orient_polygons(polygon).exterior.coords)[:-1]
    into, out = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    turn = np.degrees(np.arctan2(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], np.sum(into * out, axis=1)))
    sharp = np.flatnonzero(np.abs(turn) >= CORNER_TURN_DEG)
    if len(sharp) < 2:
        return ()
    corners = []
    for k, i in enumerate(sharp):
        if turn[i] < 0:
            continue
        ahead = _run(ring, int(i), int(sharp[(k + 1) % len(sharp)]))
        behind = _run(ring, int(sharp[k - 1]), int(i))[::-1]
        corners.append(Corner(ring[i], ahead, behind))
    return tuple(corners)


def _run(ring: Float, start: int, stop: int) -> Float:
    """Vertices from start to stop, both included, going round."""
    count = (stop - start) % len(ring) or len(ring)
    run: Float = ring[(start + np.arange(count + 1)) % len(ring)]
    return run


def _length(line: Float) -> float:
    return float(np.hypot(*np.diff(line, axis=0).T).sum())
