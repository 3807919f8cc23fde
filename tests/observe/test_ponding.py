"""Ponds against closed forms and against scikit-image's morphological filling on a raster."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import Delaunay
from skimage.morphology import reconstruction

from analyzer.observe.ponding import fill, find_basins


def pit() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A square 2 m wide, level at its rim, its middle 20 mm low: an upturned pyramid."""
    xy = np.array([(0, 0), (2000, 0), (2000, 2000), (0, 2000), (1000, 1000)], dtype=float)
    z = np.array([0.0, 0.0, 0.0, 0.0, -20.0])
    return xy, z, np.array([(0, 1, 4), (1, 2, 4), (2, 3, 4), (3, 0, 4)])


def test_a_pyramid_fills_to_its_rim() -> None:
    xy, z, triangles = pit()
    outlet = np.where(np.arange(5) < 4, z, np.inf)
    (basin,) = find_basins(xy, z, triangles, outlet, 1.0)
    assert basin.depth_mm == pytest.approx(20.0)
    assert basin.area_mm2 == pytest.approx(4e6)
    assert basin.volume_mm3 == pytest.approx(4e6 * 20.0 / 3.0)  # volume of a pyramid


def test_a_lowered_corner_drains_part_of_it() -> None:
    xy, z, triangles = pit()
    z[0] = -10.0
    outlet = np.where(np.arange(5) < 4, z, np.inf)
    (basin,) = find_basins(xy, z, triangles, outlet, 1.0)
    assert basin.depth_mm == pytest.approx(10.0)
    assert basin.lowest == 4
    assert basin.spill == 0
    # Cut at half height: two triangles wholly half scaled, two with the corner on the water line.
    assert basin.area_mm2 == pytest.approx(2 * 1e6 * 0.25 + 2 * 1e6 * 0.5)


def test_a_closed_rim_holds_water_and_a_drain_lets_it_out() -> None:
    xy, z, triangles = pit()
    closed = np.full(5, np.inf)
    (basin,) = find_basins(xy, z, triangles, closed, 1.0)
    assert basin.depth_mm == pytest.approx(20.0)
    drain = closed.copy()
    drain[4] = -20.0
    assert find_basins(xy, z, triangles, drain, 1.0) == ()


def test_a_plane_holds_nothing() -> None:
    xy = np.random.default_rng(1).uniform(0, 5000, (50, 2))
    triangles = np.asarray(Delaunay(xy).simplices)
    hull = np.zeros(50, dtype=bool)
    hull[np.unique(Delaunay(xy).convex_hull)] = True
    z = 0.01 * xy[:, 0]
    assert find_basins(xy, z, triangles, np.where(hull, z, np.inf), 1e-6) == ()


@pytest.mark.parametrize("seed", range(4))
def test_area_and_depth_equal_a_raster_filled_by_scikit_image(seed: int) -> None:
    rng = np.random.default_rng(seed)
    n = 9
    gx, gy = np.meshgrid(np.linspace(0, 4000, n), np.linspace(0, 4000, n))
    xy = np.column_stack([gx.ravel(), gy.ravel()])
    z = rng.normal(0, 10, n * n)
    delaunay = Delaunay(xy + rng.normal(0, 1e-6, xy.shape))
    edge = (xy == 0).any(axis=1) | (xy == 4000).any(axis=1)
    basins = find_basins(xy, z, np.asarray(delaunay.simplices), np.where(edge, z, np.inf), 0.5)

    cell = 10.0
    rows = np.arange(0, 4000 + cell, cell)
    rx, ry = np.meshgrid(rows, rows)
    surface = LinearNDInterpolator(delaunay, z)(
        np.clip(rx, 1e-3, 4000 - 1e-3), np.clip(ry, 1e-3, 4000 - 1e-3)
    )
    seed_image = surface.copy()
    seed_image[1:-1, 1:-1] = surface.max()
    filled = reconstruction(seed_image, surface, method="erosion")
    depth = filled - surface
    assert max(b.depth_mm for b in basins) == pytest.approx(depth.max(), abs=0.3)
    assert sum(b.volume_mm3 for b in basins) == pytest.approx(depth.sum() * cell**2, rel=0.03)
    assert sum(b.area_mm2 for b in basins) == pytest.approx((depth > 1e-6).sum() * cell**2, rel=0.05)


def test_fill_never_lowers_and_names_the_spill_vertex() -> None:
    _, z, triangles = pit()
    level, spill = fill(z, triangles, np.where(np.arange(5) < 4, z, np.inf))
    assert (level >= z).all()
    assert spill[4] in (0, 1, 2, 3)
