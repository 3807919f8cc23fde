"""Laying a photo on a grid: against scikit-image's warp, and hairlines kept when minified."""

import cv2
import numpy as np
import pytest
from skimage.transform import ProjectiveTransform, warp

from analyzer import frames
from analyzer.calibrate.resample import lay_on_grid
from analyzer.records import PlanGrid


def smooth_picture(size: tuple[int, int], seed: int = 0) -> np.ndarray:
    noise = np.random.default_rng(seed).uniform(0, 255, (*size, 3)).astype(np.float32)
    blurred = cv2.GaussianBlur(noise, (0, 0), 6)
    return cv2.normalize(blurred, None, 20, 235, cv2.NORM_MINMAX).astype(np.uint8)


def test_same_picture_as_scikit_image() -> None:
    # scikit-image's warp with order 1 on the same homography; it wants (x, y) and inverse maps.
    picture = smooth_picture((400, 500))
    plan_from_px = np.array([[0.1, 1.0, 40.0], [-1.05, 0.05, 460.0], [2e-4, 1e-4, 1.0]])
    grid = PlanGrid(120.0, 400.0, 1.0, 200, 180)
    px_from_cell = np.linalg.inv(plan_from_px) @ frames.plan_from_grid(grid)
    xy = ProjectiveTransform(matrix=px_from_cell[[1, 0, 2]][:, [1, 0, 2]])
    expected = warp(picture, xy, output_shape=(200, 180), order=1, mode="reflect", preserve_range=True)
    ours = lay_on_grid(picture, plan_from_px, grid).astype(float)
    inside = frames.apply(px_from_cell, np.argwhere(np.ones((200, 180))))
    ok = ((inside > 2) & (inside < np.array([397, 497]))).all(axis=1).reshape(200, 180)
    assert ok.mean() > 0.8
    assert np.abs(ours - expected)[ok].max() <= 2.0


@pytest.mark.parametrize("ratio", [1.7, 2.6, 4.0, 7.3])
def test_a_hairline_keeps_its_darkness_when_cells_are_larger_than_pixels(ratio: float) -> None:
    # A line one pixel wide and 100 grey levels deep, slightly turned: whatever the cell size, the
    # darkness summed across it is that of the line, 100 px-levels, i.e. 100 / ratio cell-levels.
    picture = np.full((600, 600, 3), 200, np.uint8)
    big = np.full((2400, 2400), 200, np.uint8)
    cv2.line(big, (1000, 0), (1230, 2399), (100,), 4, cv2.LINE_AA)
    picture[...] = cv2.resize(big, (600, 600), interpolation=cv2.INTER_AREA)[..., None]
    plan_from_px = np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 599.0], [0.0, 0.0, 1.0]])
    n = int(560 / ratio)
    out = lay_on_grid(picture, plan_from_px, PlanGrid(20.0, 580.0, ratio, n, n)).astype(float)
    per_row = (200 - out[..., 0]).sum(axis=1)
    whole = (200 - picture[20:580, :, 0].astype(float)).sum(axis=1).mean() / ratio
    assert per_row.mean() == pytest.approx(whole, rel=0.03)
    assert per_row.std() < 0.2 * per_row.mean()


def test_reduced_photos_do_not_shift() -> None:
    picture = smooth_picture((512, 512), 3)
    plan_from_px = np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 511.0], [0.0, 0.0, 1.0]])
    coarse = lay_on_grid(picture, plan_from_px, PlanGrid(30.0, 480.0, 4.0, 110, 110)).astype(float)
    fine = lay_on_grid(picture, plan_from_px, PlanGrid(30.0 - 1.5, 480.0 + 1.5, 1.0, 440, 440))
    expected = cv2.resize(fine, (110, 110), interpolation=cv2.INTER_AREA).astype(float)
    assert np.abs(coarse - expected).max() < 3


def test_windows_larger_than_a_tile_have_no_seams() -> None:
    picture = smooth_picture((300, 1400), 5)
    plan_from_px = np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 299.0], [0.0, 1e-5, 1.0]])
    out = lay_on_grid(picture, plan_from_px, PlanGrid(5.0, 290.0, 1.0, 280, 1300)).astype(float)
    steps = np.abs(np.diff(out[..., 0], axis=1)).mean(axis=0)
    assert steps[505:520].max() < 2.5 * np.median(steps)
