"""Means and medians along branches against numpy and scipy on each branch alone."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import median_filter, uniform_filter1d

from analyzer.measure.along import lay_stations, per_branch, running_mean, running_median, thin_out
from analyzer.measure.centerline import fit_centerline


def _two_branches() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    values = np.random.default_rng(3).normal(size=70)
    start = np.repeat([0, 40], [40, 30])
    stop = np.repeat([40, 70], [40, 30])
    return values, start, stop


def test_running_mean_and_median_agree_with_scipy_inside_each_branch() -> None:
    # scipy.ndimage on each branch alone as the independent implementation, away from the ends.
    values, start, stop = _two_branches()
    mean, median = running_mean(values, start, stop, 3), running_median(values, start, stop, 3)
    for part in (slice(0, 40), slice(40, 70)):
        inner = slice(part.start + 3, part.stop - 3)
        np.testing.assert_allclose(mean[inner], uniform_filter1d(values[part], 7)[3:-3])
        np.testing.assert_allclose(median[inner], median_filter(values[part], 7)[3:-3])
    np.testing.assert_allclose(mean[40], np.mean(values[40:44]))
    assert median[39] == np.median(values[36:40])


def test_unknown_values_are_left_out() -> None:
    values, start, stop = _two_branches()
    values[5] = np.nan
    np.testing.assert_allclose(running_mean(values, start, stop, 1)[5], np.mean(values[[4, 6]]))
    assert running_median(values, start, stop, 1)[5] == np.mean(values[[4, 6]])
    values[:40] = np.nan
    assert np.isnan(running_mean(values, start, stop, 5)[:40]).all()
    assert np.isnan(running_median(values, start, stop, 5)[:40]).all()


def test_quantile_of_each_branch() -> None:
    values, start, _ = _two_branches()
    branch = (start > 0).astype(np.intp)
    values[3] = np.nan
    found = per_branch(values, branch, 3, 0.5)
    for k in (0, 1):
        mine = values[(branch == k) & np.isfinite(values)]
        # Nearest-rank quantile: a member of the branch, half of which lies at or below it.
        assert found[k] in mine
        assert abs(np.mean(mine <= found[k]) - 0.5) <= 1.0 / len(mine)
    assert np.isnan(found[2])


def test_stations_are_even_and_know_their_junctions() -> None:
    long = fit_centerline(np.stack([np.arange(101.0), np.zeros(101)], axis=1), 1.0)
    short = fit_centerline(np.stack([np.arange(3.0), np.ones(3)], axis=1), 1.0)
    stations = lay_stations([long, short], [2.0, 2.0], [(True, False), (False, False)])
    assert (stations.branch == 0).sum() == 50
    assert (stations.branch == 1).sum() == 1
    np.testing.assert_allclose(np.diff(stations.along_mm[:50]), 2.0)
    np.testing.assert_allclose(stations.normal_mm, np.tile([0.0, 1.0], (51, 1)), atol=1e-9)
    np.testing.assert_allclose(stations.clear_mm[:50], stations.along_mm[:50])
    assert np.isinf(stations.clear_mm[50])
    assert (stations.start[:50] == 0).all()
    assert stations.stop[50] == 51


def test_thinning_keeps_one_of_every_branch() -> None:
    long = fit_centerline(np.stack([np.arange(101.0), np.zeros(101)], axis=1), 1.0)
    short = fit_centerline(np.stack([np.arange(3.0), np.ones(3)], axis=1), 1.0)
    stations = lay_stations([long, short], 2.0, [(False, False)] * 2)
    pick, start, stop = thin_out(stations, 3)
    np.testing.assert_array_equal(pick[:3], [0, 3, 6])
    assert pick[-1] == 50
    assert start[-1] == len(pick) - 1
    assert stop[-1] == len(pick)


def test_no_lines_give_no_stations() -> None:
    assert len(lay_stations([], np.zeros(0), []).branch) == 0
