"""A surface of plane triangles: areas and heights. Shared by every stage that meets one.

Vertices are (N, 2) in plan mm with heights (N,), triangles (T, 3) index them.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analyzer.records.picture import Float

Int = npt.NDArray[np.int64]


def doubled_areas(corners: Float) -> Float:
    """Twice the signed area of triangles (T, 3, 2); positive where anticlockwise."""
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    out: Float = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return out


def triangle_areas(xy: Float, triangles: Int) -> Float:
    """Areas of the triangles (T,), mm2, positive."""
    areas: Float = np.abs(doubled_areas(xy[triangles])) / 2.0
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
