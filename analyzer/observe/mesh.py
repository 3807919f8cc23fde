"""Triangles over the stations that cover the outline exactly, also a concave one."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from scipy.spatial import Delaunay, QhullError

from analyzer.records import Float
from analyzer.records.tin import Int, doubled_areas

_ON_EDGE_MM = 0.5
_ROUNDS = 16


def mesh_outline(outline: Float, points: Float) -> tuple[Float, Int]:
    """Triangulate points (N, 2) and the outline (K, 2) so that the triangles fill the outline.

    Returns
    -------
    extra : (M, 2)
        Points of the outline that had to be added: corners where no point lies, and midpoints
        of outline edges until each edge is made of triangle edges.
    triangles : (T, 3) int
        Delaunay triangles inside the outline, indexing ``points`` then ``extra``; anticlockwise.
    """
    near = np.linalg.norm(outline[:, None] - points[None], axis=2).min(axis=1) if len(points) else None
    extra = outline if near is None else outline[near > 1.0]
    for _ in range(_ROUNDS):
        everything = np.vstack([points, extra])
        triangles = _delaunay(everything)
        missing = _missing_edges(outline, everything, triangles)
        if not len(missing):
            break
        extra = np.vstack([extra, missing])
    polygon = shapely.Polygon(outline)
    shapely.prepare(polygon)
    corners = everything[triangles]
    doubled = doubled_areas(corners)
    centres = corners.mean(axis=1)
    keep = (np.abs(doubled) > 2.0) & shapely.contains_xy(polygon, centres[:, 0], centres[:, 1])
    triangles, doubled = triangles[keep], doubled[keep]
    triangles[doubled < 0] = triangles[doubled < 0][:, ::-1]
    return extra, triangles


def _delaunay(points: Float) -> Int:
    try:
        return np.asarray(Delaunay(points - points.mean(axis=0)).simplices, dtype=np.int64)
    except QhullError:
        return np.empty((0, 3), dtype=np.int64)


def _missing_edges(outline: Float, points: Float, triangles: Int) -> Float:
    """Midpoints of the pieces of the outline that are no triangle edges."""
    n = len(points)
    pairs = np.sort(np.vstack([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1)
    edges = set((pairs[:, 0] * n + pairs[:, 1]).tolist())
    midpoints = []
    for start, end in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        along = end - start
        length = float(np.hypot(*along))
        t = (points - start) @ along / length
        off = np.abs((points - start) @ np.array([-along[1], along[0]])) / length
        on = np.flatnonzero((off <= _ON_EDGE_MM) & (t > -1.0) & (t < length + 1.0))
        on = on[np.argsort(t[on])]
        for a, b in pairwise(on):
            if min(a, b) * n + max(a, b) not in edges:
                midpoints.append((points[a] + points[b]) / 2.0)
    return np.array(midpoints).reshape(-1, 2)
