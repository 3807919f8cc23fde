"""Inside and along an outline; distances against shapely."""

import numpy as np
from shapely.geometry import Point, Polygon

from analyzer.detect.outline import along_outline, fill_polygon

SQUARE = np.array([[20.0, 20.0], [20.0, 180.0], [140.0, 180.0], [140.0, 20.0]])


def test_fill_agrees_with_shapely_away_from_the_border():
    skew = np.array([[20.3, 15.0], [40.0, 170.0], [140.0, 150.0], [120.0, 30.0]])
    inside = fill_polygon((160, 200), skew)
    ring = Polygon(skew)
    rng = np.random.default_rng(0)
    for r, c in rng.integers(0, [160, 200], (300, 2)):
        if ring.exterior.distance(Point(r, c)) > 1.0:
            assert (inside[r, c] > 0) == ring.contains(Point(r, c))


def test_a_line_beside_the_edge_runs_along_it():
    line = np.stack([np.full(100, 26.0), np.arange(40.0, 140.0)], axis=1)
    assert along_outline(line, SQUARE, 10.0).all()
    assert not along_outline(line, SQUARE, 5.0).any()


def test_a_line_that_runs_out_to_the_edge_does_not():
    line = np.stack([np.arange(20.0, 90.0), np.full(70, 100.0)], axis=1)
    assert not along_outline(line, SQUARE, 10.0).any()
