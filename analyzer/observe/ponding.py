"""Ponds: the triangulated surface filled to its spill points, exactly, without a raster.

On a surface of plane triangles the lowest way for water to leave a vertex runs along triangle
edges, so that filling reduces to a minimax shortest path over the vertices (priority-flood
[1]_). The wet part of a basin is then cut out of each triangle exactly.

References
----------
.. [1] Barnes, Lehman, Mulla, Priority-flood: an optimal depression-filling algorithm, Computers
   & Geosciences 62 (2014) 117-127 (from memory).
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from analyzer.records import Float

Int = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Basin:
    """A filled basin: ``level`` of the water, vertices of its lowest and its spill point."""

    level_mm: float
    depth_mm: float
    area_mm2: float
    volume_mm3: float
    outline_mm: tuple[tuple[float, float], ...]
    lowest: int
    spill: int


def fill(z: Float, triangles: Int, outlet_mm: Float) -> tuple[Float, Int]:
    """Water level at each vertex when the surface is filled until it spills.

    Parameters
    ----------
    z : (N,)
        Surface heights.
    triangles : (T, 3)
    outlet_mm : (N,)
        Height over which water can leave at a vertex (its own height at an open edge, higher at
        a drain beside it), inf where it cannot.

    Returns
    -------
    level : (N,)
        At least ``z``; inf where water cannot leave at all.
    spill : (N,) int
        The vertex over which each one spills, -1 where there is none.
    """
    neighbours: list[set[int]] = [set() for _ in z]
    for a, b, c in triangles.tolist():
        neighbours[a] |= {b, c}
        neighbours[b] |= {a, c}
        neighbours[c] |= {a, b}
    heights = z.tolist()
    level = [np.inf] * len(heights)
    spill = [-1] * len(heights)
    queue = []
    for v in np.flatnonzero(np.isfinite(outlet_mm)).tolist():
        start = max(heights[v], float(outlet_mm[v]))
        if start < level[v]:
            level[v], spill[v] = start, v
            queue.append((start, v))
    heapq.heapify(queue)
    while queue:
        reached, v = heapq.heappop(queue)
        if reached > level[v]:
            continue
        for w in neighbours[v]:
            through = max(reached, heights[w])
            if through < level[w]:
                level[w] = through
                spill[w] = spill[v] if reached > heights[w] else w
                heapq.heappush(queue, (through, w))
    return np.array(level), np.array(spill, dtype=np.int64)


def find_basins(
    xy: Float, z: Float, triangles: Int, outlet_mm: Float, least_depth_mm: float
) -> tuple[Basin, ...]:
    """All basins deeper than ``least_depth_mm``, deepest first.

    Shapes as for :func:`fill`, ``xy`` (N, 2). A slab that is closed on all sides has no spill
    point; it is then taken to fill to its highest edge.
    """
    level, spill = fill(z, triangles, outlet_mm)
    level = np.where(np.isfinite(level), level, z.max())
    wet = level - z > 1e-9
    owner = _components(wet, triangles)
    basins = []
    for name in np.unique(owner[wet]).tolist():
        inside = np.flatnonzero(owner == name)
        lowest = int(inside[z[inside].argmin()])
        water = float(level[lowest])
        if water - z[lowest] <= least_depth_mm:
            continue
        touched = triangles[np.isin(triangles, inside).any(axis=1)]
        pieces, volume = [], 0.0
        for triangle in touched:
            polygon, depth = _below(xy[triangle], z[triangle], water)
            if len(polygon) >= 3:
                piece = shapely.Polygon(polygon)
                if piece.area > 0:
                    pieces.append(piece)
                    volume += _volume(polygon, depth)
        area = float(sum(p.area for p in pieces))
        whole = shapely.union_all(pieces, grid_size=1e-3)
        biggest = max(getattr(whole, "geoms", [whole]), key=lambda g: g.area)
        outline = tuple((float(x), float(y)) for x, y in np.asarray(biggest.exterior.coords)[:-1])
        at = int(spill[lowest])
        basins.append(
            Basin(
                water,
                water - float(z[lowest]),
                area,
                volume,
                outline,
                lowest,
                at if at >= 0 else int(z.argmax()),
            )
        )
    return tuple(sorted(basins, key=lambda b: -b.depth_mm))


def _components(wet: npt.NDArray[np.bool_], triangles: Int) -> Int:
    """Number each set of wet vertices that triangle edges connect; -1 where dry."""
    owner = np.where(wet, np.arange(len(wet)), -1)
    pairs = np.vstack([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    pairs = pairs[wet[pairs].all(axis=1)]
    while True:
        low = np.minimum(owner[pairs[:, 0]], owner[pairs[:, 1]])
        before = owner.copy()
        np.minimum.at(owner, pairs[:, 0], low)
        np.minimum.at(owner, pairs[:, 1], low)
        if np.array_equal(before, owner):
            return owner


def _below(corners: Float, z: Float, water: float) -> tuple[Float, Float]:
    """The part of a triangle (3, 2) under the water level: polygon (K, 2) and depths (K,)."""
    depth = water - z
    points: list[Float] = []
    depths: list[float] = []
    for i in range(3):
        j = (i + 1) % 3
        if depth[i] >= 0:
            points.append(corners[i])
            depths.append(float(depth[i]))
        if (depth[i] > 0 > depth[j]) or (depth[i] < 0 < depth[j]):
            t = depth[i] / (depth[i] - depth[j])
            points.append(corners[i] + t * (corners[j] - corners[i]))
            depths.append(0.0)
    return np.array(points).reshape(-1, 2), np.array(depths)


def _volume(polygon: Float, depth: Float) -> float:
    """Water over a convex polygon with linear depth: a fan of prisms."""
    a, b = polygon[1:-1] - polygon[0], polygon[2:] - polygon[0]
    areas = np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / 2.0
    return float((areas * (depth[0] + depth[1:-1] + depth[2:]) / 3.0).sum())
