"""Every ground by name is a picture of its own."""

import numpy as np
import pytest

from analyzer.training.render.grounds import BESIDE, GROUNDS
from analyzer.training.render.noise import generator

SHAPE = (140, 180)


@pytest.mark.parametrize("kind", GROUNDS)
def test_every_ground_is_drawn(kind: str) -> None:
    made = set()
    for seed in range(3):
        rgb = GROUNDS[kind](generator(seed), SHAPE)
        assert rgb.shape == (*SHAPE, 3)
        assert rgb.dtype == np.float32
        assert np.isfinite(rgb).all()
        assert rgb.min() >= 0
        assert rgb.std() > 0.002
        made.add(rgb.tobytes())
    assert len(made) == 3


def test_lawn_is_green_and_dark_and_asphalt_dark_and_grey() -> None:
    lawn = np.mean([GROUNDS["grass"](generator(k), SHAPE).mean(axis=(0, 1)) for k in range(4)], axis=0)
    assert lawn.argmax() == 1 or lawn[1] > 0.9 * lawn[0]
    road = np.mean([GROUNDS["asphalt"](generator(k), SHAPE).mean(axis=(0, 1)) for k in range(4)], axis=0)
    assert road.max() < 0.3
    assert np.ptp(road) < 0.05


def test_grounds_beside_a_slab_exist() -> None:
    assert set(BESIDE) <= set(GROUNDS)


def test_crushed_stone_has_dark_gaps_between_lit_pieces() -> None:
    """Like skimage.data.gravel (CC0), whose tone falls far on both sides of its middle."""
    from skimage.data import gravel

    def spread(gray: np.ndarray) -> float:
        low, mid, high = np.percentile(gray, (5, 50, 95))
        return float((high - low) / mid)

    real = spread((gravel() / 255.0) ** 2.2)
    drawn = [spread(GROUNDS["rubble"](generator(k), SHAPE).mean(axis=2)) for k in range(8)]
    assert 0.3 * real < np.median(drawn) < 2 * real
