"""A wrong reading is named, and only then."""

from dataclasses import replace

import numpy as np
import pytest

from analyzer import frames
from analyzer.calibrate.adjustment import solve
from analyzer.calibrate.contradictions import check_agreement
from analyzer.calibrate.limits import scale_limits
from analyzer.calibrate.network import MarkBody, Network, SheetBody, TapeBody, sheet_corners
from analyzer.calibrate.target_sheet import marker_corners_mm
from analyzer.errors import CalibrationError

TRUTH = np.array([[-0.03, -0.42, 1500.0], [0.45, 0.02, 100.0], [2e-5, 1.3e-4, 1.0]])
LOCAL = np.concatenate(list(marker_corners_mm(1).values()))
POSES = [(400, 400, 0.2), (2600, 300, -0.4), (2500, 1900, 1.7), (500, 1800, 3.1)]


def network(scale: float = 1.0, n: int = 4, turned: bool = True) -> Network:
    rng = np.random.default_rng(2)
    bodies = []
    for i, (x, y, turn) in enumerate(POSES[:n]):
        px = frames.apply(TRUTH, sheet_corners(LOCAL, np.array([x, y, turn]), scale))
        seen = px + rng.normal(0, 0.2, px.shape)
        taped = (x + rng.normal(0, 5), y + rng.normal(0, 5))
        u_px, growth = np.full(16, 0.3), np.zeros((16, 2))
        typed_turn = turn if turned else None
        bodies.append(
            SheetBody(f"sheet {i + 1}", LOCAL, seen, u_px, growth, 0, taped, 10.0, typed_turn, 0.035)
        )
    return Network(tuple(bodies), ((1.0, 0.01),))


def check(one: Network) -> None:
    check_agreement(solve(one, "photo p1"), "photo p1", scale_limits())


def put(one: Network, index: int, **changes: object) -> Network:
    sheets = list(one.sheets)
    sheets[index] = replace(sheets[index], **changes)
    return replace(one, sheets=tuple(sheets))


@pytest.mark.parametrize("n", [1, 2, 3, 4])
def test_honest_readings_pass(n: int) -> None:
    check(network(n=n))


@pytest.mark.parametrize(("n", "turned"), [(4, True), (3, False), (2, True)])
def test_wrong_print_scale_is_named_with_its_value(n: int, turned: bool) -> None:
    # Common practice, no source: "fit to page" prints a full page at about 94 to 97 %.
    with pytest.raises(CalibrationError, match=r"wrong scale, 9[34]\.\d % instead of 100\.0 %") as refused:
        check(network(0.94, n, turned))
    assert refused.value.found == pytest.approx(0.94, abs=0.008)


def test_a_misplaced_sheet_is_named_with_the_distance() -> None:
    one = network()
    x, y = one.sheets[2].centre_mm or (0, 0)
    with pytest.raises(CalibrationError, match=r"sheet 3 contradicts .* 3\d\d mm from where it was taped"):
        check(put(one, 2, centre_mm=(x + 330.0, y)))


def test_a_wrong_turn_is_named() -> None:
    with pytest.raises(CalibrationError, match="the turn of sheet 2 contradicts"):
        check(put(network(), 1, turn_rad=-0.4 + np.pi / 2))


def test_swapped_sheets_are_named() -> None:
    one = network(turned=False)
    a, b = one.sheets[0].centre_mm, one.sheets[1].centre_mm
    with pytest.raises(CalibrationError, match="sheet 1 and sheet 2 seem to be swapped"):
        check(put(put(one, 0, centre_mm=b), 1, centre_mm=a))


def test_a_wrong_distance_among_marks_is_named() -> None:
    plan = [(0.0, 0.0), (3000.0, 0.0), (3000.0, 2400.0), (0.0, 2400.0), (1500.0, 1200.0)]
    seen = frames.apply(TRUTH, plan)
    bodies = tuple(
        MarkBody("ABCDE"[i], (float(r), float(c)), 2.0, plan[i], 10.0) for i, (r, c) in enumerate(seen)
    )
    pairs = [(0, 1), (1, 2), (0, 2), (1, 3), (0, 4), (2, 4)]
    right = [float(np.hypot(*np.subtract(plan[i], plan[j]))) for i, j in pairs]
    honest = Network(
        marks=bodies, tapes=tuple(TapeBody(i, j, d, 4.0) for (i, j), d in zip(pairs, right, strict=True))
    )
    check(honest)
    wrong = (*honest.tapes[:2], replace(honest.tapes[2], mm=right[2] + 304.8), *honest.tapes[3:])
    with pytest.raises(CalibrationError, match="distance A-C contradicts"):
        check(replace(honest, tapes=wrong))


def test_two_mistakes_are_not_pinned_on_one() -> None:
    one = network()
    x, y = one.sheets[2].centre_mm or (0, 0)
    wrong = put(put(one, 2, centre_mm=(x + 400.0, y)), 0, centre_mm=(400.0, 900.0))
    with pytest.raises(CalibrationError, match="contradict each other"):
        check(wrong)
