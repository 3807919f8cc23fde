"""Cutting along creases changes neither the surface nor its area; basis rows are heights and slopes."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import Delaunay

from analyzer.propose.surface import Basis, Line, OldSurface, cut, old_surface


def rough(seed: int = 1, n: int = 60) -> OldSurface:
    rng = np.random.default_rng(seed)
    xy = np.vstack([rng.uniform(0, 4000, (n, 2)), [(0, 0), (4000, 0), (4000, 4000), (0, 4000)]])
    return OldSurface(
        tuple(f"S{k}" for k in range(len(xy))), xy, rng.normal(0, 10, len(xy)), np.full(len(xy), 1.0),
        np.asarray(Delaunay(xy).simplices),
    )  # fmt: skip


LINES = (Line((1.0, 0.0), 1500.0, "a"), Line((0.6, 0.8), 2500.0, "b"))


def test_cut_triangles_lie_on_one_side_and_keep_area_and_surface() -> None:
    old = rough()
    parts = cut(old, LINES)
    assert parts.areas.sum() == pytest.approx(old.areas.sum(), rel=1e-9)
    assert parts.weights @ parts.z == pytest.approx(old.weights @ old.z, rel=1e-6)
    for line in LINES:
        side = line.distance(parts.xy)[parts.triangles]
        assert not ((side.min(axis=1) < -0.6) & (side.max(axis=1) > 0.6)).any()
    inside = np.random.default_rng(4).uniform(10, 3990, (100, 2))
    expected = LinearNDInterpolator(Delaunay(old.xy), old.z)(inside)
    assert parts.at(inside)[0] == pytest.approx(expected, abs=1e-6)


def test_a_line_off_the_slab_cuts_nothing() -> None:
    old = rough()
    assert cut(old, (Line((1.0, 0.0), 9000.0, "far"),)) is old


def test_rows_give_height_and_numerical_slope() -> None:
    basis = Basis(np.array([2000.0, 2000.0]), 4000.0, LINES)
    coefficients = np.array([30.0, -20.0, 5.0, 60.0, -15.0])
    points = np.random.default_rng(2).uniform(0, 4000, (50, 2))
    points = points[[min(abs(line.distance(p.reshape(1, 2))[0]) for line in LINES) > 5 for p in points]]
    way = np.array([0.8, -0.6])
    step = 1e-2
    ahead = basis.heights(points + step * way) @ coefficients
    here = basis.heights(points) @ coefficients
    assert basis.slopes(points, way) @ coefficients == pytest.approx((ahead - here) / step, abs=1e-7)
    slope = basis.gradient(coefficients, points[0])
    assert slope @ way == pytest.approx(((ahead - here) / step)[0], abs=1e-7)


def test_arrays_of_a_level_map(make_site) -> None:
    _, levels = make_site(lambda x, y: 0.01 * y)
    old = old_surface(levels)
    assert old.xy.shape == (20, 2)
    height, u = old.at(np.array([[1000.0, 1000.0], [1000.0, -500.0]]))
    assert height == pytest.approx([10.0, 0.0])
    assert u == pytest.approx([0.0, 0.0])
