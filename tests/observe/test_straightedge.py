"""The straightedge gap against closed forms and against a brute-force straightedge."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import Delaunay

from analyzer.observe.straightedge import largest_gap

TEN_FEET = 3048.0


def strip(heights: dict[float, float]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A strip 1 m wide along x, the same profile on both sides."""
    x = sorted(heights)
    xy = np.array([(a, b) for b in (0.0, 1000.0) for a in x])
    z = np.array([heights[a] for _ in (0, 1) for a in x])
    n = len(x)
    triangles = [(k, k + 1, n + k) for k in range(n - 1)] + [(k + 1, n + k + 1, n + k) for k in range(n - 1)]
    return xy, z, np.array(triangles)


def test_a_valley_between_two_ridges() -> None:
    xy, z, triangles = strip({0.0: 0.0, 1500.0: -8.0, 3000.0: 0.0})
    gap = largest_gap(xy, z, np.full(6, 1.0), triangles, TEN_FEET)
    assert gap is not None
    assert gap.gap_mm == pytest.approx(8.0)
    assert gap.at_mm[0] == pytest.approx(1500.0)
    # chord at mid span minus a station: u2 = (1/2)2 + (1/2)2 + 1, by GUM 5.1.2
    assert gap.u_mm == pytest.approx(np.sqrt(1.5))


def test_a_ridge_between_lifts_the_straightedge_off() -> None:
    xy, z, triangles = strip({0.0: 0.0, 1500.0: 8.0, 3000.0: 0.0})
    gap = largest_gap(xy, z, np.full(6, 1.0), triangles, TEN_FEET)
    assert gap is not None
    assert gap.gap_mm == pytest.approx(0.0, abs=1e-6)


def test_a_straightedge_shorter_than_the_valley_does_not_span_it() -> None:
    xy, z, triangles = strip({0.0: 0.0, 2000.0: -8.0, 4000.0: 0.0})
    gap = largest_gap(xy, z, np.full(6, 1.0), triangles, TEN_FEET)
    assert gap is not None
    assert gap.gap_mm < 8.0


def test_a_plane_and_a_tilted_plane_show_no_gap() -> None:
    xy, z, triangles = strip({0.0: 0.0, 1000.0: 20.0, 2000.0: 40.0, 3000.0: 60.0})
    gap = largest_gap(xy, z + 0.02 * xy[:, 1], np.full(8, 1.0), triangles, TEN_FEET)
    assert gap is not None
    assert gap.gap_mm == pytest.approx(0.0, abs=1e-6)


def test_nobody_within_reach() -> None:
    xy = np.array([(0.0, 0.0), (9000.0, 0.0), (0.0, 9000.0)])
    assert largest_gap(xy, np.zeros(3), np.ones(3), np.array([(0, 1, 2)]), TEN_FEET) is None


@pytest.mark.parametrize("seed", range(3))
def test_never_less_than_a_brute_force_straightedge_over_the_same_pairs(seed: int) -> None:
    """Slide a sampled straightedge along the line of each pair of vertices: none finds more."""
    rng = np.random.default_rng(seed)
    gx, gy = np.meshgrid(np.arange(4) * 1200.0, np.arange(3) * 1200.0)
    xy = np.column_stack([gx.ravel(), gy.ravel()]) + rng.normal(0, 60, (12, 2))
    z = rng.normal(0, 6, 12)
    delaunay = Delaunay(xy)
    surface = LinearNDInterpolator(delaunay, z)
    best = 0.0
    for i in range(12):
        for j in range(i):
            span = float(np.linalg.norm(xy[i] - xy[j]))
            if span > TEN_FEET:
                continue
            way = (xy[i] - xy[j]) / span
            s = np.linspace(-(TEN_FEET - span), TEN_FEET, 1200)
            profile = surface(xy[j] + s[:, None] * way)
            chord = z[j] + s / span * (z[i] - z[j])
            over = np.nan_to_num(profile - chord, nan=-1.0) > 0.01
            inside = (s > 1.0) & (s < span - 1.0)
            right = np.min(s[over & (s >= span - 1.0)], initial=np.inf) - span
            left = np.min(-s[over & (s <= 1.0)], initial=np.inf)
            if (over & inside).any() or right + left < TEN_FEET - span - 5.0:
                continue
            best = max(best, float(np.nanmax((chord - profile)[inside])))
    gap = largest_gap(xy, z, np.ones(12), np.asarray(delaunay.simplices), TEN_FEET)
    assert gap is not None
    assert gap.gap_mm == pytest.approx(best, abs=0.1)
