"""Walls drawn through the camera of the ground: against a full pinhole projection in space."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.training.render import walls
from analyzer.training.render.noise import generator
from analyzer.training.render.plan import WallPlan
from analyzer.training.render.projection import look_at_camera

CAMERA = look_at_camera((800.0, -900.0, 2200.0), (1000.0, 1500.0), 400.0, (300, 400), 0.05)
WALL = WallPlan((-2000.0, 3000.0), (4000.0, 3300.0), 2500.0)


def in_space(points: np.ndarray) -> np.ndarray:
    """Pixels of points in space by axes and distances (pinhole model; textbook form, from memory)."""
    place = np.array(CAMERA.position_mm)
    forward = np.array([1000.0, 1500.0, 0.0]) - place
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    c, s = np.cos(0.05), np.sin(0.05)
    right, down = c * right + s * down, c * down - s * right
    d = points - place
    depth = d @ forward
    return np.stack([149.5 + 400 * (d @ down) / depth, 199.5 + 400 * (d @ right) / depth], axis=1)


def test_points_of_the_wall_show_where_a_pinhole_puts_them() -> None:
    seen = walls.wall_camera(WALL, CAMERA)
    s = np.array([[0.0, 0.0], [1500.0, 700.0], [3000.0, 2500.0], [5500.0, 40.0]])
    a, b = np.array(WALL.start_mm), np.array(WALL.end_mm)
    along = (b - a) / np.hypot(*(b - a))
    space = np.column_stack([a + s[:, :1] * along, s[:, 1]])
    assert seen.project(s) == pytest.approx(in_space(space), abs=1e-6)


def test_its_foot_lies_on_the_ground_line() -> None:
    seen = walls.wall_camera(WALL, CAMERA)
    ground = CAMERA.project(np.array([WALL.start_mm, WALL.end_mm]))
    length = float(np.hypot(*np.subtract(WALL.end_mm, WALL.start_mm)))
    assert seen.project(np.array([[0.0, 0.0], [length, 0.0]])) == pytest.approx(ground, abs=1e-6)


@pytest.mark.parametrize("kind", ["brick", "plaster"])
def test_it_covers_what_stands_behind_and_nothing_before(kind: str) -> None:
    wall = WallPlan(
        WALL.start_mm, WALL.end_mm, 2500.0, kind, ((2000.0, 3000.0, 200.0, 2200.0, (0.9, 0.0, 0.0)),)
    )
    rgb = np.full((300, 400, 3), 0.5, np.float32)
    walls.draw(wall, CAMERA, generator(3), rgb)
    foot, behind = CAMERA.project(np.array([[1000.0, 2700.0], [1000.0, 4200.0]])).round().astype(int)
    assert (rgb[foot[0], foot[1]] == 0.5).all()
    assert (rgb[behind[0], behind[1]] != 0.5).any()
    door = walls.wall_camera(wall, CAMERA).project(np.array([[2900.0, 300.0]])).round().astype(int)[0]
    assert rgb[door[0], door[1]] == pytest.approx([0.9, 0.0, 0.0], abs=1e-5)


def test_an_unknown_kind_is_refused() -> None:
    with pytest.raises(ValueError, match="wall kind"):
        WallPlan((0.0, 0.0), (1.0, 0.0), kind="hedge")
