"""The chapel walk tells its story: worn, level, and a step at the door above the code's limit."""

from __future__ import annotations

import numpy as np
import shapely

from analyzer.training.scenes import chapel_walk
from analyzer.training.scenes.wear import area_within
from analyzer.units import parse_reading


def test_the_surface_is_worn_and_the_panels_lie_in_one_plane() -> None:
    slab = tuple(chapel_walk.CORNERS.values())
    assert area_within(chapel_walk.WORN, slab) / shapely.Polygon(slab).area > 0.2
    middles = np.array([np.mean(panel, axis=0) for panel in chapel_walk.PANELS])
    z = chapel_walk.height_mm(middles)
    columns = np.column_stack([middles, np.ones(len(middles))])
    left = z - columns @ np.linalg.lstsq(columns, z, rcond=None)[0]
    assert np.abs(left).max() < 6.35  # 1/4 in, New Jersey warranty yardstick for settlement (read)


def test_the_door_step_is_higher_than_the_code_allows() -> None:
    """IRC R311.7.5.1, 7 3/4 in (read as quoted)."""
    job = chapel_walk.describe()
    sill = next(t for t in job.book(job) if t.values.get("kind") == "door sill")
    assert parse_reading(str(sill.values["above_slab"])).mm > 7.75 * 25.4


def test_the_sheets_lie_on_the_slab_and_every_overview_shows_two() -> None:
    job = chapel_walk.describe()
    slab = shapely.Polygon(job.scene.outline_mm)
    centres = np.array([sheet.centre_mm for sheet in job.sheets])
    assert all(slab.contains(shapely.Point(c)) for c in centres)
    for shot in job.shots[:3]:
        px = shot.camera().project(centres)
        inside = (px > 150).all(axis=1) & (px < np.array(shot.size_px) - 150).all(axis=1)
        assert inside.sum() >= 2, shot.photo_id
