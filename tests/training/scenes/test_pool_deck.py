"""The pool deck tells its story: the door track stands lower than any overlay is thick."""

from __future__ import annotations

import numpy as np
import shapely

from analyzer.training.scenes import pool_deck
from analyzer.training.scenes.wear import area_within
from analyzer.units import parse_reading


def test_no_overlay_fits_below_the_door_track() -> None:
    """2 in is the least of a bonded overlay (Guide to Concrete Overlays, read in part)."""
    job = pool_deck.describe()
    sill = next(t for t in job.book(job) if t.values.get("kind") == "door sill")
    assert parse_reading(str(sill.values["above_slab"])).mm < 2 * 25.4


def test_but_for_the_door_it_would_be_worth_covering() -> None:
    slab = tuple(pool_deck.CORNERS.values())
    assert area_within(pool_deck.WORN, slab) / shapely.Polygon(slab).area > 0.2


def test_the_one_sheet_shows_on_both_photos() -> None:
    job = pool_deck.describe()
    (sheet,) = job.sheets
    for shot in job.shots:
        ((row, col),) = shot.camera().project(np.array([sheet.centre_mm]))
        assert 300 < row < shot.size_px[0] - 300
        assert 300 < col < shot.size_px[1] - 300
