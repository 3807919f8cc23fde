"""Shots and sheets of a sample: scale, field of view, and where a sheet's centre lies."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analyzer.calibrate import sheet_from_picture
from analyzer.training.scenes.plan import Sheet, Shot, lay_sheet, rectangle

SHOT = Shot("a", "a.jpg", (1000.0, -500.0, 2500.0), (1000.0, 1000.0), (3000, 4000))


def test_a_smaller_picture_shows_the_same_view() -> None:
    whole, small = SHOT.camera(), SHOT.camera(0.25)
    assert small.size_px == (750, 1000)
    points = np.array([[0.0, 0.0], [2000.0, 1500.0]])
    # centres at integers: (p + 0.5) scales
    assert small.project(points) + 0.5 == pytest.approx((whole.project(points) + 0.5) / 4, abs=0.01)


def test_field_of_view_of_a_26_mm_lens() -> None:
    """The diagonal of 36 x 24 mm film at 26 mm covers 2 atan(21.63 / 26) = 79.5 degrees (computed)."""
    camera = SHOT.camera()
    half = math.degrees(math.atan(math.hypot(3000, 4000) / 2 / camera.focal_px))
    assert 2 * half == pytest.approx(2 * math.degrees(math.atan(math.hypot(36, 24) / 2 / 26.0)), abs=0.01)


@pytest.mark.parametrize("turned", [0.0, 12.0, 90.0, -135.0])
def test_the_centre_cross_lies_where_the_book_says(turned: float) -> None:
    laid = lay_sheet(Sheet(2, (700.0, 300.0), turned), 2.0)
    rows, cols = laid.image.shape
    local = np.array(
        [[-0.5, -0.5, 1], [-0.5, cols - 0.5, 1], [rows - 0.5, cols - 0.5, 1], [rows - 0.5, -0.5, 1]]
    )
    local = (local @ sheet_from_picture("letter", 2.0).T)[:, :2]
    placed = np.array(laid.corners_mm)
    # a turn and a shift: distances stay, and the sheet's origin goes to its centre
    assert np.hypot(*(placed - [700.0, 300.0]).T) == pytest.approx(np.hypot(*local.T))
    bottom = placed[2] - placed[3]
    assert math.degrees(math.atan2(bottom[1], bottom[0])) == pytest.approx(turned)
    assert np.cross(np.append(bottom, 0), np.append(placed[0] - placed[3], 0))[2] > 0


def test_rectangle_runs_anticlockwise() -> None:
    assert rectangle(0, 0, 2, 1) == ((0, 0), (2, 0), (2, 1), (0, 1))
