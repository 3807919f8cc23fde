"""Direct linear transform and propagation against scikit-image, shapely and simulation."""

import numpy as np
import pytest
import shapely
from skimage.transform import ProjectiveTransform

from analyzer import frames
from analyzer.calibrate.homography import (
    UncertainHomography,
    fit_homography,
    length_u_rel,
    normaliser,
    plan_shift,
    position_covariance,
    project,
)
from analyzer.errors import CalibrationError

TRUTH = np.array([[-0.03, -0.42, 1500.0], [0.45, 0.02, 100.0], [2e-5, 1.3e-4, 1.0]])


@pytest.mark.parametrize("n", [4, 5, 12])
def test_same_matrix_as_scikit_image(n: int) -> None:
    # scikit-image's ProjectiveTransform on the same points; it wants (x, y).
    rng = np.random.default_rng(n)
    plan = rng.uniform(0, 4000, (n, 2))
    px = frames.apply(TRUTH, plan) + rng.normal(0, 0.3 if n > 4 else 0.0, (n, 2))
    ours = fit_homography(px, plan)
    theirs = ProjectiveTransform.from_estimate(frames.xy_from_rc(px), plan)
    probe = rng.uniform(300, 900, (40, 2))
    ours_mm, theirs_mm = frames.apply(ours, probe), theirs(frames.xy_from_rc(probe))
    np.testing.assert_allclose(ours_mm, theirs_mm, rtol=1e-6, atol=1e-4)
    # Lengths and areas of a panel measured in plan, against shapely on scikit-image's points.
    ring = np.array([[300.0, 300.0], [300.0, 900.0], [900.0, 900.0], [900.0, 300.0]])
    polygon = shapely.Polygon(theirs(frames.xy_from_rc(ring)))
    corners = frames.apply(ours, ring)
    assert np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).sum() == pytest.approx(
        polygon.length
    )
    assert shapely.Polygon(corners).area == pytest.approx(polygon.area)


def test_weights_count() -> None:
    plan = np.array([[0, 0], [1000, 0], [1000, 1000], [0, 1000], [500, 500]], dtype=float)
    px = frames.apply(TRUTH, plan)
    px[4] += 30
    light = fit_homography(plan, px, [1, 1, 1, 1, 1e-4])
    np.testing.assert_allclose(frames.apply(light, plan[:4]), px[:4], atol=1e-3)
    heavy = fit_homography(plan, px)
    assert np.abs(frames.apply(heavy, plan[:4]) - px[:4]).max() > 0.5


def test_points_in_front_have_positive_w() -> None:
    plan = np.array([[0, 0], [1000, 0], [1000, 1000], [0, 1000]], dtype=float)
    fitted = fit_homography(plan, frames.apply(TRUTH, plan))
    assert (np.column_stack([plan, np.ones(4)]) @ fitted[2] > 0).all()


@pytest.mark.parametrize(
    "plan",
    [
        [[0, 0], [500, 0], [1000, 0], [0, 1000]],
        [[0, 0], [0, 0], [1000, 0], [0, 1000]],
        [[0, 0], [1000, 0], [0, 1000]],
    ],
)
def test_points_that_fix_nothing_are_refused(plan: list[list[float]]) -> None:
    with pytest.raises(CalibrationError):
        fit_homography(plan, frames.apply(TRUTH, np.array(plan, dtype=float)))


def test_derivatives_are_the_numerical_ones() -> None:
    points = np.array([[300.0, 700.0], [2500.0, 1800.0]])
    _, by_matrix, by_point = project(TRUTH, points)
    shift = plan_shift(TRUTH, points)
    px = frames.apply(TRUTH, points)
    for k in range(8):
        step = np.zeros(9)
        step[k] = 1e-6 * max(abs(TRUTH.ravel()[k]), 1e-6)
        plus, minus = (TRUTH.ravel() + s * step for s in (1, -1))
        plus, minus = plus.reshape(3, 3), minus.reshape(3, 3)
        numeric = (frames.apply(plus, points) - frames.apply(minus, points)) / (2 * step[k])
        np.testing.assert_allclose(by_matrix[:, :, k], numeric, rtol=1e-5, atol=1e-6)
        moved = frames.apply(np.linalg.inv(plus), px) - frames.apply(np.linalg.inv(minus), px)
        np.testing.assert_allclose(shift[:, :, k], moved / (2 * step[k]), rtol=1e-4, atol=1e-4)
    for k, d in enumerate(np.eye(2) * 1e-3):
        numeric = (frames.apply(TRUTH, points + d) - frames.apply(TRUTH, points - d)) / 2e-3
        np.testing.assert_allclose(by_point[:, :, k], numeric, rtol=1e-6)


def test_propagated_uncertainty_is_that_of_a_simulation() -> None:
    # JCGM 101:2008 (Monte Carlo propagation, from memory) as the check on JCGM 100's first order.
    rng = np.random.default_rng(8)
    root = rng.normal(0, 1, (8, 8)) * np.abs(TRUTH.ravel()[:8])[:, None] * 3e-4
    covariance = root @ root.T
    places = np.array([[400.0, 600.0], [2600.0, 1900.0]])
    px = frames.apply(TRUTH, places)
    e = np.array([1.0, 0.0])
    ends_px = frames.apply(TRUTH, places + 50 * e)
    found, lengths = [], []
    for draw in rng.standard_normal((4000, 8)):
        matrix = (TRUTH.ravel() + np.append(root @ draw, 0.0)).reshape(3, 3)
        inverse = np.linalg.inv(matrix)
        found.append(frames.apply(inverse, px))
        lengths.append(np.linalg.norm(frames.apply(inverse, ends_px) - found[-1], axis=1) / 50)
    spread = position_covariance(TRUTH, covariance, places)
    for i in range(2):
        simulated = np.cov(np.array(found)[:, i].T)
        np.testing.assert_allclose(spread[i], simulated, rtol=0.1, atol=0.05 * np.trace(simulated))
    worst = length_u_rel(TRUTH, covariance, places)
    along_x = np.std(lengths, axis=0)
    assert (worst > 0.97 * along_x).all()


def test_length_uncertainty_of_a_pure_scale() -> None:
    # A relative uncertainty of the scale alone is that of every length; a turn or shift is none.
    matrix = np.diag([2.0, 2.0, 1.0])
    scale = np.zeros(8)
    scale[[0, 4]] = 2.0
    places = np.array([[0.0, 0.0], [3.0, -4.0]])
    np.testing.assert_allclose(
        length_u_rel(matrix, np.outer(scale, scale) * 0.01**2, places, 0.1), 0.01, rtol=1e-3
    )
    turn_shift = np.zeros(8)
    turn_shift[[1, 3]] = 2.0, -2.0
    turn_shift[[2, 5]] = 5.0
    assert length_u_rel(matrix, np.outer(turn_shift, turn_shift) * 0.01**2, places, 0.1).max() < 1e-9


def test_normalised_frames_give_back_the_matrix() -> None:
    plan = np.array([[0, 0], [1000, 0], [1000, 1000], [0, 1000]], dtype=float)
    to_plan, to_px = normaliser(plan), normaliser(frames.apply(TRUTH, plan))
    matrix = to_px @ TRUTH @ np.linalg.inv(to_plan)
    held = UncertainHomography(matrix / matrix[2, 2], np.eye(8) * 1e-8, to_plan, to_px)
    np.testing.assert_allclose(frames.apply(held.px_from_plan, plan), frames.apply(TRUTH, plan), atol=1e-9)
    np.testing.assert_allclose(frames.apply(held.plan_from_px @ held.px_from_plan, plan), plan, atol=1e-6)
    np.testing.assert_allclose(held.centre_mm, [500, 500])
    assert held.position_u_mm(plan).shape == (4,)
    assert (held.depth(plan) > 0).all()
