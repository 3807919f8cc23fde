"""Map cracking: found as one area where it is, not found in parallel or wide cracks."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.spatial import Voronoi

from analyzer.measure.maps import find_maps


def _mesh(side: float = 1000.0, cell: float = 110.0, seed: int = 1):
    """Edges of a Voronoi mesh (scipy) over a square, with their nodes."""
    rng = np.random.default_rng(seed)
    mesh = Voronoi(rng.uniform(0, side, (int((side / cell) ** 2), 2)))
    lines, ends = [], []
    for a, b in mesh.ridge_vertices:
        if min(a, b) < 0:
            continue
        p, q = mesh.vertices[a], mesh.vertices[b]
        if min(*p, *q) > 0 and max(*p, *q) < side and np.hypot(*(q - p)) > 10:
            lines.append(np.stack([p, (p + q) / 2 + rng.normal(0, 3, 2), q]))
            ends.append(((0, a), (0, b)))
    return lines, ends


def _lengths(lines):
    return np.array([shapely.LineString(line).length for line in lines])


def test_a_mesh_is_one_area_of_about_its_extent() -> None:
    lines, ends = _mesh()
    (patch,) = find_maps(lines, _lengths(lines), np.full(len(lines), np.nan), ends)
    hull = shapely.convex_hull(shapely.MultiLineString(lines))
    assert patch.outline.area == pytest.approx(hull.area, rel=0.12)
    assert patch.length_mm == pytest.approx(_lengths(lines).sum())
    assert len(patch.branches) == len(lines)
    assert abs(patch.outline.area - hull.area) < 2 * patch.area_u_mm2


def test_two_meshes_apart_are_two_areas() -> None:
    lines, ends = _mesh()
    far = [line + np.array([3000.0, 0.0]) for line in lines]
    far_ends = [((1, a[1]), (1, b[1])) for a, b in ends]
    both = lines + far
    assert len(find_maps(both, _lengths(both), np.full(len(both), np.nan), ends + far_ends)) == 2


def test_wide_cracks_are_no_map() -> None:
    lines, ends = _mesh()
    assert find_maps(lines, _lengths(lines), np.full(len(lines), 4.0), ends) == []


def test_a_coarse_mesh_of_long_cracks_is_no_map() -> None:
    lines, ends = _mesh(side=8000.0, cell=900.0)
    assert find_maps(lines, _lengths(lines), np.full(len(lines), np.nan), ends) == []


def test_parallel_cracks_are_no_map() -> None:
    lines = [np.array([[0.0, 60.0 * k], [300.0, 60.0 * k + 5]]) for k in range(20)]
    ends = [((k, 0), (k, 1)) for k in range(20)]
    assert find_maps(lines, _lengths(lines), np.full(20, np.nan), ends) == []


def test_separate_traces_that_cross_are_a_map_too() -> None:
    rng = np.random.default_rng(5)
    lines, ends = [], []
    for k in range(60):
        middle, angle = rng.uniform(100, 900, 2), rng.uniform(0, np.pi)
        step = 120 * np.array([np.cos(angle), np.sin(angle)])
        lines.append(np.stack([middle - step, middle + step]))
        ends.append(((k, 0), (k, 1)))
    assert len(find_maps(lines, _lengths(lines), np.full(60, np.nan), ends)) == 1


def test_few_branches_are_no_map() -> None:
    lines, ends = _mesh()
    assert find_maps(lines[:8], _lengths(lines[:8]), np.full(8, np.nan), ends[:8]) == []
