"""Random fields: spread, scale, direction and repeatability, by numpy's statistics."""

import numpy as np
import pytest

from analyzer.training.render import noise

SHAPE = (200, 260)


def test_same_seed_same_field() -> None:
    a = noise.fractal(noise.generator(3, 1), SHAPE, 60.0)
    assert np.array_equal(a, noise.fractal(noise.generator(3, 1), SHAPE, 60.0))
    assert not np.array_equal(a, noise.fractal(noise.generator(3, 2), SHAPE, 60.0))


@pytest.mark.parametrize("coarse", [4.0, 30.0])
def test_fractal_has_unit_spread(coarse: float) -> None:
    f = noise.fractal(noise.generator(1), (512, 512), coarse)
    assert f.dtype == np.float32
    assert f.std() == pytest.approx(1.0, abs=0.25)


def test_finer_noise_has_finer_features() -> None:
    def neighbour(f: np.ndarray) -> float:
        return float(np.corrcoef(f[:, :-3].ravel(), f[:, 3:].ravel())[0, 1])

    coarse = noise.fractal(noise.generator(1), SHAPE, 60.0, 12.0)
    fine = noise.fractal(noise.generator(1), SHAPE, 6.0, 1.5)
    assert neighbour(coarse) > neighbour(fine) + 0.3


@pytest.mark.parametrize("angle", [0.0, np.pi / 2])
def test_streaks_run_along_their_angle(angle: float) -> None:
    f = noise.streaks(noise.generator(2), SHAPE, 3.0, 90.0, angle)
    down, across = np.abs(np.diff(f, axis=0)).mean(), np.abs(np.diff(f, axis=1)).mean()
    assert (down < 0.3 * across) == (angle == 0.0)
    assert (across < 0.3 * down) == (angle != 0.0)


def test_smoothstep_is_monotonic_between_its_limits() -> None:
    x = np.linspace(-2, 2, 101, dtype=np.float32)[None]
    y = noise.smoothstep(x, -1.0, 1.0)[0]
    assert y[0] == 0
    assert y[-1] == 1
    assert (np.diff(y) >= 0).all()


def test_emboss_lights_the_slope_that_faces_the_light() -> None:
    hill = np.zeros((41, 41), np.float32)
    hill[:21] = np.arange(21)[:, None]
    hill[21:] = np.arange(20)[::-1][:, None]
    shade = noise.emboss(hill, 0.0, 1.0)
    assert shade[10, 20] == pytest.approx(-shade[30, 20])
    assert shade[10, 20] != 0


def test_cells_cover_the_picture() -> None:
    label, edge = noise.cells(noise.generator(4), SHAPE, 20.0)
    expected = SHAPE[0] * SHAPE[1] / 20.0**2
    assert 0.6 * expected < len(np.unique(label)) < 2.0 * expected
    assert edge.min() == 0
    assert 4 < edge.max() < 25
