"""The bicycle yard tells its story: one panel broken, sunk and stepped, the others in one plane."""

from __future__ import annotations

import numpy as np
import shapely

from analyzer.training.scenes import school_cycle_yard as scene
from analyzer.units import parse_reading


def test_one_panel_alone_is_broken() -> None:
    wide = [c for c in scene.CRACKS if np.min(c.width_mm) > 3.0]
    bad = shapely.Polygon(scene.BAD).buffer(1.0)
    assert len(wide) == 4
    assert all(bad.covers(shapely.LineString(c.points_mm)) for c in wide)


def test_one_panel_alone_has_sunk() -> None:
    """ACI 117, 3/4 in (read as quoted)."""
    middles = np.array([np.mean(panel, axis=0) for panel in scene.PANELS])
    below = 0.015 * middles[:, 1] + 0.002 * middles[:, 0] - scene.height_mm(middles)
    assert list(np.flatnonzero(below > 19.05)) == [4]


def test_its_steps_trip() -> None:
    """ADA 2010, 303.3: more than 1/2 in (read)."""
    job = scene.describe()
    steps = [parse_reading(str(t.values["step"])).mm for t in job.book(job) if t.name == "fault"]
    assert max(steps) > 12.7


def test_one_photo_is_heif() -> None:
    assert sum(shot.file.endswith(".heic") for shot in scene.SHOTS) == 1
