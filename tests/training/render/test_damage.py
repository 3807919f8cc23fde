"""Spalls and patches: outline, reported area (shapely), and a changed picture inside it."""

import numpy as np
import pytest
from shapely.geometry import Polygon

from analyzer.training.render import damage
from analyzer.training.render.noise import generator

SHAPE = (160, 200)


def test_spall_ring_lies_along_its_line() -> None:
    ring = damage.spall_ring(generator(1), np.array([50.0, 60.0]), np.pi / 2, 60.0, 12.0)
    assert np.ptp(ring[:, 1]) > 2 * np.ptp(ring[:, 0])
    assert ring.mean(axis=0) == pytest.approx([50, 60], abs=8)


@pytest.mark.parametrize("seed", range(3))
def test_spall_changes_its_area_and_reports_it(seed: int) -> None:
    rng = generator(seed)
    ring = damage.spall_ring(rng, np.array([80.0, 100.0]), 0.4, 90.0, 30.0)
    rgb = np.full((*SHAPE, 3), 0.35, np.float32)
    area = damage.spall(rng, rgb, [ring], 3.0, 0.5)
    assert area.sum() == pytest.approx(Polygon(ring).buffer(0).area, rel=0.02)
    assert np.abs(rgb - 0.35)[area > 0.9].mean() > 0.01
    assert rgb[:20] == pytest.approx(0.35)


@pytest.mark.parametrize("seed", range(6))
def test_patch_is_another_material(seed: int) -> None:
    rng = generator(seed)
    ring = damage.patch_ring(rng, SHAPE, 90.0)
    rgb = np.full((*SHAPE, 3), 0.35, np.float32)
    area = damage.patch(rng, rgb, ring, 3.0, 0.5)
    assert 200 < (area > 0.5).sum() < 90 * 140
    assert rgb[area > 0.9].std() > 0.003
    far = area == 0
    far[2:, :] &= area[:-2] == 0
    assert np.median(np.abs(rgb[far] - 0.35)) < 1e-6
