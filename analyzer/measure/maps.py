"""Map cracking: many short cracks that meet at all angles, reported as one area.

LTPP manual, map cracking (from memory): a series of cracks that extend only into the upper surface
of the slab; recorded as occurrences and area, without severity levels.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from analyzer.records import Bool, Float

SHORT_MM = 400.0
"""Branches between two junctions, or a junction and an end, that may belong to a map."""

WIDE_MM = 3.0
"""A branch this wide or wider goes deeper than the surface (LTPP low / moderate limit, from memory)."""

NEAR_MM = 75.0
LEAST_BRANCHES = 10
LEAST_JUNCTIONS = 4
SPACING_MM = 250.0
"""Largest mean spacing of the cracks of a map: twice the area over the length."""

_BAY_MM = 200.0
_ONE_WAY = 0.7
"""Mean resultant of the doubled directions above which cracks are parallel, not a map."""


@dataclass(frozen=True, slots=True, eq=False)
class MapPatch:
    """An area of map cracking: outline polygon, and the branches in it by index."""

    outline: shapely.Polygon
    branches: tuple[int, ...]
    length_mm: float
    area_u_mm2: float


def find_maps(
    lines: Sequence[Float],
    lengths_mm: Float,
    widths_mm: Float,
    ends: Sequence[tuple[tuple[int, int], tuple[int, int]]],
) -> list[MapPatch]:
    """Find areas of map cracking among branches.

    Parameters
    ----------
    lines : sequence of (N, 2) arrays
        Branches in plan, mm.
    lengths_mm, widths_mm : (B,) arrays
        Length and mean width of each; nan where the width is not known or too thin to measure.
    ends : sequence
        Start and end node of each branch, as (crack, node).
    """
    thin = ~(widths_mm >= WIDE_MM)
    short: Bool = (lengths_mm <= SHORT_MM) & thin
    candidates: list[int] = np.flatnonzero(short).tolist()
    if len(candidates) < LEAST_BRANCHES:
        return []
    shapes = [shapely.LineString(lines[i]) for i in candidates]
    clumps = shapely.get_parts(shapely.union_all(shapely.buffer(shapes, NEAR_MM, quad_segs=2)))
    tree = shapely.STRtree(shapes)
    degree: dict[tuple[int, int], int] = {}
    for pair in ends:
        for node in pair:
            degree[node] = degree.get(node, 0) + 1
    patches = []
    for clump in clumps:
        members = [candidates[int(k)] for k in tree.query(clump, predicate="intersects")]
        if len(members) < LEAST_BRANCHES:
            continue
        junctions = {node for i in members for node in ends[i] if degree[node] >= 3}
        crossings = len(junctions)
        if crossings < LEAST_JUNCTIONS and _crossings([lines[i] for i in members]) < LEAST_JUNCTIONS:
            continue
        if _one_way([lines[i] for i in members]):
            continue
        length = float(lengths_mm[members].sum())
        outline = _outline(clump)
        spacing = 2.0 * outline.area / length
        if spacing > SPACING_MM:
            continue
        # Where such an area ends is a matter of half a mesh, the same all round (rectangular).
        area_u = outline.length * (spacing / 2.0) / math.sqrt(3.0)
        patches.append(MapPatch(outline, tuple(members), length, area_u))
    return sorted(patches, key=lambda patch: -patch.outline.area)


def _outline(clump: shapely.Polygon) -> shapely.Polygon:
    """The clump without holes and bays, drawn back to the outermost cracks."""
    filled = shapely.Polygon(clump.exterior)
    back = filled.buffer(_BAY_MM).buffer(-_BAY_MM - NEAR_MM + 1.0)
    parts = [
        part for part in shapely.get_parts(back) if isinstance(part, shapely.Polygon) and not part.is_empty
    ]
    best = max(parts, key=lambda part: part.area) if parts else filled
    if best.area < 0.5 * filled.area:
        best = filled
    return shapely.simplify(shapely.Polygon(best.exterior), 5.0)


def _crossings(lines: Sequence[Float]) -> int:
    """Places where lines of different cracks meet or cross."""
    shapes = [shapely.LineString(line) for line in lines]
    pairs = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    return int(np.sum(pairs[0] < pairs[1]))


def _one_way(lines: Sequence[Float]) -> bool:
    steps = np.concatenate([line[-1:] - line[:1] for line in lines])
    size = np.hypot(steps[:, 0], steps[:, 1])
    doubled = 2.0 * np.arctan2(steps[:, 1], steps[:, 0])
    resultant = np.hypot(np.sum(size * np.cos(doubled)), np.sum(size * np.sin(doubled)))
    return bool(resultant > _ONE_WAY * max(float(size.sum()), 1e-9))
