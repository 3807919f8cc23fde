"""Contours, areas over a thickness and grinding against closed forms and shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import Delaunay

from analyzer.propose import plan_grades
from analyzer.propose.thickness import area_at_least, contours
from analyzer.records.tin import triangle_areas
from analyzer.units import MM_PER_FT, MM_PER_IN

FT, IN = MM_PER_FT, MM_PER_IN


def rough(seed: int):
    rng = np.random.default_rng(seed)
    xy = np.vstack([rng.uniform(0, 4000, (40, 2)), [(0, 0), (4000, 0), (4000, 4000), (0, 4000)]])
    return xy, rng.uniform(50, 120, len(xy)), np.asarray(Delaunay(xy).simplices)


def test_contours_of_a_wedge_are_straight_and_where_they_must_be() -> None:
    xy = np.array([(0, 0), (4000, 0), (4000, 2000), (0, 2000), (1500, 900)], dtype=float)
    thickness = 50.0 + xy[:, 0] / 100.0
    triangles = np.asarray(Delaunay(xy).simplices)
    found = contours(xy, thickness, triangles, 10.0)
    assert [c.thickness_mm for c in found] == [60.0, 70.0, 80.0]
    for c in found:
        (line,) = c.lines_mm
        x = np.array(line)[:, 0]
        assert x == pytest.approx(np.full(len(x), (c.thickness_mm - 50.0) * 100.0), abs=1e-3)
        assert shapely.LineString(line).length == pytest.approx(2000.0)


@pytest.mark.parametrize("seed", range(3))
def test_every_contour_point_has_its_thickness(seed: int) -> None:
    xy, thickness, triangles = rough(seed)
    surface = LinearNDInterpolator(Delaunay(xy), thickness)
    for c in contours(xy, thickness, triangles, 20.0):
        for line in c.lines_mm:
            inside = np.clip(np.array(line), 1e-6, 4000 - 1e-6)
            assert surface(inside) == pytest.approx(np.full(len(line), c.thickness_mm), abs=1e-3)


@pytest.mark.parametrize("seed", range(3))
def test_area_over_a_thickness_equals_random_points(seed: int) -> None:
    xy, thickness, triangles = rough(seed)
    points = np.random.default_rng(99).uniform(0, 4000, (200_000, 2))
    share = (LinearNDInterpolator(Delaunay(xy), thickness)(points) >= 85.0).mean()
    area = area_at_least(xy, thickness, triangles, 85.0)
    assert area / 16e6 == pytest.approx(share, abs=0.005)
    assert area_at_least(xy, thickness, triangles, 0.0) == pytest.approx(triangle_areas(xy, triangles).sum())
    assert area_at_least(xy, thickness, triangles, 500.0) == 0.0


def test_a_single_bump_is_ground_off(make_site, no_panels, exact) -> None:
    """A bump of 10 mm at one of 117 points holds the whole surface up; ground, that saves about 10 mm."""

    def bump(x, y):
        mid = (np.abs(x - 10 * FT) < 1) & (np.abs(y - 6 * FT) < 1)
        return 0.02 * y + np.where(mid, 10.0, 0.0)

    field, levels = make_site(bump, cells=(12, 8))
    plan = plan_grades(levels, (), field, no_panels, exact)[0]
    assert plan.thickness_mean_mm > 2 * IN + 5.0
    (spot,) = plan.grinding
    assert spot.at_mm == (pytest.approx(10 * FT), pytest.approx(6 * FT))
    assert spot.depth_mm == pytest.approx(10.0, abs=0.2)
    area = 20 * FT * 12 * FT / 1e6
    assert spot.saves_m3 == pytest.approx(10.0 * area / 1000, rel=0.35)
    assert any("Grinding" in n for n in plan.notes)


def test_even_roughness_is_not_ground(make_site, no_panels, exact) -> None:
    field, levels = make_site(lambda x, y: 0.02 * y + 2.0 * (-1) ** np.arange(len(x)), cells=(12, 8))
    assert plan_grades(levels, (), field, no_panels, exact)[0].grinding == ()
