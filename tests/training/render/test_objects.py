"""Every thing by name hides what it says it hides."""

import numpy as np
import pytest
from shapely.geometry import Polygon

from analyzer.training.render.noise import generator
from analyzer.training.render.objects import OBJECTS, drop_shadow, leaf_ring
from analyzer.training.render.raster import cover, disc


@pytest.mark.parametrize("kind", OBJECTS)
def test_every_object_is_drawn_and_reported(kind: str) -> None:
    seen = 0
    for seed in range(4):
        rgb = np.full((200, 240, 3), 0.35, np.float32)
        hidden = OBJECTS[kind](generator(seed), rgb, 0.8)
        assert hidden.shape == rgb.shape[:2]
        assert hidden.min() >= 0
        assert hidden.max() <= 1
        changed = np.abs(rgb - 0.35).max(axis=2) > 0.005
        inside = hidden > 0.9
        seen += bool(inside.any())
        if inside.any():
            assert changed[inside].mean() > 0.6
    assert seen >= 2


def test_leaf_has_its_size() -> None:
    ring = leaf_ring(generator(2), 60.0)
    width, height = np.ptp(ring, axis=0)
    assert 30 < np.hypot(width, height) < 130
    assert 150 < Polygon(ring).buffer(0).area < 60 * 60


def test_shadow_falls_away_from_the_light() -> None:
    rgb = np.full((100, 100, 3), 0.5, np.float32)
    stamp = cover([disc((50.0, 50.0), 10.0)], (100, 100))
    drop_shadow(rgb, stamp, 0.0, 8.0, 0.5)  # light from above the picture: shade grows downwards
    assert rgb[66, 50, 0] < 0.4
    assert rgb[36, 50, 0] > 0.45
    drop_shadow(rgb, cover([disc((2.0, 98.0), 9.0)], (100, 100)), 2.0, 5.0, 0.5)
    assert np.isfinite(rgb).all()
