"""Two points and a distance, with the camera's tilt simulated as a real camera's."""

import numpy as np
import pytest

from analyzer import frames
from analyzer.calibrate.limits import scale_limits
from analyzer.calibrate.network import MarkBody, TapeBody
from analyzer.calibrate.straight_down import fit_straight_down
from analyzer.errors import CalibrationError

SIZE = (900, 1200)
FOCAL = 900.0
TILT_DEG = scale_limits().straight_down_tilt_u
PLACES = [(700.0, 900.0), (1900.0, 900.0)]


def bodies(px_from_plan, places=PLACES, placed: bool = True):
    seen = frames.apply(px_from_plan, places)
    return tuple(
        MarkBody("AB"[i], (float(r), float(c)), 1.0, places[i] if placed else None, 10.0)
        for i, (r, c) in enumerate(seen)
    )


def level_camera(kit, tilt_deg: tuple[float, float] = (0.0, 0.0)):
    height = 1600.0
    aim = (1300 + height * np.tan(np.radians(tilt_deg[0])), 900 + height * np.tan(np.radians(tilt_deg[1])))
    return kit.camera(eye_mm=(1300, 900, height), look_at_mm=aim, focal_px=FOCAL, size=SIZE)


def test_a_level_camera_is_met_exactly(kit) -> None:
    truth = level_camera(kit)
    fit = fit_straight_down(bodies(truth), (), SIZE, FOCAL, scale_limits(), "photo")
    corners = np.array([[0, 0], [0, 1199], [899, 1199], [899, 0]], dtype=float)
    expected = frames.apply(np.linalg.inv(truth), corners)
    np.testing.assert_allclose(frames.apply(fit.plan_from_px, corners), expected, atol=0.5)
    assert np.linalg.det(fit.plan_from_px) > 0


def test_distance_alone_gives_the_scale(kit) -> None:
    truth = level_camera(kit)
    marks = bodies(truth, placed=False)
    fit = fit_straight_down(marks, (TapeBody(0, 1, 1200.0, 3.0),), SIZE, FOCAL, scale_limits(), "photo")
    ends = frames.apply(fit.plan_from_px, [m.px for m in marks])
    assert np.linalg.norm(ends[0] - ends[1]) == pytest.approx(1200.0, abs=0.01)
    np.testing.assert_allclose(ends[0], [0, 0], atol=0.1)


def test_stated_uncertainty_covers_cameras_that_are_not_level(kit) -> None:
    # Pinhole cameras tilted about both axes by the allowed standard deviation: lengths at the
    # corners of the view must lie within twice the stated uncertainty in about 95 % of trials.
    rng = np.random.default_rng(4)
    spots = np.array([[300.0, 300.0], [2200.0, 1500.0], [2200.0, 300.0], [1300.0, 900.0]])
    inside = []
    for _ in range(80):
        truth = level_camera(kit, tuple(TILT_DEG * rng.normal(size=2)))
        tape = (TapeBody(0, 1, 1200.0 + 3 * rng.normal(), 3.0),)
        fit = fit_straight_down(bodies(truth, placed=False), tape, SIZE, FOCAL, scale_limits(), "photo")
        px = frames.apply(truth, spots)
        stated = fit.length_u_rel(frames.apply(fit.plan_from_px, px))
        for step in ([60.0, 0.0], [0.0, 60.0]):
            ends = frames.apply(truth, spots + np.array(step))
            found = frames.apply(fit.plan_from_px, ends) - frames.apply(fit.plan_from_px, px)
            inside.append(np.abs(np.linalg.norm(found, axis=1) / 60 - 1) <= 2 * stated)
    assert np.mean(inside) >= 0.92


def test_uncertainty_is_least_between_the_points_and_larger_than_with_a_level_camera(kit) -> None:
    fit = fit_straight_down(bodies(level_camera(kit)), (), SIZE, FOCAL, scale_limits(), "photo")
    u = fit.length_u_rel(np.array([[1300.0, 900.0], [1300.0, 300.0], [200.0, 100.0]]))
    assert u[0] < u[1] < u[2]
    # A tilt t changes lengths along the radius by 2 tan(t) r / f at r px from the middle (derivative
    # of q / (1 + t q / f)); the third spot lies hypot(1100, 800) mm = 765 px away at 1.778 mm/px.
    assert u[2] == pytest.approx(2 * np.tan(np.radians(TILT_DEG)) * 765 / FOCAL, rel=0.05)


def test_places_against_distance(kit) -> None:
    with pytest.raises(CalibrationError, match="does not agree with their places"):
        fit_straight_down(
            bodies(level_camera(kit)), (TapeBody(0, 1, 1350.0, 3.0),), SIZE, FOCAL, scale_limits(), "photo"
        )


def test_one_spot_twice() -> None:
    marks = (MarkBody("A", (5.0, 5.0), 1.0), MarkBody("B", (5.0, 5.2), 1.0))
    with pytest.raises(CalibrationError, match="one spot"):
        fit_straight_down(marks, (TapeBody(0, 1, 100.0, 3.0),), SIZE, FOCAL, scale_limits(), "photo")
