"""The dairy apron tells its story: sunk panels, steps as typed, a panel in five pieces."""

from __future__ import annotations

import numpy as np
import shapely

from analyzer.training.scenes import dairy_apron
from analyzer.units import parse_length, parse_reading


def pieces(panel: tuple[tuple[float, float], ...]) -> int:
    """How many pieces the drawn cracks cut a panel into (shapely's polygonize)."""
    whole = shapely.Polygon(panel)
    lines = [shapely.LineString(c.points_mm) for c in dairy_apron.CRACKS]
    inside = [line for line in lines if whole.buffer(1).covers(line)]
    parts = shapely.polygonize(list(shapely.union_all([whole.exterior, *inside]).geoms))
    return len(parts.geoms)


def test_one_panel_lies_in_five_pieces_and_three_in_two() -> None:
    """UFC 3-270-05, ch. 14: four pieces or more are a shattered slab (read)."""
    assert [pieces(panel) for panel in dairy_apron.PANELS] == [2, 2, 2, 2, 5, 2]


def test_panels_have_sunk_more_than_a_new_slab_may_be_off() -> None:
    """ACI 117, 3/4 in (read as quoted): P2, P4 and P5 lie lower than the plane of the others."""
    middles = np.array([np.mean(panel, axis=0) for panel in dairy_apron.PANELS])
    below = 0.012 * (middles[:, 1] - dairy_apron.D) - dairy_apron.height_mm(middles)
    assert set(np.flatnonzero(below > 19.05)) == {1, 3, 4}


def test_typed_steps_are_the_drawn_ones() -> None:
    job = dairy_apron.describe()
    for fault in (t.values for t in job.book(job) if t.name == "fault" and "along" not in t.values):
        x, y = (parse_length(str(c)) for c in fault["at"])
        around = np.array([[x + 40, y], [x - 40, y], [x, y + 40], [x, y - 40]])
        z = dairy_apron.height_mm(around)
        drawn = max(abs(z[0] - z[1]), abs(z[2] - z[3]))
        assert abs(parse_reading(str(fault["step"])).mm - drawn) < 2.0
