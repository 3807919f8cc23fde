"""The summer house pad tells its story: hairlines only, seen straight from above."""

from __future__ import annotations

import numpy as np

from analyzer.training.scenes import summerhouse_pad as scene


def test_nothing_but_hairlines() -> None:
    """LTPP calls a crack moderate from 3 mm (from memory)."""
    job = scene.describe()
    assert all(np.max(crack.width_mm) < 1.0 for crack in scene.CRACKS)
    assert set(job.hairlines) == {crack.name for crack in scene.CRACKS}
    assert not job.scene.spalls


def test_the_camera_looked_down_within_a_degree() -> None:
    (shot,) = scene.SHOTS
    x, y, z = shot.position_mm
    tilt = np.degrees(np.arctan2(np.hypot(shot.target_mm[0] - x, shot.target_mm[1] - y), z))
    assert tilt < 1.0


def test_it_drains_away_from_the_house() -> None:
    """IRC R401.3: 2 % beside a house (read as quoted)."""
    house, front = scene.height_mm(np.array([[1800.0, scene.D], [1800.0, 0.0]]))
    assert (house - front) / scene.D >= 0.02
