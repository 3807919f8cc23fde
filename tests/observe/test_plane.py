"""Plane fit against numpy.linalg.lstsq and scipy.optimize.curve_fit (general libraries)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import curve_fit

from analyzer.observe.plane import fit_plane, sound_stations

RNG = np.random.default_rng(7)


def test_coefficients_equal_numpy_lstsq() -> None:
    xy = RNG.uniform(0, 9000, (40, 2)) + 1e5
    z = 0.02 * xy[:, 0] - 0.01 * xy[:, 1] + 12 + RNG.normal(0, 3, 40)
    u = RNG.uniform(0.5, 2.0, 40)
    fit = fit_plane(xy, z, u)
    design = np.column_stack([xy, np.ones(40)]) / u[:, None]
    expected, chi2, *_ = np.linalg.lstsq(design, z / u, rcond=None)
    assert fit is not None
    assert fit.coefficients == pytest.approx(expected, rel=1e-6, abs=1e-6)
    assert fit.chi2 == pytest.approx(float(chi2[0]))
    assert fit.dof == 37


@pytest.mark.parametrize("noise", [0.2, 8.0])
def test_covariance_equals_scipy_curve_fit(noise: float) -> None:
    xy = RNG.uniform(0, 5000, (25, 2))
    u = np.full(25, 1.0)
    z = 0.01 * xy[:, 0] + 0.03 * xy[:, 1] + RNG.normal(0, noise, 25)
    fit = fit_plane(xy, z, u)
    assert fit is not None

    def plane(p, a, b, c):  # type: ignore[no-untyped-def]
        return a * p[0] + b * p[1] + c

    # curve_fit scales by chi2/dof when absolute_sigma is False; ours does so only upwards.
    _, expected = curve_fit(plane, xy.T, z, sigma=u, absolute_sigma=fit.chi2 < fit.dof)
    assert fit.covariance == pytest.approx(expected, rel=1e-4, abs=1e-12)
    u_at = np.sqrt(np.array([100.0, 200.0, 1.0]) @ expected @ np.array([100.0, 200.0, 1.0]))
    assert fit.u_at(np.array([[100.0, 200.0]]))[0] == pytest.approx(u_at, rel=1e-4)


def test_points_on_a_line_or_too_few_define_no_plane() -> None:
    line = np.array([[0.0, 0.0], [1000.0, 500.0], [2000.0, 1000.0], [4000.0, 2000.0]])
    assert fit_plane(line, np.zeros(4), np.ones(4)) is None
    assert fit_plane(line[:2], np.zeros(2), np.ones(2)) is None
    bent = line.copy()
    bent[1, 1] += 400.0
    assert fit_plane(bent, np.zeros(4), np.ones(4)) is not None


def test_unexplained_scatter_is_recovered() -> None:
    xy = RNG.uniform(0, 9000, (4000, 2))
    z = RNG.normal(0, 5.0, 4000)
    fit = fit_plane(xy, z, np.full(4000, 3.0))
    assert fit is not None
    assert fit.scatter_mm == pytest.approx(4.0, rel=0.1)  # sqrt(5^2 - 3^2), by root-sum-square


def grid_of_panels() -> tuple[np.ndarray, tuple[str, ...]]:
    places, names = [], []
    for k in range(6):
        x0, y0 = (k % 3) * 2000, (k // 3) * 2000
        for dx in (300, 1700):
            for dy in (300, 1700):
                places.append((x0 + dx, y0 + dy))
                names.append(f"P{k + 1}")
    return np.array(places, dtype=float), tuple(names)


@pytest.mark.parametrize("drop_mm", [25.0, -25.0])
def test_one_odd_panel_of_six_is_left_out(drop_mm: float) -> None:
    xy, names = grid_of_panels()
    z = 0.01 * xy[:, 1] + RNG.normal(0, 1.0, len(xy))
    z[[n == "P5" for n in names]] -= drop_mm
    mask, settled = sound_stations(xy, z, np.full(len(xy), 1.0), names, 0.01)
    assert settled == ("P5",)
    assert mask.sum() == 20


def test_a_rough_but_plane_slab_leaves_none_out() -> None:
    xy, names = grid_of_panels()
    out = 0
    for seed in range(40):
        z = 0.01 * xy[:, 1] + np.random.default_rng(seed).normal(0, 5.0, len(xy))
        out += len(sound_stations(xy, z, np.full(len(xy), 1.0), names, 0.01)[1])
    assert out <= 3  # alpha = 1 % per slab: 40 slabs give 0.4 on average


def test_of_two_panels_the_lower_one_counts_as_settled() -> None:
    xy = np.array([(x, y) for x in (0, 500, 1000, 2000, 2500, 3000) for y in (0, 900, 1800)], dtype=float)
    names = tuple("P1" if x < 1500 else "P2" for x, _ in xy)
    z = np.where(xy[:, 0] < 1500, 0.0, -30.0)
    _, settled = sound_stations(xy, z, np.full(len(xy), 1.0), names, 0.01)
    assert settled == ("P2",)
