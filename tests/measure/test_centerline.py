"""Centreline lengths against drawn lines, circles and waves, and against shapely."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString

from analyzer.errors import RecordError
from analyzer.measure.centerline import direction_deg, fit_centerline, normals, points_at, simplify


def _line(angle_deg: float, length: float, start: tuple[float, float]) -> np.ndarray:
    t = np.linspace(0, length, int(length * 20))
    a = np.radians(angle_deg)
    return np.array(start) + np.stack([np.cos(a) * t, np.sin(a) * t], axis=1)


@pytest.mark.parametrize("angle_deg", [0.0, 2.0, 10.0, 22.5, 30.0, 45.0, 112.5])
def test_straight_lines_read_within_one_percent_at_every_angle(kit, angle_deg) -> None:
    # Expected value: the length drawn (exact). A sum of pixel steps reads up to 8 % long, which the
    # last assertion shows for 22.5 degrees: the smoothing is what makes the figure right.
    errors, raw = [], []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        length = rng.uniform(150, 400)
        chain = kit.pixel_chain(_line(angle_deg, length, tuple(rng.uniform(0, 1, 2))))
        errors.append(fit_centerline(chain, 1.0).length_mm / length - 1)
        raw.append(np.hypot(*np.diff(chain, axis=0).T).sum() / length - 1)
    assert abs(np.mean(errors)) < 0.004
    assert np.max(np.abs(errors)) < 0.01
    if angle_deg == 22.5:
        assert np.mean(raw) > 0.07


@pytest.mark.parametrize("radius", [15.0, 40.0, 100.0])
def test_circles_read_within_one_percent(kit, radius) -> None:
    # Circumference 2 pi r (exact).
    t = np.linspace(0, 2 * np.pi, 4000)
    chain = kit.pixel_chain(200.3 + radius * np.stack([np.cos(t), np.sin(t)], axis=1))
    line = fit_centerline(chain, 1.0)
    assert line.closed
    assert line.length_mm == pytest.approx(2 * np.pi * radius, rel=0.01)


@pytest.mark.parametrize(("amplitude", "wavelength"), [(3, 30), (8, 60), (20, 80), (2, 100)])
def test_waves_read_within_one_percent(kit, amplitude, wavelength) -> None:
    # Length of the finely sampled curve by shapely as the independent measure.
    x = np.linspace(0, 400, 40_000)
    wave = np.stack([x, amplitude * np.sin(2 * np.pi * x / wavelength)], axis=1)
    turn = np.array([[np.cos(0.3), np.sin(0.3)], [-np.sin(0.3), np.cos(0.3)]])
    wave = wave @ turn + 0.37
    line = fit_centerline(kit.pixel_chain(wave), 1.0)
    assert line.length_mm == pytest.approx(LineString(wave).length, rel=0.01)


def test_length_scales_with_the_pixel_and_keeps_when_turned(kit) -> None:
    chain = kit.pixel_chain(_line(17.0, 200, (0.2, 0.4)))
    one = fit_centerline(chain, 1.0).length_mm
    assert fit_centerline(2.0 * chain, 2.0).length_mm == pytest.approx(2 * one, rel=1e-9)
    turned = chain[:, ::-1] * [1, -1]
    assert fit_centerline(turned, 1.0).length_mm == pytest.approx(one, rel=1e-9)


def test_stored_polyline_keeps_the_length_with_few_points(kit) -> None:
    x = np.linspace(0, 300, 30_000)
    chain = kit.pixel_chain(np.stack([x, 8 * np.sin(x / 12)], axis=1))
    line = fit_centerline(chain, 1.0)
    kept = simplify(line, 1.0)
    assert len(kept) < 0.4 * len(line.points_mm)
    assert LineString(kept).length == pytest.approx(line.length_mm, rel=0.006)
    assert LineString(kept).hausdorff_distance(LineString(line.points_mm)) < 0.4


def test_direction_is_axial() -> None:
    # 2 and 178 degrees lie 4 degrees apart, not 176; a line and its reverse are the same.
    two = np.array([[0.0, 0.0], [100 * np.cos(np.radians(2)), 100 * np.sin(np.radians(2))]])
    minus_two = two * [1, -1]
    assert direction_deg([two, minus_two]) == pytest.approx(0.0, abs=1e-9)
    assert direction_deg([two]) == pytest.approx(2.0)
    assert direction_deg([two[::-1]]) == pytest.approx(2.0)


def test_normals_and_points_lie_left_of_travel() -> None:
    line = fit_centerline(np.stack([np.arange(50.0), np.zeros(50)], axis=1), 1.0)
    np.testing.assert_allclose(normals(line.points_mm), np.tile([0.0, 1.0], (50, 1)), atol=1e-9)
    points, tangent = points_at(line, np.array([10.25, 20.5]))
    np.testing.assert_allclose(points, [[10.25, 0.0], [20.5, 0.0]], atol=1e-9)
    np.testing.assert_allclose(tangent, [[1.0, 0.0], [1.0, 0.0]], atol=1e-9)


def test_two_points_are_a_line() -> None:
    line = fit_centerline([[0.0, 0.0], [3.0, 4.0]], 1.0)
    assert line.length_mm == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("points", "pixel"),
    [([[1.0, 1.0]], 1.0), ([[1.0, 1.0], [1.0, 1.0]], 1.0), ([[0.0, np.nan], [1.0, 1.0]], 1.0),
     ([[0.0, 0.0], [1.0, 1.0]], 0.0)],
)  # fmt: skip
def test_what_is_no_line_is_refused(points, pixel) -> None:
    with pytest.raises(RecordError):
        fit_centerline(points, pixel)
