"""Coverage is checked against shapely's exact polygon intersection and against plain geometry."""

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from analyzer.training.render.raster import blend, cover, disc, full, gain, ribbon

SHAPE = (24, 30)


def shapely_coverage(ring: np.ndarray) -> np.ndarray:
    """Share of each pixel's square inside a simple polygon, by shapely."""
    polygon = Polygon(ring)
    out = np.zeros(SHAPE)
    for r in range(SHAPE[0]):
        for c in range(SHAPE[1]):
            out[r, c] = polygon.intersection(box(r - 0.5, c - 0.5, r + 0.5, c + 0.5)).area
    return out


@pytest.mark.parametrize("seed", range(6))
def test_cover_equals_shapely(seed: int) -> None:
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0, 2 * np.pi, 9))  # star-shaped, so simple; reaches over the border
    radius = rng.uniform(2, 22, 9)
    middle = rng.uniform(5, 20, 2)
    ring = middle + np.stack([np.sin(angle), np.cos(angle)], axis=1) * radius[:, None]
    if not Polygon(ring).is_valid:
        ring = disc(tuple(middle), 9.3, 7)
    assert full(cover([ring], SHAPE), SHAPE) == pytest.approx(shapely_coverage(ring), abs=1e-5)


def test_direction_of_the_ring_does_not_matter() -> None:
    ring = disc((10.2, 12.7), 6.1)
    a, b = (full(cover([r], SHAPE), SHAPE) for r in (ring, ring[::-1]))
    assert np.array_equal(a, b)
    assert a.sum() == pytest.approx(Polygon(ring).area, rel=1e-6)


def test_overlaps_are_clipped_to_one() -> None:
    ring = disc((10.0, 12.0), 5.0)
    assert full(cover([ring, ring], SHAPE), SHAPE).max() == 1.0


def test_nothing_outside_the_picture() -> None:
    assert cover([disc((-40.0, 5.0), 8.0)], SHAPE).empty
    assert cover([disc((5.0, 400.0), 8.0)], SHAPE).empty
    everything = np.array([[-9e5, -9e5], [-9e5, 9e5], [9e5, 9e5], [9e5, -9e5]])
    assert full(cover([everything], SHAPE), SHAPE).min() == 1.0


@pytest.mark.parametrize("angle_deg", [0, 10, 22.5, 30, 45])
@pytest.mark.parametrize("width_px", [0.1, 0.3, 0.8, 1.0, 2.7, 6.0])
def test_line_darkens_by_its_width(angle_deg: float, width_px: float) -> None:
    """Geometry: a row cuts a band of width w, tilted by a from the row axis, over w / cos a."""
    shape = (80, 160)
    a = np.deg2rad(angle_deg)
    d = np.array([np.cos(a), np.sin(a)])
    line = np.array([40.3, 80.7]) + d * np.array([[-200.0], [200.0]])
    alpha = full(cover([ribbon(line, width_px)], shape), shape)
    rows = alpha[10:70]
    assert rows.sum(axis=1) == pytest.approx(width_px / np.cos(a), rel=1e-4)


def test_painting_stays_within_the_stamp() -> None:
    rgb = np.full((*SHAPE, 3), 0.5, np.float32)
    stamp = cover([disc((11.0, 11.0), 4.0)], SHAPE)
    blend(rgb, stamp, (0.0, 1.0, 0.5))
    assert rgb[11, 11] == pytest.approx([0, 1, 0.5])
    assert rgb[0, 0] == pytest.approx(0.5)
    gain(rgb, stamp, 0.5)
    assert rgb[11, 11] == pytest.approx([0, 0.5, 0.25])
    assert rgb[-1, -1] == pytest.approx(0.5)
