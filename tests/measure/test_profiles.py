"""Profiles against scikit-image on the same pixels, footing against finite differences."""

from __future__ import annotations

import numpy as np
import pytest
from skimage.color import rgb2xyz
from skimage.measure import profile_line

from analyzer import frames
from analyzer.measure.profiles import (
    Source,
    choose_source,
    coded_from_linear,
    jacobian,
    linear_from_coded,
    make_sources,
    read_profiles,
    set_footing,
)
from analyzer.records import Photo, PlanGrid, PlanImage, PlanView

TILTED = np.array([[0.02, 1.0, 0.0], [-1.1, 0.05, 900.0], [2e-4, 1e-5, 1.0]])


def _photo(rgb: np.ndarray, name: str = "P1") -> Photo:
    return Photo(name, "x.png", np.ascontiguousarray(rgb), "0" * 64, 1)


def test_srgb_decoding_agrees_with_scikit_image() -> None:
    # skimage.color.rgb2xyz: Y of a grey is its linear light (its white is normalised to 1).
    values = np.linspace(0, 1, 101)
    light = rgb2xyz(np.repeat(values[:, None], 3, axis=1))[:, 1]
    np.testing.assert_allclose(linear_from_coded(values), light, atol=2e-6)
    np.testing.assert_allclose(coded_from_linear(linear_from_coded(values)), values, atol=1e-6)


def test_profiles_agree_with_scikit_image_profile_line() -> None:
    # skimage.measure.profile_line, order 1, on the decoded picture: steps of one pixel.
    rng = np.random.default_rng(1)
    grey = rng.integers(0, 256, (60, 80), dtype=np.uint8)
    source = Source(_photo(np.repeat(grey[:, :, None], 3, axis=2)), np.eye(3), 0.0)
    points = np.array([[30.3, 40.7], [20.0, 33.0]])
    normal = np.array([[0.6, 0.8], [1.0, 0.0]])
    footing = set_footing(points, normal, np.zeros(2, dtype=np.intp), (source,))
    offsets = np.arange(-10.0, 11.0)
    ours = read_profiles(footing, np.arange(2), offsets, (source,))
    light = linear_from_coded(grey / 255.0)
    for k in range(2):
        ends = [points[k] + s * normal[k] for s in (-10, 10)]
        theirs = profile_line(light, ends[0], ends[1], order=1, mode="constant")
        np.testing.assert_allclose(ours[k], theirs[:21], atol=0.012)


def test_outside_the_photo_is_unknown() -> None:
    source = Source(_photo(np.full((50, 50, 3), 128, np.uint8)), np.eye(3), 0.0)
    footing = set_footing(
        np.array([[3.0, 25.0], [25.0, 25.0]]), np.array([[1.0, 0.0]] * 2), np.array([0, -1]), (source,)
    )
    values = read_profiles(footing, np.arange(2), np.arange(-5.0, 6.0), (source,))
    assert np.isnan(values[0, :2]).all()
    assert np.isfinite(values[0, 2:]).all()
    assert np.isnan(values[1]).all()


def test_jacobian_agrees_with_finite_differences() -> None:
    points = np.random.default_rng(2).uniform(0, 500, (20, 2))
    h = 1e-4
    for axis in (0, 1):
        step = np.zeros(2)
        step[axis] = h
        slope = (frames.apply(TILTED, points + step) - frames.apply(TILTED, points - step)) / (2 * h)
        np.testing.assert_allclose(jacobian(TILTED, points)[:, :, axis], slope, rtol=1e-5, atol=1e-9)


def test_pixel_size_across_is_that_square_to_the_crack_in_the_picture() -> None:
    # Foreshortened by two across and not along: a crack at 45 degrees in plan is not at 45 degrees
    # in the picture. A band of known plan width, its two walls mapped to the picture, has the
    # perpendicular distance of those lines as its width in px (plain geometry, computed).
    px_from_plan = np.array([[0.5, 0.0, 10.0], [0.0, 1.0, 20.0], [0.0, 0.0, 1.0]])
    normal = np.array([[np.sqrt(0.5), np.sqrt(0.5)]])
    point = np.array([[100.0, 100.0]])
    source = Source(_photo(np.zeros((400, 400, 3), np.uint8)), px_from_plan, 0.0)
    footing = set_footing(point, normal, np.zeros(1, dtype=np.intp), (source,))
    tangent = np.array([-normal[0, 1], normal[0, 0]])
    wall_a, wall_b = (
        frames.apply(px_from_plan, [point[0] + s * normal[0], point[0] + s * normal[0] + tangent])
        for s in (-5.0, 5.0)
    )
    along = wall_a[1] - wall_a[0]
    gap = wall_b[0] - wall_a[0]
    width_px = abs(along[0] * gap[1] - along[1] * gap[0]) / np.hypot(*along)
    assert footing.mm_per_px[0] == pytest.approx(10.0 / width_px)
    # One step moves one pixel square to the crack.
    square = abs(along[0] * footing.step_px[0, 1] - along[1] * footing.step_px[0, 0]) / np.hypot(*along)
    assert square == pytest.approx(1.0)


def _two_photos(kit) -> tuple:
    near, far = kit.straight_down(1.0), kit.straight_down(3.0)
    photos = [
        _photo(np.zeros((200, 200, 3), np.uint8), "near"),
        _photo(np.zeros((200, 200, 3), np.uint8), "far"),
    ]
    scales = [kit.calibration(near, photo_id="near"), kit.calibration(far, photo_id="far")]
    return make_sources(photos, scales)


def test_the_photo_with_the_smaller_pixel_is_chosen_and_none_outside_all(kit) -> None:
    sources = _two_photos(kit)
    points = np.array([[50.0, -50.0], [400.0, -100.0], [5000.0, 0.0]])
    np.testing.assert_array_equal(choose_source(points, sources, None), [0, 1, -1])


def test_the_plan_overrules_the_pixel_size(kit) -> None:
    sources = _two_photos(kit)
    coarse = PlanGrid(0.0, 0.0, 100.0, 4, 6)
    views = tuple(
        PlanView(name, np.zeros((4, 6, 3), np.uint8), np.ones((4, 6), bool), 0, 0) for name in ("far", "near")
    )
    best = np.full((4, 6), -1, dtype=np.int16)
    best[0, 1] = 0
    plan = PlanImage(PlanGrid(0.0, 0.0, 1.0, 400, 600), views, (), coarse, best, 1.0, 1.0)
    # The cell at (100, 0) is given to 'far', index 1 among the sources; elsewhere the nearer one.
    np.testing.assert_array_equal(
        choose_source(np.array([[100.0, -5.0], [150.0, -150.0]]), sources, plan), [1, 0]
    )


def test_a_closeup_without_a_place_is_no_source(kit) -> None:
    from dataclasses import replace

    photo = _photo(np.zeros((100, 100, 3), np.uint8))
    scale = replace(kit.calibration(kit.straight_down(0.1)), has_plan_position=False)
    assert make_sources([photo], [scale]) == ()
