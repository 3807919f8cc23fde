"""Worn spots: inside their slab, sizes as asked, areas as shapely has them."""

from __future__ import annotations

import pytest
import shapely

from analyzer.training.scenes.wear import area_within, scattered, spot

PANEL = ((0.0, 0.0), (2000.0, 0.0), (2000.0, 1000.0), (0.0, 1000.0))


def test_spots_stay_inside_their_margin() -> None:
    rings = scattered(3, PANEL, 25, (100.0, 500.0), 50.0)
    room = shapely.Polygon(PANEL).buffer(-49.9)
    assert len(rings) == 25
    assert all(room.covers(shapely.Polygon(ring)) for ring in rings)


def test_overlaps_count_once() -> None:
    ring = ((100.0, 100.0), (300.0, 100.0), (300.0, 300.0), (100.0, 300.0))
    shifted = ((200.0, 100.0), (400.0, 100.0), (400.0, 300.0), (200.0, 300.0))
    outside = ((5000.0, 0.0), (5100.0, 0.0), (5100.0, 100.0))
    assert area_within((ring, shifted, outside), PANEL) == pytest.approx(300 * 200)


def test_size_of_a_spot() -> None:
    areas = [shapely.Polygon(spot(1, k, (0.0, 0.0), 400.0)).buffer(0).area for k in range(40)]
    circle = 3.14159 * 200.0**2
    assert 0.5 * circle < sum(areas) / len(areas) < 1.2 * circle


def test_the_same_seed_gives_the_same_spots() -> None:
    assert scattered(3, PANEL, 5, (100.0, 300.0)) == scattered(3, PANEL, 5, (100.0, 300.0))
    assert scattered(3, PANEL, 5, (100.0, 300.0)) != scattered(4, PANEL, 5, (100.0, 300.0))
