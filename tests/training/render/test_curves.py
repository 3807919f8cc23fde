"""Lines: lengths against shapely, ends and spacing against geometry."""

import numpy as np
import pytest
from shapely.geometry import LineString

from analyzer.training.render import curves


def rng() -> np.random.Generator:
    return np.random.default_rng(5)


def test_length_equals_shapely() -> None:
    line = curves.walk(rng(), 300.0, 0.4)
    assert curves.length_of(line) == pytest.approx(LineString(line).length)


def test_resample_keeps_ends_and_spacing() -> None:
    line = np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 40.0], [30.0, 40.0]])
    out = curves.resample(line, 2.0)
    assert out[0] == pytest.approx(line[0])
    assert out[-1] == pytest.approx(line[-1])
    assert len(out) == 36
    assert LineString(out).length == pytest.approx(70.0, abs=1.5)


def test_fit_between_moves_the_ends() -> None:
    a, b = np.array([5.0, -3.0]), np.array([90.0, 40.0])
    line = curves.fit_between(curves.walk(rng(), 100.0, 2.0), a, b)
    assert line[0] == pytest.approx(a)
    assert line[-1] == pytest.approx(b)


def test_midpoint_is_rougher_with_roughness() -> None:
    a, b = np.zeros(2), np.array([0.0, 200.0])
    smooth = curves.length_of(curves.midpoint(rng(), a, b, 0.01))
    rough = curves.length_of(curves.midpoint(rng(), a, b, 0.2))
    assert 200.0 <= smooth < rough


def test_persistent_walk_keeps_its_heading() -> None:
    line = curves.walk(rng(), 600.0, 0.7, wander=0.2, kink=0.2)
    d = line[-1] - line[0]
    assert abs(np.arctan2(d[1], d[0]) - 0.7) < 0.5
    assert np.hypot(*d) < curves.length_of(line)


def test_noise_has_unit_spread_and_a_correlation_length() -> None:
    x = curves.noise_1d(rng(), 20000, 20.0)
    assert x.std() == pytest.approx(1.0, abs=0.25)
    near = np.corrcoef(x[:-2], x[2:])[0, 1]
    far = np.corrcoef(x[:-80], x[80:])[0, 1]
    assert near > 0.9
    assert abs(far) < 0.2
    assert curves.fractal_1d(rng(), 20000, 30.0).std() == pytest.approx(1.0, abs=0.3)


def test_smooth_curve_has_no_kinks() -> None:
    line = curves.smooth_curve(rng(), 400.0, 0.0, 1.0)
    d = np.diff(line, axis=0)
    turn = np.abs(np.diff(np.unwrap(np.arctan2(d[:, 1], d[:, 0]))))
    assert turn.max() < 0.15
