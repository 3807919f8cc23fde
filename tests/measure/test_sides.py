"""Sides and corners of panels against shapely and plain geometry."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import affinity

from analyzer.measure.sides import corners_of, long_axis_deg, sides_of

BOX = shapely.box(0, 0, 3000, 1200)


@pytest.mark.parametrize("turn", [0.0, 17.0, 90.0, 140.0])
def test_sides_and_axis_turn_with_the_panel(turn) -> None:
    panel = affinity.rotate(BOX, turn)
    assert sides_of(panel) == pytest.approx((3000.0, 1200.0))
    assert (long_axis_deg(panel) - turn + 90) % 180 == pytest.approx(90.0, abs=1e-6)


def test_a_rectangle_has_four_corners_with_its_sides() -> None:
    corners = corners_of(BOX)
    assert len(corners) == 4
    for corner in corners:
        assert sorted(corner.lengths_mm) == pytest.approx([1200.0, 3000.0])
        np.testing.assert_allclose(corner.side_a[0], corner.at)
        np.testing.assert_allclose(corner.side_b[0], corner.at)


def test_a_bend_in_a_side_is_no_corner_and_an_inner_corner_none_of_a_panel() -> None:
    bent = shapely.Polygon([(0, 0), (1500, 40), (3000, 0), (3000, 1200), (0, 1200)])
    assert len(corners_of(bent)) == 4
    ell = shapely.Polygon([(0, 0), (3000, 0), (3000, 1000), (1000, 1000), (1000, 3000), (0, 3000)])
    corners = corners_of(ell)
    assert len(corners) == 5
    assert not any(np.allclose(corner.at, (1000, 1000)) for corner in corners)


def test_a_clockwise_panel_has_the_same_corners() -> None:
    back = shapely.Polygon(list(BOX.exterior.coords)[::-1])
    assert {tuple(c.at) for c in corners_of(back)} == {tuple(c.at) for c in corners_of(BOX)}
