"""Triangles over the stations that cover the outline exactly, also a concave one."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from scipy.spatial import Delaunay, QhullError

from analyzer.records import Float

Int = npt.NDArray[np.int64]
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
    doubled = _doubled_area(corners)
    centres = corners.mean(axis=1)
    keep = (np.abs(doubled) > 2.0) & shapely.contains_xy(polygon, centres[:, 0], centres[:, 1])
    triangles, doubled = triangles[keep], doubled[keep]
    triangles[doubled < 0] = triangles[doubled < 0][:, ::-1]
    return extra, triangles


def triangle_areas(xy: Float, triangles: Int) -> Float:
    """Areas of the triangles (T,), mm2, positive."""
    areas: Float = np.abs(_doubled_area(xy[triangles])) / 2.0
    return areas


def interpolate(xy: Float, z: Float, triangles: Int, at: Float) -> Float:
    """Height of the triangulated surface at points (Q, 2); outside, that of the nearest place on it."""
    weights, index = barycentric(xy, triangles, at)
    out: Float = np.einsum("qi,qi->q", weights, z[triangles[index]])
    return out


def barycentric(xy: Float, triangles: Int, at: Float) -> tuple[Float, Int]:
    """Weights (Q, 3) and triangle (Q,) of points (Q, 2); a point outside is taken to the nearest edge."""
    p = xy[triangles]
    e1, e2 = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
    det = e1[:, 0] * e2[:, 1] - e1[:, 1] * e2[:, 0]
    d = at[:, None, :] - p[None, :, 0]
    w1 = (d[..., 0] * e2[:, 1] - d[..., 1] * e2[:, 0]) / det
    w2 = (e1[:, 0] * d[..., 1] - e1[:, 1] * d[..., 0]) / det
    least = np.minimum(np.minimum(w1, w2), 1.0 - w1 - w2)
    index: Int = least.argmax(axis=1)
    rows = np.arange(len(at))
    weights = np.column_stack([1.0 - w1[rows, index] - w2[rows, index], w1[rows, index], w2[rows, index]])
    outside = least[rows, index] < -1e-9
    for q in np.flatnonzero(outside):
        weights[q], index[q] = _nearest_on_mesh(p, at[q])
    return weights, index


def _nearest_on_mesh(p: Float, at: Float) -> tuple[Float, int]:
    """Weights and triangle of the place on the triangles' edges nearest to one point."""
    best = (np.inf, np.array([1.0, 0.0, 0.0]), 0)
    for i in range(3):
        j = (i + 1) % 3
        along = p[:, j] - p[:, i]
        t = np.clip(((at - p[:, i]) * along).sum(axis=1) / (along**2).sum(axis=1), 0.0, 1.0)
        distance = np.linalg.norm(p[:, i] + t[:, None] * along - at, axis=1)
        k = int(distance.argmin())
        if distance[k] < best[0]:
            weights = np.zeros(3)
            weights[i], weights[j] = 1.0 - t[k], t[k]
            best = (float(distance[k]), weights, k)
    return best[1], best[2]


def _delaunay(points: Float) -> Int:
    try:
        return np.asarray(Delaunay(points - points.mean(axis=0)).simplices, dtype=np.int64)
    except QhullError:
        return np.empty((0, 3), dtype=np.int64)


def _doubled_area(corners: Float) -> Float:
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    out: Float = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return out


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
