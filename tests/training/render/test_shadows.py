"""Every shadow by name darkens part of the picture and nothing brightens it beyond the sky's blue."""

import pytest

from analyzer.training.render.noise import generator
from analyzer.training.render.shadows import SHADOWS, cast

SHAPE = (180, 220)


@pytest.mark.parametrize("kind", SHADOWS)
def test_every_shadow_is_drawn(kind: str) -> None:
    shares = []
    for seed in range(6):
        dark = SHADOWS[kind](generator(seed), SHAPE)
        assert dark.shape == SHAPE
        assert dark.min() >= 0
        assert dark.max() <= 1
        shares.append(dark.mean())
    assert max(shares) > 0.01
    assert min(shares) < 0.95


@pytest.mark.parametrize("kind", [None, *SHADOWS])
def test_gain_lies_between_ambient_and_sun(kind: str | None) -> None:
    for seed in range(3):
        g = cast(generator(seed), SHAPE, kind)
        assert g.shape == (*SHAPE, 3)
        assert g.min() > 0.15
        assert g.max() <= 1.0 + 1e-5
