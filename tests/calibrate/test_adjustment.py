"""The adjustment against simulation: what it states as uncertainty is what it gets wrong."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from analyzer import frames
from analyzer.calibrate.adjustment import Fit, solve
from analyzer.calibrate.homography import fit_homography
from analyzer.calibrate.network import (
    CameraBody,
    MarkBody,
    Network,
    SheetBody,
    TapeBody,
    sheet_corners,
)
from analyzer.calibrate.target_sheet import marker_corners_mm
from analyzer.errors import CalibrationError
from analyzer.records import Float

TRUTH = np.array([[-0.03, -0.42, 1500.0], [0.45, 0.02, 100.0], [2e-5, 1.3e-4, 1.0]])
LOCAL = np.concatenate(list(marker_corners_mm(1).values()))
SPOTS = np.array([[200.0, 200.0], [1500.0, 1200.0], [2800.0, 300.0], [2800.0, 2200.0], [100.0, 2300.0]])
POSES = [(400, 400, 0.2), (2600, 300, -0.4), (2500, 1900, 1.7), (500, 1800, 3.1)]


def sheets(rng: np.random.Generator, poses: list[tuple[float, float, float]]) -> Network:
    """Sheets as tape and photo would give them, every reading with its own random error."""
    scale = 1.0 + 0.01 * rng.normal()
    bodies = []
    for i, (x, y, turn) in enumerate(poses):
        px = frames.apply(TRUTH, sheet_corners(LOCAL, np.array([x, y, turn]), scale))
        bodies.append(
            SheetBody(
                f"sheet {i + 1}",
                LOCAL,
                px + 0.3 * rng.normal(size=px.shape),
                np.full(len(LOCAL), 0.3),
                np.zeros(px.shape),
                0,
                (x + 10 * rng.normal(), y + 10 * rng.normal()),
                10.0,
                turn + 0.035 * rng.normal(),
                0.035,
            )
        )
    return Network(tuple(bodies), ((1.0, 0.01),))


def marks(rng: np.random.Generator, places: list[tuple[float, float]]) -> Network:
    """Marked points with typed places, picked and taped with random errors."""
    seen = frames.apply(TRUTH, places)
    return Network(
        marks=tuple(
            MarkBody(
                f"m{i}",
                (float(r + 2 * rng.normal()), float(c + 2 * rng.normal())),
                2.0,
                (x + 10 * rng.normal(), y + 10 * rng.normal()),
                10.0,
            )
            for i, ((r, c), (x, y)) in enumerate(zip(seen, places, strict=True))
        )
    )


CASES: dict[str, Callable[[np.random.Generator], Network]] = {
    "four sheets": lambda rng: sheets(rng, POSES),
    "two sheets": lambda rng: sheets(rng, POSES[::2]),
    "one sheet": lambda rng: sheets(rng, [(1500, 1000, 0.5)]),
    "four marks": lambda rng: marks(rng, [(0, 0), (3000, 0), (3000, 2400), (0, 2400)]),
    "six marks": lambda rng: marks(
        rng, [(0, 0), (3000, 0), (3000, 2400), (0, 2400), (1500, 0), (1500, 2400)]
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_stated_uncertainty_covers_the_real_error(case: str) -> None:
    # JCGM 101:2008 (simulation, from memory): of many trials with known truth, 95 % of the errors
    # along the stated worst direction lie within 1.96 standard uncertainties, and 95 % of plane
    # errors within sqrt(5.991) of the stated ellipse (chi-square, 2 degrees of freedom).
    rng = np.random.default_rng(11)
    n_trials = 60
    spots = SPOTS if case != "one sheet" else np.array([[1300.0, 900.0], [1800.0, 1300.0], [1500.0, 600.0]])
    px = frames.apply(TRUTH, spots)
    ends = frames.apply(TRUTH, spots + np.array([40.0, 0.0]))
    inside, short, length_ratio = [], [], []
    for _ in range(n_trials):
        fit = solve(CASES[case](rng), "trial")
        back = fit.homography.plan_from_px
        error = frames.apply(back, px) - spots
        inside.append(np.linalg.norm(error, axis=1) <= np.sqrt(5.991) * fit.homography.position_u_mm(spots))
        lengths = np.linalg.norm(frames.apply(back, ends) - frames.apply(back, px), axis=1)
        ratio = np.abs(lengths / 40.0 - 1) / fit.homography.length_u_rel(spots)
        short.append(ratio <= 1.96)
        length_ratio.append(ratio)
    assert np.mean(inside) >= 0.92
    assert np.mean(short) >= 0.92
    # ...and it is not stated too large either: the median error of a normal variable is 0.67 of its
    # standard uncertainty; these lengths do not all run in the worst direction.
    assert 0.4 < np.median(length_ratio) < 0.8


def test_two_sheets_fix_their_own_turns() -> None:
    network = sheets(np.random.default_rng(5), POSES[:2])
    loose = Network(
        tuple(
            SheetBody(s.name, s.local_mm, s.px, s.u_px, s.growth, 0, s.centre_mm, s.centre_u_mm)
            for s in network.sheets
        ),
        network.scales,
    )
    fit = solve(loose, "photo")
    turns = [fit.sheet_pose(i)[2] for i in range(2)]
    np.testing.assert_allclose(np.cos(np.array(turns) - [0.2, -0.4]), 1.0, atol=2e-4)


def test_uncertainty_grows_with_the_distance_from_a_single_sheet() -> None:
    fit = solve(sheets(np.random.default_rng(1), [(500, 400, 0.1)]), "photo")
    away = np.array([[500.0 + d, 400.0 + d] for d in (0, 300, 600, 900, 1200, 1500)])
    assert (np.diff(fit.homography.position_u_mm(away)) > 0).all()
    assert (np.diff(fit.homography.length_u_rel(away)[1:]) > 0).all()


def test_four_exact_marks_give_the_linear_solution() -> None:
    places = [(0.0, 0.0), (3000.0, 0.0), (3000.0, 2400.0), (0.0, 2400.0)]
    seen = frames.apply(TRUTH, places)
    network = Network(
        marks=tuple(MarkBody(f"m{i}", (float(r), float(c)), 2.0, places[i]) for i, (r, c) in enumerate(seen))
    )
    fit = solve(network, "photo")
    expected = fit_homography(seen, places)
    np.testing.assert_allclose(
        frames.apply(fit.homography.plan_from_px, seen + 10), frames.apply(expected, seen + 10), atol=1e-3
    )
    assert fit.n_redundant == 0
    assert fit.inflation == 1.0


def test_residuals_that_are_too_large_widen_the_uncertainty() -> None:
    rng = np.random.default_rng(3)
    network = sheets(rng, POSES)
    honest = solve(network, "photo")
    rough = Network(
        tuple(
            SheetBody(
                s.name, s.local_mm, s.px + 1.5 * rng.normal(size=s.px.shape), s.u_px, s.growth, 0,
                s.centre_mm, s.centre_u_mm, s.turn_rad, s.turn_u_rad,
            )
            for s in network.sheets
        ),
        network.scales,
    )  # fmt: skip
    widened: Fit = solve(rough, "photo")
    assert honest.inflation < 1.2
    assert widened.inflation > 3
    spots: Float = SPOTS
    assert (widened.homography.position_u_mm(spots) > 2 * honest.homography.position_u_mm(spots)).all()


def test_open_perspective_is_refused() -> None:
    seen = frames.apply(TRUTH, [(0, 0), (3000, 0), (3000, 2400)])
    loose = Network(
        marks=tuple(
            MarkBody(f"m{i}", (float(r), float(c)), 2.0, p)
            for i, ((r, c), p) in enumerate(zip(seen, [(0, 0), (3000, 0), (3000, 2400)], strict=True))
        )
    )
    with pytest.raises(CalibrationError, match="photo 7"):
        solve(loose, "photo 7", [TRUTH])


def test_tape_distances_sharpen_a_free_mark() -> None:
    places = [(0.0, 0.0), (3000.0, 0.0), (3000.0, 2400.0), (0.0, 2400.0), (1500.0, 1300.0)]
    seen = frames.apply(TRUTH, places)
    bodies = [MarkBody(f"m{i}", (float(r), float(c)), 2.0, places[i], 10.0) for i, (r, c) in enumerate(seen)]
    bodies[4] = MarkBody("free", bodies[4].px, 2.0)
    tapes = tuple(TapeBody(i, 4, float(np.hypot(*np.subtract(places[i], places[4]))), 2.0) for i in range(4))
    without = solve(Network(marks=tuple(bodies)), "photo").homography.position_u_mm(np.array([places[4]]))
    fit = solve(Network(marks=tuple(bodies), tapes=tapes), "photo")
    assert fit.homography.position_u_mm(np.array([places[4]])) < without
    np.testing.assert_allclose(fit.mark_place(4), places[4], atol=0.1)


def test_a_known_focal_length_carries_a_single_sheet_farther(kit) -> None:
    # Pinhole cameras whose real focal length and axis differ from the file's by the stated standard
    # deviations: the errors two metres from the sheet are smaller than without, and covered.
    rng = np.random.default_rng(21)
    size, pose = (600, 800), np.array([1200.0, 700.0, 0.4])
    spots = np.array([[400.0, 1900.0], [2400.0, 2300.0], [2600.0, 500.0], [1300.0, 1500.0]])
    inside, with_focal, without_focal = [], [], []
    for _ in range(40):
        focal_px = 640 * np.exp(0.06 * rng.normal())
        truth = kit.camera(eye_mm=(1300, -900, 1600), look_at_mm=(1400, 1000), focal_px=focal_px, size=size)
        truth[:2] += np.outer(12 * rng.normal(size=2), truth[2])
        px = frames.apply(truth, sheet_corners(LOCAL, pose, 1.0)) + 0.2 * rng.normal(size=LOCAL.shape)
        body = SheetBody(
            "sheet 1", LOCAL, px, np.full(16, 0.2), np.zeros((16, 2)), 0, (1200.0, 700.0), 0.1, 0.4, 1e-3
        )
        camera = CameraBody(640.0, 0.06, (299.5, 399.5), 12.0)
        network = Network((body,), ((1.0, 1e-3),), camera=camera)
        fit = solve(network, "photo")
        bare = solve(replace(network, camera=None), "photo")
        seen = frames.apply(truth, spots)
        for one, errors in ((fit, with_focal), (bare, without_focal)):
            errors.append(np.linalg.norm(frames.apply(one.homography.plan_from_px, seen) - spots, axis=1))
        inside.append(with_focal[-1] <= np.sqrt(5.991) * fit.homography.position_u_mm(spots))
    assert np.mean(inside) >= 0.9
    assert np.median(with_focal) < 0.5 * np.median(without_focal)
