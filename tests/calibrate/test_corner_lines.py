"""Corners of a drawn square come back to a small part of a pixel, blurred and noisy or not."""

import cv2
import numpy as np
import pytest

from analyzer import frames
from analyzer.calibrate.corner_lines import fit_square
from analyzer.records import Float, UInt8

SQUARE = np.array([[0.0, 0.0], [0.0, 120.0], [120.0, 120.0], [120.0, 0.0]])


def draw(matrix: Float, *, blur: float = 0.8, noise: float = 0.0, fine: int = 8) -> UInt8:
    """A dark square seen through a homography, averaged over pixels by 8 by 8 samples."""
    place = (np.arange(160 * fine) + 0.5) / fine - 0.5
    rows, cols = np.meshgrid(place, place, indexing="ij")
    on_square = frames.apply(np.linalg.inv(matrix), np.column_stack([rows.ravel(), cols.ravel()]))
    dark = ((on_square > 0) & (on_square < 120)).all(axis=1).reshape(rows.shape)
    large = np.where(dark, 30, 220).astype(np.float32)
    picture = cv2.resize(large, (160, 160), interpolation=cv2.INTER_AREA)
    picture = cv2.GaussianBlur(picture, (0, 0), blur)
    picture += np.random.default_rng(3).normal(0, noise, picture.shape) if noise else 0
    return np.repeat(np.clip(np.rint(picture), 0, 255).astype(np.uint8)[..., None], 3, axis=2)


@pytest.mark.parametrize("turn_deg", [0, 7, 30, 45])
@pytest.mark.parametrize(("blur", "noise", "tolerance"), [(0.6, 0, 0.06), (2.0, 0, 0.1), (0.8, 6, 0.2)])
def test_corners_of_a_turned_square_in_perspective(
    turn_deg: float, blur: float, noise: float, tolerance: float
) -> None:
    a = np.radians(turn_deg)
    matrix = np.array(
        [
            [0.5 * np.cos(a), -0.5 * np.sin(a), 55.3 + 20 * np.sin(a)],
            [0.5 * np.sin(a), 0.5 * np.cos(a), 55.7 - 20 * np.sin(a)],
            [6e-4, 3e-4, 1.0],
        ]
    )
    truth = frames.apply(matrix, SQUARE)
    rough = truth + np.array([[1.2, -0.8], [-1.0, 0.9], [0.7, 1.3], [-1.1, -0.6]])
    fit = fit_square(draw(matrix, blur=blur, noise=noise), rough)
    assert fit is not None
    assert np.abs(fit.px - truth).max() < tolerance


def test_growth_points_outwards() -> None:
    matrix = np.array([[0.6, 0.0, 40.0], [0.0, 0.6, 40.0], [0.0, 0.0, 1.0]])
    fit = fit_square(draw(matrix), frames.apply(matrix, SQUARE) + 0.4)
    assert fit is not None
    np.testing.assert_allclose(fit.growth, [[-1, -1], [-1, 1], [1, 1], [1, -1]], atol=0.02)
    assert 0 < fit.u_px < 0.1


def test_no_square_no_corners() -> None:
    flat = np.full((160, 160, 3), 128, np.uint8)
    assert fit_square(flat, SQUARE * 0.5 + 40) is None
    matrix = np.array([[0.6, 0.0, -30.0], [0.0, 0.6, 40.0], [0.0, 0.0, 1.0]])
    assert fit_square(draw(matrix), frames.apply(matrix, SQUARE)) is None
