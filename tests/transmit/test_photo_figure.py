"""Annotated photos show the lines where they are, and nothing of the original file."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from analyzer.records import (
    Calibration,
    JobRecord,
    Photo,
    PictureTraces,
    PlanImage,
    PxBranch,
    PxJoint,
    ScoreMaps,
)
from analyzer.terms import DetectMethod
from analyzer.transmit import annotated_photo, annotated_picture, annotated_plan, plain_picture


def _pixels(jpeg: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(jpeg)).convert("RGB")).astype(int)


def _reddish(pixels: np.ndarray) -> np.ndarray:
    return (pixels[..., 0] - pixels[..., 1] > 60) & (pixels[..., 0] > pixels[..., 2])


def test_the_crack_is_drawn_where_it_is(photo: Photo, calibration: Calibration, record: JobRecord) -> None:
    pixels = _pixels(annotated_photo(photo, calibration, record))
    # Small pictures are enlarged to 900 px, here by 2.25, so that labels have room.
    assert pixels.shape == (675, 900, 3)
    # Plan (900, 420) mm is pixel (row, col) = ((1500 - 420) / 5, 900 / 5) = (216, 180), by hand.
    row, col = round(216 * 2.25), round(180 * 2.25)
    assert _reddish(pixels[row - 5 : row + 6, col - 5 : col + 6]).any()
    assert not _reddish(pixels[45:135, 45:135]).any()


def test_nothing_of_the_original_travels(photo: Photo, calibration: Calibration, record: JobRecord) -> None:
    image = Image.open(io.BytesIO(annotated_photo(photo, calibration, record)))
    assert dict(image.getexif()) == {}
    assert "icc_profile" not in image.info
    assert "comment" not in image.info


def test_large_photos_are_shrunk(calibration: Calibration, record: JobRecord) -> None:
    photo = Photo("overview", "a.jpg", np.full((2000, 3000, 3), 120, np.uint8), "0" * 64, 1)
    assert _pixels(annotated_photo(photo, calibration, record)).shape == (1200, 1800, 3)


def test_unseen_parts_of_the_plan_stay_white(plan_image: PlanImage, record: JobRecord) -> None:
    pixels = _pixels(annotated_plan(plan_image, record))
    assert (pixels[225:315, 11:34] > 240).all()
    assert abs(np.median(pixels[225:315, 675:877]) - 150) < 12


def test_a_close_up_comes_back_without_lines(
    photo: Photo, calibration: Calibration, record: JobRecord
) -> None:
    import dataclasses

    loose = dataclasses.replace(calibration, has_plan_position=False)
    assert not _reddish(_pixels(annotated_photo(photo, loose, record))).any()


@pytest.mark.filterwarnings("error")
def test_points_behind_the_camera_are_not_drawn(
    photo: Photo, calibration: Calibration, record: JobRecord
) -> None:
    import dataclasses

    tilted = calibration.plan_from_px.copy()
    tilted[2] = [-1 / 250, 0, 1.0]
    pixels = _pixels(annotated_photo(photo, dataclasses.replace(calibration, plan_from_px=tilted), record))
    assert pixels.shape == (675, 900, 3)


def test_lines_are_drawn_when_the_camera_stood_past_the_plan_origin(
    photo: Photo, calibration: Calibration, record: JobRecord
) -> None:
    """A tilted view in which the plan's origin lies behind the camera; the crack is before it."""
    matrix = calibration.plan_from_px.copy()
    # Divide by w = 1 + k (row - 216): exact at row 216, where the crack's middle shows.
    k = -1 / 60
    tilt = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [k, 0.0, 1.0 - 216 * k]])
    tilted = matrix @ np.linalg.inv(tilt)
    px = tilted @ [216.0, 180.0, 1.0]
    behind = np.linalg.inv(tilted) @ [0.0, 0.0, 1.0]
    assert (px[:2] / px[2]) == pytest.approx([900.0, 420.0])
    assert behind[2] * px[2] < 0
    pixels = _pixels(annotated_photo(photo, replace(calibration, plan_from_px=tilted), record))
    row, col = round(216 * 2.25), round(180 * 2.25)
    assert _reddish(pixels[row - 6 : row + 7, col - 6 : col + 7]).any()


def test_bare_picture_shows_cracks_solid_and_joints_dashed() -> None:
    rgb = np.full((200, 400, 3), 140, np.uint8)
    blank = np.zeros((200, 400), np.uint8)
    crack = PxBranch(np.array([[50.0, 20.0], [50.0, 380.0]]), 0.9, 0, 1)
    joint = PxJoint(np.array([[150.0, 20.0], [150.0, 380.0]]), 0.9)
    traces = PictureTraces(
        ((crack,),), (joint,), blank, blank, ScoreMaps(blank, blank, DetectMethod.FILTERS), None, 0.5
    )
    pixels = _pixels(annotated_picture(rgb, traces))
    solid = _reddish(pixels)[108:119, 60:840].any(axis=0)
    bluish = (pixels[..., 2] - pixels[..., 0] > 50)[333:345, 60:840].any(axis=0)
    assert solid.mean() > 0.98
    assert 0.4 < bluish.mean() < 0.9


def test_a_plain_picture_keeps_its_colours_and_only_grows_smaller(photo: Photo) -> None:
    same = _pixels(plain_picture(photo.rgb))
    assert same.shape == photo.rgb.shape
    assert np.abs(same - photo.rgb.astype(int)).mean() < 3  # JPEG at this quality, as Pillow decodes it
    assert max(_pixels(plain_picture(photo.rgb, 100)).shape) == 100
    assert _pixels(plain_picture(photo.rgb, 10_000)).shape == photo.rgb.shape
