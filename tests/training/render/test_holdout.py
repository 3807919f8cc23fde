"""The style kept out of training: every part draws, and its fields are what they claim."""

import numpy as np
import pytest

from analyzer.training.render import holdout
from analyzer.training.render.cracks import CrackStyle
from analyzer.training.render.noise import generator

SHAPE = (128, 160)


def test_spectrum_has_the_slope_asked_for() -> None:
    """Radial power against frequency, by numpy's FFT."""
    f = holdout.spectrum(generator(1), (256, 256), 2.0, 200, 3)
    assert f.std() == pytest.approx(1.0, abs=0.01)
    power = np.abs(np.fft.fft2(f)) ** 2
    freq = np.hypot(*np.meshgrid(np.fft.fftfreq(256), np.fft.fftfreq(256)))
    bins = [(0.02, 0.03), (0.2, 0.3)]
    low, high = (power[(freq > a) & (freq < b)].mean() for a, b in bins)
    assert np.log(low / high) / np.log(10) == pytest.approx(2.0, abs=0.4)


@pytest.mark.parametrize("seed", range(4))
def test_every_part_draws(seed: int) -> None:
    rgb = holdout.concrete(generator(seed), SHAPE, 1.0, 0.5)
    assert 0.005 < rgb.std() < 0.3
    before = rgb.copy()
    holdout.stain(generator(seed), rgb, 0.5)
    assert (rgb != before).any()
    shade = holdout.shadow(generator(seed), SHAPE)
    assert 0.2 < shade.min() < 1.0 + 1e-6
    out = holdout.expose(before, generator(seed))
    assert out.dtype == np.uint8
    assert 30 < out.mean() < 230


def test_course_takes_the_cheap_way() -> None:
    a, b = np.array([10.0, 20.0]), np.array([300.0, 220.0])
    line = holdout.course(generator(2), CrackStyle(2.0, kink=0.5), a, b)
    assert line[0] == pytest.approx(a, abs=3)
    assert line[-1] == pytest.approx(b, abs=3)
    steps = np.hypot(*np.diff(line, axis=0).T)
    assert steps.sum() > np.hypot(*(b - a))
    assert steps.max() < 6
