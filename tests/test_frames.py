"""Frames against scikit-image on the same points."""

import numpy as np
from skimage.transform import ProjectiveTransform

from analyzer import frames
from analyzer.records import PlanGrid


def test_homography_agrees_with_scikit_image() -> None:
    # scikit-image's ProjectiveTransform as the independent implementation; it wants (x, y).
    rng = np.random.default_rng(4)
    matrix = np.array([[0.1, 2.0, 30.0], [-2.1, 0.2, 4000.0], [1e-5, 2e-5, 1.0]])
    points_rc = rng.uniform(0, 3000, (50, 2))
    expected = ProjectiveTransform(matrix=frames.matrix_xy_from_rc(matrix))(frames.xy_from_rc(points_rc))
    np.testing.assert_allclose(frames.apply(matrix, points_rc), expected, rtol=1e-12)
    back = frames.apply(frames.invert(matrix), expected)
    np.testing.assert_allclose(back, points_rc, atol=1e-6)


def test_grid_runs_down_in_y_and_has_positive_determinant() -> None:
    grid = PlanGrid(x0_mm=100.0, y0_mm=5000.0, mm_per_px=2.0, n_rows=10, n_cols=20)
    matrix = frames.plan_from_grid(grid)
    np.testing.assert_allclose(
        frames.apply(matrix, [[0, 0], [1, 0], [0, 1]]), [[100, 5000], [100, 4998], [102, 5000]]
    )
    assert np.linalg.det(matrix) > 0
    np.testing.assert_allclose(frames.grid_from_plan(grid) @ matrix, np.eye(3), atol=1e-12)


def test_pixel_size_is_the_numerical_derivative() -> None:
    matrix = np.array([[0.1, 2.0, 30.0], [-2.1, 0.2, 4000.0], [1e-4, 2e-4, 1.0]])
    at = np.array([[700.0, 900.0]])
    step = 1e-3
    columns = [
        (frames.apply(matrix, at + d) - frames.apply(matrix, at - d))[0] / (2 * step)
        for d in (np.array([step, 0.0]), np.array([0.0, step]))
    ]
    expected = np.linalg.svd(np.array(columns).T, compute_uv=False)
    np.testing.assert_allclose(frames.mm_per_px_at(matrix, at)[0], expected, rtol=1e-6)


def test_horizon_is_nan() -> None:
    matrix = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [1.0, 0.0, -5.0]])
    assert np.isnan(frames.apply(matrix, [[5.0, 1.0]])).all()
