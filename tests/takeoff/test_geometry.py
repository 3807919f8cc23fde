"""Areas against shapely, prisms against closed forms, uncertainties against random draws."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
import shapely
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import ConvexHull, Delaunay

from analyzer.takeoff.geometry import (
    earthwork,
    outline_area,
    positive_volume,
    prism_volume,
    prism_volume_u,
    product,
    slab_volume,
)
from analyzer.units import M3_PER_YD3, MM2_PER_FT2, MM_PER_FT, MM_PER_IN

L_SHAPE = [(0, 0), (6000, 0), (6000, 2500), (2500, 2500), (2500, 6000), (0, 6000)]


def test_area_equals_shapely_whichever_way_round() -> None:
    assert outline_area(L_SHAPE, 0.0)[0] == pytest.approx(shapely.Polygon(L_SHAPE).area)
    assert outline_area(L_SHAPE[::-1], 0.0)[0] == pytest.approx(shapely.Polygon(L_SHAPE).area)


def test_area_uncertainty_equals_random_corners() -> None:
    rng = np.random.default_rng(1)
    draws = [shapely.Polygon(np.array(L_SHAPE) + rng.normal(0, 12.0, (6, 2))).area for _ in range(20000)]
    assert outline_area(L_SHAPE, 12.0)[1] == pytest.approx(np.std(draws), rel=0.03)


def test_the_wedge_by_prisms(make_plan) -> None:
    """QTY-WEDGE, computed: 20 x 12 ft, 2.0 in to 4.4 in: 240 x 3.2 / 324 = 2.370 yd3 (1.812 m3)."""
    w, d = 20 * MM_PER_FT, 12 * MM_PER_FT
    points = [(0, 0, 2.0, 0), (w, 0, 2.0, 0), (w, d, 4.4, 0), (0, d, 4.4, 0), (w / 3, d / 2, 3.2, 0)]
    points = [(x, y, t * MM_PER_IN, u) for x, y, t, u in points]
    plan = make_plan(points, [(0, 1, 4), (1, 2, 4), (2, 3, 4), (3, 0, 4)])
    assert prism_volume(plan) / M3_PER_YD3 == pytest.approx(2.370, abs=0.0005)
    assert prism_volume(plan) == pytest.approx(1.812, abs=0.0005)


@pytest.mark.parametrize("seed", range(3))
def test_prisms_equal_the_hull_of_the_solid(make_plan, seed: int) -> None:
    """One triangle prism with a slanted top: its volume by scipy's convex hull."""
    rng = np.random.default_rng(seed)
    xy, t = rng.uniform(0, 1000, (3, 2)), rng.uniform(20, 200, 3)
    plan = make_plan([(x, y, h, 0.0) for (x, y), h in zip(xy.tolist(), t.tolist(), strict=True)], [(0, 1, 2)])
    solid = np.vstack([np.column_stack([xy, np.zeros(3)]), np.column_stack([xy, t])])
    assert prism_volume(plan) * 1e9 == pytest.approx(ConvexHull(solid).volume)


def test_volume_uncertainty_equals_random_draws(make_plan) -> None:
    rng = np.random.default_rng(4)
    xy = np.vstack([rng.uniform(0, 5000, (20, 2)), [(0, 0), (5000, 0), (5000, 4000), (0, 4000)]])
    triangles = [tuple(int(v) for v in t) for t in Delaunay(xy).simplices]
    plan = make_plan([(x, y, 80.0, 3.0) for x, y in xy.tolist()], triangles)
    base = prism_volume(plan)
    draws = []
    for _ in range(3000):
        t = 80.0 + rng.normal(0, 3.0, len(xy)) + rng.normal(0, 1.5)
        moved = make_plan(
            [(x, y, h, 3.0) for (x, y), h in zip(xy.tolist(), t.tolist(), strict=True)], triangles
        )
        draws.append(prism_volume(moved) * (1 + rng.normal(0, 0.01)))
    assert prism_volume_u(plan, 0.01, 1.5) == pytest.approx(np.std(draws), rel=0.05)
    assert np.mean(draws) == pytest.approx(base, rel=0.002)


def test_product_of_the_sheet() -> None:
    """GUM-VOL-EX, computed: A 240 +/- 2 ft2, t 3.2 +/- 0.15 in: 4.76 %, 2.370 +/- 0.113 yd3."""
    area, thick = 240 * MM2_PER_FT2, 3.2 * MM_PER_IN
    value, u = product(area, 2 * MM2_PER_FT2, thick, 0.15 * MM_PER_IN)
    assert u / value == pytest.approx(0.0476, abs=5e-5)
    assert value / 1e9 / M3_PER_YD3 == pytest.approx(2.370, abs=5e-4)
    assert u / 1e9 / M3_PER_YD3 == pytest.approx(0.113, abs=5e-4)


def test_a_slab_by_the_324_divisor() -> None:
    """QTY-324: yd3 = ft x ft x in / 324, 2018 National Home Improvement Estimator p. 42 (read)."""
    for thickness in (2, 3, 4, 5, 6, 8):
        volume = slab_volume(10 * 10 * MM2_PER_FT2, thickness * MM_PER_IN)
        assert volume / M3_PER_YD3 == pytest.approx(10 * 10 * thickness / 324)
    assert math.isclose(slab_volume(1e6, 1000.0), 1.0)


@pytest.mark.parametrize("seed", range(4))
def test_positive_volume_equals_random_points(seed: int) -> None:
    rng = np.random.default_rng(seed)
    xy = np.vstack([rng.uniform(0, 3000, (15, 2)), [(0, 0), (3000, 0), (3000, 3000), (0, 3000)]])
    values = rng.normal(0, 20, len(xy))
    delaunay = Delaunay(xy)
    at = rng.uniform(0, 3000, (200_000, 2))
    heights = LinearNDInterpolator(delaunay, values)(at)
    expected = np.maximum(heights, 0).mean() * 9e6 / 1e9
    triangles = np.asarray(delaunay.simplices)
    assert positive_volume(xy, values, triangles) == pytest.approx(expected, rel=0.02)
    both = positive_volume(xy, values, triangles) - positive_volume(xy, -values, triangles)
    assert both == pytest.approx(heights.mean() * 9e6 / 1e9, abs=2e-3)


def test_earthwork_under_a_new_slab(make_plan) -> None:
    """Same surface, 4 in old and 6 in new: 2 in of cut everywhere; 20 mm higher all round: less cut."""
    points = [(0, 0, 152.4, 1.0), (2000, 0, 152.4, 1.0), (0, 2000, 152.4, 1.0)]
    plan = make_plan(points, [(0, 1, 2)])
    moved = dataclasses.replace(
        plan, grades=tuple(dataclasses.replace(g, old_mm=-20.0, finished_mm=0.0) for g in plan.grades)
    )
    level = dataclasses.replace(
        plan, grades=tuple(dataclasses.replace(g, old_mm=0.0, finished_mm=0.0) for g in plan.grades)
    )
    assert earthwork(level, 101.6) == (pytest.approx(0.0), pytest.approx(2e6 * 50.8 / 1e9))
    assert earthwork(moved, 101.6)[1] == pytest.approx(2e6 * 30.8 / 1e9)
    assert earthwork(moved, 172.4)[0] == pytest.approx(2e6 * 40.0 / 1e9)
