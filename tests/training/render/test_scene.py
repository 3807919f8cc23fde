"""Photographs of whole slabs: darkness against width, marker corners against OpenCV's ArUco
detector, repeatability, and that every part of a plan is seen."""

import cv2
import numpy as np
import pytest

from analyzer.training.render import plan
from analyzer.training.render.camera import PLAIN
from analyzer.training.render.projection import look_at_camera
from analyzer.training.render.scene import phone_look, render_photo

BOX = ((0.0, 0.0), (3000.0, 0.0), (3000.0, 2000.0), (0.0, 2000.0))
GREY = (0.4, 0.4, 0.4)


def above(size: tuple[int, int] = (300, 420), height: float = 2600.0):
    return look_at_camera((1500.0, 1000.0, height), (1500.0, 1000.0), 380.0, size)


def tilted(**more: float):
    return look_at_camera((1500.0, -1100.0, 1600.0), (1500.0, 900.0), 420.0, (360, 480), **more)


def bare(**more) -> plan.SlabScene:
    return plan.SlabScene(BOX, texture=0.0, colour=GREY, surround="smooth", **more)


@pytest.mark.parametrize("angle_deg", [0, 10, 22.5, 30, 45])
@pytest.mark.parametrize("width_mm", [1.5, 4.0, 11.0])
def test_darkness_across_a_crack_is_width_times_contrast(angle_deg: float, width_mm: float) -> None:
    """Straight down at 6.84 mm per px: sub-pixel cracks; a row cuts the line over width / cos."""
    a = np.deg2rad(angle_deg)
    d = np.array([np.sin(a), np.cos(a)]) * 800  # plan: angle from the y axis
    ends = ((1500 - d[0], 1000 - d[1]), (1500 + d[0], 1000 + d[1]))
    scene = bare(cracks=(plan.CrackPlan(ends, width_mm, roughness=0.0, darkness=0.9),))
    camera = above()
    rgb = render_photo(scene, camera, 1, PLAIN).rgb.astype(float)
    row = slice(110, 190)
    level = np.median(rgb[row], axis=(0, 1))
    drop = (level - rgb[row, 60:360]).sum(axis=1) / level
    expected = width_mm / camera.mm_per_px(np.array([150.0, 210.0])) / np.cos(a) * 0.9
    assert drop.mean() == pytest.approx(expected, rel=0.03, abs=0.02)


def test_tilted_photo_agrees_with_its_homography() -> None:
    ends = ((700.0, 600.0), (2300.0, 1500.0))
    photo = render_photo(bare(cracks=(plan.CrackPlan(ends, 12.0, roughness=0.0),)), tilted(), 1, PLAIN)
    rows, cols = np.nonzero(photo.crack_mask())
    h = np.c_[rows, cols, np.ones(len(rows))] @ photo.plan_from_px.T
    where = h[:, :2] / h[:, 2:]
    d = np.array(ends[1]) - np.array(ends[0])
    off = np.abs((where - ends[0]) @ np.array([d[1], -d[0]])) / np.hypot(*d)
    assert off.max() < 6.0 + 1.2 * photo.camera.mm_per_px(np.array([60.0, 240.0]))
    inside = photo.rgb[rows, cols, 1]
    assert np.median(inside) < 0.6 * np.median(photo.rgb[photo.slab_mask() > 0])
    assert photo.cracks[0].length_mm == pytest.approx(np.hypot(*d), rel=1e-6)
    assert photo.cracks[0].width_mm == pytest.approx(12.0)


def test_rough_crack_keeps_its_mean_width() -> None:
    path = ((300.0, 300.0), (1500.0, 900.0), (2700.0, 1700.0))
    truth = render_photo(bare(cracks=(plan.CrackPlan(path, 6.0, name="A"),)), tilted(), 4, PLAIN).cracks[0]
    assert truth.name == "A"
    assert truth.width_mm.mean() == pytest.approx(6.0, rel=0.25)
    assert np.hypot(*(truth.left_mm - truth.right_mm).T) == pytest.approx(truth.width_mm, rel=1e-6)
    assert truth.length_mm > np.hypot(1200, 600) + np.hypot(1200, 800)
    # left of the way of travel has the greater cross product in a right-handed plan
    d = np.gradient(truth.centre_mm, axis=0)
    to_left = truth.left_mm - truth.centre_mm
    assert np.mean(d[:, 0] * to_left[:, 1] - d[:, 1] * to_left[:, 0] > 0) > 0.98


@pytest.mark.parametrize("k1", [0.0, -0.15])
def test_marker_corners_are_found_where_they_lie(k1: float) -> None:
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    marker = cv2.aruco.generateImageMarker(dictionary, 7, 300)
    image = cv2.copyMakeBorder(marker, 60, 60, 60, 60, cv2.BORDER_CONSTANT, value=255)
    corners = ((1300.0, 1000.0), (1700.0, 1000.0), (1700.0, 600.0), (1300.0, 600.0))
    scene = bare(sheets=(plan.SheetPlan(image, corners),))
    camera = look_at_camera((1500.0, -500.0, 1400.0), (1500.0, 800.0), 900.0, (600, 800), k1=k1)
    photo = render_photo(scene, camera, 2, PLAIN)
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    found, ids, _ = cv2.aruco.ArucoDetector(dictionary, settings).detectMarkers(photo.rgb[..., 1])
    assert ids is not None
    assert ids.ravel().tolist() == [7]
    inset = 400.0 * 60 / 420
    black = np.array(
        [[1300 + inset, 1000 - inset], [1700 - inset, 1000 - inset],
         [1700 - inset, 600 + inset], [1300 + inset, 600 + inset]]
    )  # fmt: skip
    assert found[0][0][:, ::-1] == pytest.approx(camera.project(black), abs=0.35)
    assert photo.hidden.any()


def test_every_part_of_a_plan_is_seen() -> None:
    box = ((900.0, 700.0), (1500.0, 700.0), (1500.0, 1200.0), (900.0, 1200.0))
    parts = {
        "cracks": plan.CrackPlan(((500.0, 500.0), (2000.0, 1500.0)), 8.0),
        "joints": plan.JointPlan((1500.0, 0.0), (1500.0, 2000.0), 10.0, "tooled"),
        "spalls": plan.SpallPlan(box),
        "stains": plan.StainPlan("wet", (1500.0, 1000.0), 1200.0),
        "objects": plan.ObjectPlan("leaves", (1500.0, 900.0), 900.0),
        "shadows": plan.ShadowPlan("polygon", box),
        "grounds": plan.GroundPlan(
            "soil", ((0.0, 2000.0), (3000.0, 2000.0), (3000.0, 4000.0), (0.0, 4000.0))
        ),
    }
    empty = render_photo(bare(), tilted(), 3, PLAIN).rgb.astype(int)
    for name, part in parts.items():
        rgb = render_photo(bare(**{name: (part,)}), tilted(), 3, PLAIN).rgb
        assert (np.abs(rgb - empty).max(axis=2) > 4).sum() > 60, name
    for kind in ("foliage", "fence"):
        rgb = render_photo(bare(shadows=(plan.ShadowPlan(kind),)), tilted(), 3, PLAIN).rgb
        assert (np.abs(rgb - empty).max(axis=2) > 4).sum() > 200
    toned = render_photo(bare(panel_tones=((box, 0.8),)), tilted(), 3, PLAIN).rgb
    assert (np.abs(toned - empty).max(axis=2) > 4).sum() > 200
    patched = render_photo(bare(spalls=(plan.SpallPlan(box, "patch"),)), tilted(), 3, PLAIN).rgb
    assert (patched != empty).any()


@pytest.mark.parametrize("kind", ["dark", "dirt_filled", "light_filled", "sealed", "vegetated"])
def test_crack_kinds_differ_in_the_photo(kind: str) -> None:
    crack = plan.CrackPlan(((500.0, 900.0), (2500.0, 1000.0)), 30.0, kind)
    photo = render_photo(bare(cracks=(crack,)), tilted(), 3, PLAIN)
    inside = photo.rgb[photo.crack_mask() > 0].mean()
    assert (inside > 102) == (kind == "light_filled")


def test_same_seed_same_bytes_and_a_phone_by_default() -> None:
    scene = plan.SlabScene(BOX, cracks=(plan.CrackPlan(((300.0, 300.0), (2500.0, 1500.0)), 5.0),))
    first, again = (render_photo(scene, tilted(), 9).rgb for _ in range(2))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, render_photo(scene, tilted(), 10).rgb)
    assert phone_look(3).gamma == "srgb"
    assert 40 < first.mean() < 200


def test_slab_mask_follows_the_outline() -> None:
    photo = render_photo(bare(), tilted(), 1, PLAIN)
    inside = photo.slab_mask() > 0
    rows, cols = np.nonzero(inside)
    where = photo.camera.locate(np.stack([rows, cols], axis=1).astype(float))
    assert where.min() > -15
    assert (where.max(axis=0) < [3015, 2015]).all()
    inner = photo.rgb[inside]  # a pixel of the border may be half of the ground
    assert (np.abs(inner.astype(int) - 102).max(axis=1) < 4).mean() > 0.98
