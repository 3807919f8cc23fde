"""Interpolation on triangles against scipy, areas against shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import Delaunay

from analyzer.records.tin import barycentric, doubled_areas, interpolate, triangle_areas


def test_interpolation_equals_scipy_on_the_same_triangles() -> None:
    rng = np.random.default_rng(5)
    square = np.array([(0, 0), (4000, 0), (4000, 3000), (0, 3000)], dtype=float)
    points = rng.uniform((0, 0), (4000, 3000), (60, 2))
    xy = np.vstack([points, square])
    triangles = np.asarray(Delaunay(xy).simplices)
    z = rng.normal(0, 10, len(xy))
    at = rng.uniform((0, 0), (4000, 3000), (200, 2))
    expected = LinearNDInterpolator(Delaunay(xy), z)(at)
    assert interpolate(xy, z, triangles, at) == pytest.approx(expected, abs=1e-6)


def test_a_point_outside_is_taken_to_the_nearest_edge() -> None:
    xy = np.array([(0, 0), (1000, 0), (0, 1000)], dtype=float)
    triangles = np.array([(0, 1, 2)])
    z = np.array([0.0, 10.0, 20.0])
    assert interpolate(xy, z, triangles, np.array([[250.0, -80.0]]))[0] == pytest.approx(2.5)
    weights, index = barycentric(xy, triangles, np.array([[-50.0, -60.0]]))
    assert weights[0] == pytest.approx([1, 0, 0])
    assert index[0] == 0


def test_areas_equal_shapely_and_are_signed() -> None:
    xy = np.random.default_rng(2).uniform(0, 1000, (30, 2))
    triangles = np.asarray(Delaunay(xy).simplices)
    expected = [shapely.Polygon(xy[t]).area for t in triangles]
    assert triangle_areas(xy, triangles) == pytest.approx(expected)
    corners = np.array([[(0, 0), (2, 0), (0, 1)], [(0, 0), (0, 1), (2, 0)]], dtype=float)
    assert doubled_areas(corners).tolist() == [2.0, -2.0]
