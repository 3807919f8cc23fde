"""Masks against the vector truth (shapely), weights against made-up pictures of known contrast."""

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon

from analyzer.training.render.truth import centre_mask, crack_weight, make_ribbon, mask_of, width_map

SHAPE = (90, 120)


def wide_ribbon(width: float = 8.0):
    t = np.linspace(0, 1, 60)[:, None]
    line = np.array([15.0, 10.0]) + t * np.array([55.0, 90.0])
    line[:, 0] += 6 * np.sin(t[:, 0] * 9)
    return make_ribbon("dark", line, np.full(60, width))


def test_left_and_right_lie_on_their_sides() -> None:
    """Walking down the picture (rows grow), the left hand is at greater columns."""
    line = np.stack([np.linspace(0, 50, 30), np.full(30, 40.0)], axis=1)
    r = make_ribbon("dark", line, np.full(30, 6.0), 0.25)
    assert r.left_px[:, 1] == pytest.approx(41.5)
    assert r.right_px[:, 1] == pytest.approx(35.5)
    assert r.centre_px[:, 1] == pytest.approx(38.5)


def test_mask_equals_the_polygon() -> None:
    r = wide_ribbon()
    polygon = Polygon(r.ring)
    mask = mask_of([r], SHAPE)
    wrong = 0
    for row in range(0, SHAPE[0], 3):
        for col in range(0, SHAPE[1], 3):
            point = Point(row, col)
            if polygon.exterior.distance(point) > 0.75:
                wrong += (mask[row, col] > 0) != polygon.contains(point)
    assert wrong == 0
    assert (mask > 0).sum() == pytest.approx(polygon.area, rel=0.03)


def test_hairline_mask_is_connected_and_thin() -> None:
    from skimage.measure import label

    r = wide_ribbon(0.2)
    mask = mask_of([r], SHAPE) > 0
    assert label(mask, connectivity=2).max() == 1
    assert 0.9 < mask.sum() / LineString(r.centre_px).length < 2.3


def test_centre_mask_lies_on_the_centreline() -> None:
    r = wide_ribbon()
    line = LineString(r.centre_px)
    rows, cols = np.nonzero(centre_mask([r], SHAPE))
    assert max(line.distance(Point(p)) for p in zip(rows, cols, strict=True)) < 1.0
    assert len(rows) > 0.6 * line.length


def test_width_map_gives_the_opening() -> None:
    r = wide_ribbon(7.0)
    mask = mask_of([r], SHAPE)
    widths = width_map([r], mask)
    assert widths[mask > 0] == pytest.approx(7.0)
    assert widths[mask == 0].max() == 0


@pytest.mark.parametrize(("contrast", "low", "high"), [(0.0, 0.0, 0.3), (30.0, 0.95, 1.0)])
def test_weight_follows_contrast(contrast: float, low: float, high: float) -> None:
    r = wide_ribbon(3.0)
    mask = mask_of([r], SHAPE)
    gray = 120 + 10 * np.random.default_rng(1).standard_normal(SHAPE)
    gray[mask > 0] -= contrast
    weight = crack_weight(gray.astype(np.float32), mask)
    assert low <= weight[mask > 0].mean() <= high
    assert weight[:8, -8:].min() == 1.0


def test_hidden_crack_has_no_weight() -> None:
    mask = mask_of([wide_ribbon(4.0)], SHAPE)
    gray = np.where(mask > 0, 10, 200).astype(np.float32)
    hidden = np.zeros(SHAPE, np.uint8)
    hidden[:, :60] = 1
    weight = crack_weight(gray, mask, hidden)
    assert weight[:, :60].max() == 0
    assert weight[:, 60:][mask[:, 60:] > 0].min() > 0.9
