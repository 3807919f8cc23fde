"""Triangles over a slab: area against shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from analyzer.observe.mesh import mesh_outline
from analyzer.records.tin import triangle_areas

L_SHAPE = np.array([(0, 0), (6000, 0), (6000, 2500), (2500, 2500), (2500, 6000), (0, 6000)], dtype=float)
U_SHAPE = np.array(
    [(0, 0), (9000, 0), (9000, 5000), (6000, 5000), (6000, 900), (3000, 900), (3000, 5000), (0, 5000)],
    dtype=float,
)


def turned(outline: np.ndarray, deg: float) -> np.ndarray:
    c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
    return outline @ np.array([[c, s], [-s, c]]) + 700.0


@pytest.mark.parametrize("deg", [0.0, 10.0, 33.3])
@pytest.mark.parametrize("outline", [L_SHAPE, U_SHAPE], ids=["L", "U"])
def test_triangles_fill_a_concave_outline_exactly(outline: np.ndarray, deg: float) -> None:
    outline = turned(outline, deg)
    polygon = shapely.Polygon(outline)
    rng = np.random.default_rng(3)
    points = rng.uniform(outline.min(axis=0), outline.max(axis=0), (150, 2))
    points = points[shapely.contains_xy(polygon, points[:, 0], points[:, 1])]
    extra, triangles = mesh_outline(outline, points)
    xy = np.vstack([points, extra])
    assert triangle_areas(xy, triangles).sum() == pytest.approx(polygon.area, rel=1e-9)
    inside = shapely.union_all([shapely.Polygon(xy[t]) for t in triangles], grid_size=0.01)
    assert inside.symmetric_difference(polygon).area < 1e-4 * polygon.area
    for t in triangles:
        assert shapely.LinearRing(xy[t]).is_ccw


def test_points_on_corners_and_edges_are_not_doubled() -> None:
    square = np.array([(0, 0), (1000, 0), (1000, 1000), (0, 1000)], dtype=float)
    points = np.array([(0, 0), (500, 0), (1000, 0), (1000, 1000), (500, 500)], dtype=float)
    extra, triangles = mesh_outline(square, points)
    assert extra.tolist() == [[0.0, 1000.0]]
    assert triangle_areas(np.vstack([points, extra]), triangles).sum() == pytest.approx(1e6)


def test_an_outline_without_stations_is_meshed_by_its_corners() -> None:
    extra, triangles = mesh_outline(L_SHAPE, np.empty((0, 2)))
    assert triangle_areas(extra, triangles).sum() == pytest.approx(shapely.Polygon(L_SHAPE).area)
