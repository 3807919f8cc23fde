"""Areas and volumes with their uncertainties, exact for straight outlines and plane triangles."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from analyzer.records import Float, GradePlan, PointMm
from analyzer.records.tin import Int, triangle_areas
from analyzer.units import MM3_PER_M3


def outline_area(points: Sequence[PointMm], u_mm: float) -> tuple[float, float]:
    """Area of a polygon and its standard uncertainty, mm2 (shoelace formula).

    Every coordinate of every corner is taken as independently uncertain by ``u_mm``:
    u2(A) = u2 / 4 times the sum of squared diagonals between the neighbours of each corner
    (JCGM 100:2008 eq. 10, from memory).
    """
    xy = np.asarray(points, dtype=float)
    x, y = xy[:, 0] - xy[0, 0], xy[:, 1] - xy[0, 1]
    area = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    across = np.roll(xy, -1, axis=0) - np.roll(xy, 1, axis=0)
    return area, 0.5 * u_mm * math.sqrt(float((across**2).sum()))


def product(a: float, u_a: float, b: float, u_b: float) -> tuple[float, float]:
    """a b and its standard uncertainty for independent a and b (JCGM 100:2008 eq. 12, from memory)."""
    return a * b, math.hypot(b * u_a, a * u_b)


def slab_volume(area_mm2: float, thickness_mm: float) -> float:
    """Volume of a slab of constant thickness, m3."""
    return area_mm2 * thickness_mm / MM3_PER_M3


def prism_volume(plan: GradePlan) -> float:
    """Volume between old and finished surface in m3: each triangle's area times its mean thickness.

    Exact, as both surfaces are plane over every triangle.
    """
    xy, thickness, _ = _arrays(plan)
    triangles = np.array(plan.triangles, dtype=np.int64)
    areas = triangle_areas(xy, triangles)
    return float(areas @ thickness[triangles].mean(axis=1)) / MM3_PER_M3


def prism_volume_u(plan: GradePlan, area_u_rel: float, common_u_mm: float) -> float:
    """Standard uncertainty of :func:`prism_volume`, m3.

    Independent readings at the vertices, an error ``common_u_mm`` of the whole surface at once
    and the relative uncertainty of the area, by root-sum-square (NIST TN 1297 5.1).
    """
    xy, thickness, u = _arrays(plan)
    triangles = np.array(plan.triangles, dtype=np.int64)
    areas = triangle_areas(xy, triangles)
    weights = np.zeros(len(xy))
    np.add.at(weights, triangles.ravel(), np.repeat(areas / 3.0, 3))
    readings = float(np.sqrt(np.sum((weights * u) ** 2)))
    return (
        math.hypot(readings, float(areas.sum()) * common_u_mm, float(weights @ thickness) * area_u_rel)
        / MM3_PER_M3
    )


def positive_volume(xy: Float, values_mm: Float, triangles: Int) -> float:
    """Volume in m3 under the positive part of a height that is linear over each triangle, exact."""
    v = np.sort(values_mm[triangles], axis=1)
    low, mid, high = v[:, 0], v[:, 1], v[:, 2]
    mean = v.mean(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        tip = high**3 / (3.0 * (high - mid) * (high - low))
        hole = np.abs(low) ** 3 / (3.0 * (mid - low) * (high - low))
    depth = np.select([low >= 0, high <= 0, mid <= 0], [mean, 0.0, tip], mean + hole)
    return float(triangle_areas(xy, triangles) @ depth) / MM3_PER_M3


def earthwork(plan: GradePlan, old_thickness_mm: float) -> tuple[float, float]:
    """Base to fill and to cut in m3 when a new slab of its thickness takes the place of the old one."""
    xy, _, _ = _arrays(plan)
    triangles = np.array(plan.triangles, dtype=np.int64)
    new = np.array([g.finished_mm - g.thickness_mm for g in plan.grades])
    old = np.array([g.old_mm - old_thickness_mm for g in plan.grades])
    return positive_volume(xy, new - old, triangles), positive_volume(xy, old - new, triangles)


def _arrays(plan: GradePlan) -> tuple[Float, Float, Float]:
    xy = np.array([(g.x_mm, g.y_mm) for g in plan.grades])
    return (
        xy,
        np.array([g.thickness_mm for g in plan.grades]),
        np.array([g.thickness_u_mm for g in plan.grades]),
    )
