"""The camera is checked against scikit-image's projective transform and OpenCV's projectPoints
(both general libraries)."""

import cv2
import numpy as np
import pytest
from skimage.transform import ProjectiveTransform

from analyzer.training.render.projection import look_at_camera

POINTS_MM = np.array(
    [[0.0, 0.0], [3000.0, 0.0], [3000.0, 2500.0], [0.0, 2500.0], [1200.0, 700.0], [2500.0, 1800.0]]
)


def tilted(**more: float):
    return look_at_camera((1400.0, -1500.0, 1600.0), (1500.0, 1200.0), 900.0, (600, 800), **more)


def test_homography_equals_skimage() -> None:
    camera = tilted(roll_rad=0.2)
    pixels = camera.project(POINTS_MM)
    if hasattr(ProjectiveTransform, "from_estimate"):  # since scikit-image 0.26
        fitted = ProjectiveTransform.from_estimate(pixels, POINTS_MM)
    else:
        fitted = ProjectiveTransform()
        assert fitted.estimate(pixels, POINTS_MM)
    grid = np.stack(np.meshgrid(np.arange(250, 600, 70.0), np.arange(0, 800, 90.0)), -1).reshape(-1, 2)
    assert camera.locate(grid) == pytest.approx(fitted(grid), rel=1e-6)
    h = camera.plan_from_px
    mapped = np.c_[grid, np.ones(len(grid))] @ h.T
    assert mapped[:, :2] / mapped[:, 2:] == pytest.approx(fitted(grid), rel=1e-6)
    assert (mapped[:, 2] > 0).all()


@pytest.mark.parametrize("k1", [0.0, -0.12, 0.08])
def test_projection_equals_opencv(k1: float) -> None:
    """OpenCV: x to the right, y down, z forward, Brown's radial model."""
    camera = tilted(k1=k1, k2=0.02 if k1 else 0.0)
    place = np.array(camera.position_mm)
    forward = np.array([1500.0, 1200.0, 0.0]) - place
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    turn = np.stack([right, np.cross(forward, right), forward])
    matrix = np.array([[900.0, 0, 399.5], [0, 900.0, 299.5], [0, 0, 1]])
    solid = np.c_[POINTS_MM, np.zeros(len(POINTS_MM))]
    lens = np.array([camera.k1, camera.k2, 0.0, 0.0])
    expected, _ = cv2.projectPoints(solid, cv2.Rodrigues(turn)[0], -turn @ place, matrix, lens)
    assert camera.project(POINTS_MM) == pytest.approx(expected[:, 0, ::-1], abs=1e-6)
    assert camera.locate(camera.project(POINTS_MM)) == pytest.approx(POINTS_MM, abs=0.05)


def test_straight_down_is_upright_and_to_scale() -> None:
    camera = look_at_camera((500.0, 400.0, 2000.0), (500.0, 400.0), 1000.0, (101, 201))
    assert camera.project(np.array([[500.0, 400.0]]))[0] == pytest.approx([50, 100])
    # 2 mm per px: plan y up is up in the picture, plan x is to the right
    assert camera.project(np.array([[520.0, 440.0]]))[0] == pytest.approx([30, 110])
    assert camera.mm_per_px(np.array([50.0, 100.0])) == pytest.approx(2.0)
    assert np.linalg.det(camera.plan_from_px) > 0


@pytest.mark.parametrize("roll", [0.0, 0.5, 3.0])
def test_photo_from_above_is_not_mirrored(roll: float) -> None:
    assert np.linalg.det(tilted(roll_rad=roll).plan_from_px) > 0


def test_what_lies_behind_is_cut_away() -> None:
    camera = tilted()
    line = np.array([[1500.0, -9000.0], [1500.0, 2000.0]])
    parts = camera.in_front(line)
    assert len(parts) == 1
    assert (camera.depth(parts[0]) > 0).all()
    assert camera.in_front(np.array([[0.0, -9000.0], [10.0, -9900.0]])) == []
    ring = camera.ring_px(np.array([[-5e4, -5e4], [5e4, -5e4], [5e4, 1000.0], [-5e4, 1000.0]]))
    assert np.isfinite(ring).all()


def test_camera_under_the_slab_is_refused() -> None:
    with pytest.raises(ValueError, match="above the slab"):
        look_at_camera((0.0, 0.0, -5.0), (0.0, 10.0), 900.0, (10, 10))
