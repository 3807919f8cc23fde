"""Joints: straight, of constant width, every kind drawn as its own look."""

import numpy as np
import pytest

from analyzer.training.render import joints
from analyzer.training.render.noise import generator

BASE = np.array([0.4, 0.39, 0.37], np.float32)


def drawn(kind: str, width: float = 6.0, seed: int = 4) -> tuple[np.ndarray, object]:
    rng = generator(seed)
    joint = joints.lay(rng, kind, np.array([60.0, -10.0]), np.array([90.0, 210.0]), width)
    rgb = np.ones((150, 200, 3), np.float32) * BASE
    look = joints.random_look(rng, kind, width, BASE, 1.0)
    joints.draw(rgb, joint, look, rng, 0.8)
    return rgb, joint


@pytest.mark.parametrize("kind", joints.JOINT_KINDS)
def test_every_kind_is_drawn_where_it_lies(kind: str) -> None:
    rgb, _ = drawn(kind)
    changed = np.abs(rgb - BASE).max(axis=2) > 0.01
    assert changed[60:90].sum() > 400
    assert not changed[:15].any()
    assert np.isfinite(rgb).all()


def test_kinds_look_different() -> None:
    pictures = [drawn(k)[0].tobytes() for k in joints.JOINT_KINDS]
    assert len(set(pictures)) == len(pictures)


@pytest.mark.parametrize("kind", joints.JOINT_KINDS)
@pytest.mark.parametrize("width", [1.0, 5.0, 30.0])
def test_joint_is_straight_and_of_its_width(kind: str, width: float) -> None:
    _, joint = drawn(kind, width)
    a, b = joint.centre_px[0], joint.centre_px[-1]
    d = (b - a) / np.hypot(*(b - a))
    off = (joint.centre_px - a) @ np.array([d[1], -d[0]])
    ravelled = kind == "ravelled"
    assert np.abs(off).max() < (6.0 if ravelled else 2.8)
    assert np.median(joint.width_px) == pytest.approx(width, rel=0.6 if ravelled else 0.3)
    assert joint.width_px.std() < (8.0 if ravelled else 0.5 * min(width, 6.0) + 0.05)


def test_bow_is_a_smooth_arc() -> None:
    joint = joints.lay(generator(1), "sawn", np.zeros(2), np.array([0.0, 300.0]), 3.0, 5.0)
    row = joint.centre_px[:, 0]
    assert np.abs(row).max() == pytest.approx(5.0, abs=0.4)


def test_tufts_stay_near_the_line() -> None:
    _, joint = drawn("dirt")
    rgb = np.ones((150, 200, 3), np.float32) * BASE
    joints.tufts(generator(3), rgb, joint)
    changed = np.abs(rgb - BASE).max(axis=2) > 0.01
    assert changed.any()
    assert not changed[:10].any()


@pytest.mark.parametrize("kind", joints.JOINT_KINDS)
def test_joint_that_only_grazes_the_picture_is_drawn(kind: str) -> None:
    """Edges, shoulders and torn seals may lie wholly outside."""
    for row in np.arange(-8.0, 0.0, 0.5):
        rng = generator(int(row * 10) + 200)
        joint = joints.lay(rng, kind, np.array([row, -10.0]), np.array([row, 60.0]), 9.0)
        rgb = np.ones((40, 50, 3), np.float32) * BASE
        joints.draw(rgb, joint, joints.random_look(rng, kind, 9.0, BASE, 0.5), rng, 0.8)
        assert np.isfinite(rgb).all()
