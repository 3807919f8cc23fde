"""Lines that drawings take from a grade plan: where the surface falls, and a cut through it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from analyzer.records import FieldBook, Float, GradePlan, PointMm
from analyzer.records.tin import interpolate, triangle_areas
from analyzer.terms import HeightKind

_FLAT = 1e-5
_LEAST_PART = 0.05
_ARROW_PART = 0.2
_SAMPLES = 60
_OPENINGS = (HeightKind.DOOR_SILL, HeightKind.GARAGE_FLOOR)


@dataclass(frozen=True, slots=True)
class Fall:
    """An arrow down the finished surface of one part, with its slope (rise over run)."""

    start_mm: PointMm
    end_mm: PointMm
    slope: float


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """A cut through the surfaces: distance along it, old and finished height (S,), mm.

    ``name`` is the opening it runs through, empty where it runs through the middle;
    ``from_start`` whether that lies at the start, the high end.
    """

    start_mm: PointMm
    end_mm: PointMm
    along_mm: Float
    old_mm: Float
    finished_mm: Float
    name: str
    from_start: bool = True


def falls(plan: GradePlan) -> tuple[Fall, ...]:
    """One arrow for each plane part of the finished surface that is not level."""
    if plan.plane is None or not plan.triangles:
        return ()
    xy, finished, triangles = _mesh(plan)
    corners = xy[triangles]
    e1, e2 = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    rise1 = finished[triangles[:, 1]] - finished[triangles[:, 0]]
    rise2 = finished[triangles[:, 2]] - finished[triangles[:, 0]]
    det = e1[:, 0] * e2[:, 1] - e1[:, 1] * e2[:, 0]
    gradient = np.column_stack(
        [(rise1 * e2[:, 1] - rise2 * e1[:, 1]) / det, (rise2 * e1[:, 0] - rise1 * e2[:, 0]) / det]
    )
    areas = triangle_areas(xy, triangles)
    _, part = np.unique(np.round(gradient, 4), axis=0, return_inverse=True)
    out = []
    for k in range(int(part.max()) + 1):
        own = part.ravel() == k
        if areas[own].sum() < _LEAST_PART * areas.sum():
            continue
        g = np.average(gradient[own], axis=0, weights=areas[own])
        slope = float(np.hypot(*g))
        if slope < _FLAT:
            continue
        centres = corners[own].mean(axis=1)
        middle = np.average(centres, axis=0, weights=areas[own])
        inside = shapely.union_all([shapely.Polygon(c) for c in corners[own]], grid_size=1e-3)
        if not inside.contains(shapely.Point(middle)):
            middle = centres[int(areas[own].argmax())]
        reach = _ARROW_PART * math.sqrt(float(areas[own].sum()))
        down = -g / slope
        start, end = middle - down * reach, middle + down * reach
        out.append(Fall((float(start[0]), float(start[1])), (float(end[0]), float(end[1])), slope))
    return tuple(out)


def cut(field: FieldBook, plan: GradePlan) -> Profile | None:
    """The section to draw: along the fall, through the first door if there is one, else the middle.

    None where no levels were read.
    """
    if not plan.levels_known or not plan.triangles:
        return None
    xy, finished, triangles = _mesh(plan)
    polygon = shapely.Polygon([(c.x_mm, c.y_mm) for c in field.outline])
    a, b, _ = plan.plane or (0.0, 0.0, 0.0)
    steep = math.hypot(a, b)
    down = np.array([-a, -b]) / steep if steep > _FLAT else np.array([1.0, 0.0])
    door = next((h for h in field.heights if h.kind in _OPENINGS), None)
    middle = polygon.representative_point()
    through = np.array(door.at_mm) if door else np.array([middle.x, middle.y])
    reach = 2.0 * float(np.ptp(xy, axis=0).sum())
    line = shapely.LineString([through - down * reach, through + down * reach])
    parts = [p for p in shapely.get_parts(polygon.intersection(line)) if p.geom_type == "LineString"]
    if not parts:
        return None
    chord = min(parts, key=lambda p: (round(p.distance(shapely.Point(through))), -p.length))
    start, end = np.array(chord.coords[0]), np.array(chord.coords[-1])
    if (end - start) @ down < 0:
        start, end = end, start
    t = np.linspace(0.0, 1.0, _SAMPLES)
    points = start + t[:, None] * (end - start)
    old = np.array([g.old_mm for g in plan.grades])
    return Profile(
        (float(start[0]), float(start[1])),
        (float(end[0]), float(end[1])),
        t * float(chord.length),
        interpolate(xy, old, triangles, points),
        interpolate(xy, finished, triangles, points),
        door.name if door else "",
        bool(np.linalg.norm(through - start) <= np.linalg.norm(through - end)),
    )


def _mesh(plan: GradePlan) -> tuple[Float, Float, np.ndarray[tuple[int, ...], np.dtype[np.int64]]]:
    """Vertices (N, 2), finished heights (N,), triangles (T, 3)."""
    xy = np.array([(g.x_mm, g.y_mm) for g in plan.grades])
    return xy, np.array([g.finished_mm for g in plan.grades]), np.array(plan.triangles, dtype=np.int64)
