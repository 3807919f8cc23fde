"""Every stain by name changes the picture and keeps it physical."""

import numpy as np
import pytest

from analyzer.training.render.noise import generator
from analyzer.training.render.stains import STAINS


@pytest.mark.parametrize("kind", STAINS)
def test_every_stain_is_drawn(kind: str) -> None:
    drawn = 0
    for seed in range(4):
        rgb = np.full((160, 200, 3), 0.35, np.float32)
        STAINS[kind](generator(seed), rgb, 0.8)
        assert np.isfinite(rgb).all()
        assert rgb.min() >= 0
        drawn += np.abs(rgb - 0.35).max() > 0.01
    assert drawn >= 2


@pytest.mark.parametrize(("kind", "colour"), [("rust", 0), ("moss", 1)])
def test_colour_of_tinted_stains(kind: str, colour: int) -> None:
    """Rust reflects red most, moss green (common knowledge, no source)."""
    total = np.zeros(3)
    for seed in range(8):
        rgb = np.full((120, 120, 3), 0.35, np.float32)
        STAINS[kind](generator(seed), rgb, 0.8)
        total += rgb.mean(axis=(0, 1))
    assert total.argmax() == colour


def test_stains_differ() -> None:
    made = set()
    for kind in STAINS:
        rgb = np.full((120, 120, 3), 0.35, np.float32)
        STAINS[kind](generator(1), rgb, 0.8)
        made.add(rgb.tobytes())
    assert len(made) == len(STAINS)
