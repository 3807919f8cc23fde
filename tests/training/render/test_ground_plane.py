"""Textures of the ground: plan coordinates, mirrored copies, scale of each pixel."""

import numpy as np
import pytest

from analyzer.training.render import ground_plane
from analyzer.training.render.noise import generator
from analyzer.training.render.plan import GroundPlan, SlabScene, StainPlan
from analyzer.training.render.projection import look_at_camera

BOX = ((0.0, 0.0), (2000.0, 0.0), (2000.0, 1500.0), (0.0, 1500.0))


def camera():
    return look_at_camera((1000.0, -900.0, 1300.0), (1000.0, 750.0), 260.0, (180, 240))


def test_band_holds_plan_points_and_their_scale() -> None:
    cam = camera()
    x, y, scale, w = ground_plane.band_plan(cam, 60, 100)
    at = np.array([[72.0, 33.0]])
    assert (x[12, 33], y[12, 33]) == pytest.approx(tuple(cam.locate(at)[0]), rel=1e-4)
    assert scale[12, 33] == pytest.approx(cam.mm_per_px(at[0]), rel=0.02)
    assert (w > 0).all()


def test_texture_is_read_where_it_lies_and_averaged_far_off() -> None:
    picture = generator(1).uniform(0, 1, (200, 300, 3)).astype(np.float32)
    texture = ground_plane.Texture(picture, 2.0, np.array([10.0, -4.0]))
    x = np.full((4, 4), 10.0 + 2.0 * 57, np.float32)
    y = np.full((4, 4), -4.0 + 2.0 * 31, np.float32)
    near = texture.read(x, y, np.full((4, 4), 0.5, np.float32))
    assert near[0, 0] == pytest.approx(picture[31, 57], abs=1e-5)
    xx, yy = np.meshgrid(np.arange(40, 500, 9.0), np.arange(20, 350, 9.0))
    grid = (xx.astype(np.float32), yy.astype(np.float32))
    far = texture.read(*grid, np.full(xx.shape, 40.0, np.float32))
    assert far.std() < 0.25 * texture.read(*grid, np.full(xx.shape, 1.0, np.float32)).std()


def test_bare_slab_is_flat_inside_and_ground_outside() -> None:
    scene = SlabScene(
        BOX, surround="gravel", texture=0.0, colour=(0.4, 0.4, 0.4),
        grounds=(GroundPlan("grass", ((0.0, 1500.0), (2000.0, 1500.0), (2000.0, 5000.0), (0.0, 5000.0))),),
    )  # fmt: skip
    cam = camera()
    rgb = ground_plane.draw_surfaces(scene, cam, 1)
    middle = cam.project(np.array([[1000.0, 700.0]]))[0].round().astype(int)
    assert rgb[middle[0], middle[1]] == pytest.approx(0.4, abs=1e-3)
    bed = cam.project(np.array([[1000.0, 2100.0]]))[0].round().astype(int)
    assert rgb[bed[0] - 3 : bed[0] + 4, bed[1] - 8 : bed[1] + 9].mean(axis=(0, 1)).argmax() == 1
    assert ground_plane.slab_level(scene, cam, rgb) == pytest.approx(0.4, abs=0.01)


def test_stain_lies_where_it_was_put() -> None:
    scene = SlabScene(
        BOX, texture=0.0, colour=(0.4, 0.4, 0.4), stains=(StainPlan("blob", (1500.0, 1000.0), 700.0),)
    )
    rgb = ground_plane.draw_surfaces(scene, camera(), 3)
    plain = ground_plane.draw_surfaces(SlabScene(BOX, texture=0.0, colour=(0.4, 0.4, 0.4)), camera(), 3)
    rows, cols = np.nonzero(np.abs(rgb - plain).max(axis=2) > 0.003)
    assert len(rows)
    where = camera().locate(np.stack([rows, cols], axis=1).astype(float))
    assert (np.abs(where - [1500, 1000]) < 380).all()
