"""Marks: places from tape distances, and the refusals of points that fix nothing."""

import numpy as np
import pytest
import shapely

from analyzer import frames
from analyzer.calibrate.control_points import check_marks, fixed_marks, places_from_tape, read_marks
from analyzer.calibrate.limits import scale_limits
from analyzer.calibrate.network import MarkBody, TapeBody
from analyzer.errors import CalibrationError
from analyzer.records import MarkDistance, PhotoEntry, PhotoMark
from analyzer.units import Reading

TRUTH = np.array([[-0.03, -0.42, 1500.0], [0.45, 0.02, 100.0], [2e-5, 1.3e-4, 1.0]])
QUAD = np.array([[0.0, 0.0], [3100.0, 200.0], [2900.0, 2500.0], [-200.0, 2300.0]])
ALL_PAIRS = [(0, 1), (1, 2), (2, 3), (3, 0), (0, 2), (1, 3)]


def bodies(plan, *, placed: tuple[int, ...] = ()):
    seen = frames.apply(TRUTH, plan)
    return tuple(
        MarkBody("ABCDEFGH"[i], (float(r), float(c)), 2.0, tuple(plan[i]) if i in placed else None, 10.0)
        for i, (r, c) in enumerate(seen)
    )


def tapes(plan, pairs):
    # Lengths from shapely, which knows nothing of this package.
    return tuple(
        TapeBody(i, j, shapely.Point(plan[i]).distance(shapely.Point(plan[j])), 3.0) for i, j in pairs
    )


@pytest.mark.parametrize("pairs", [ALL_PAIRS, ALL_PAIRS[:5]])
def test_a_quadrilateral_from_its_sides_and_diagonals(pairs) -> None:
    found = places_from_tape(bodies(QUAD), tapes(QUAD, pairs), "photo")
    for i, j in ALL_PAIRS:
        assert np.linalg.norm(found[i] - found[j]) == pytest.approx(
            np.linalg.norm(QUAD[i] - QUAD[j]), abs=0.5
        )
    # Seen from above: anticlockwise stays anticlockwise (shapely's ring orientation).
    assert shapely.LinearRing(found).is_ccw
    assert shapely.Polygon(found).area == pytest.approx(shapely.Polygon(QUAD).area, rel=1e-3)


@pytest.mark.parametrize("turn", [0, 1, 2, 3])
def test_known_corners_anchor_the_distances(turn: int) -> None:
    plan = np.roll(QUAD, turn, axis=0)
    found = places_from_tape(bodies(plan, placed=(0, 1)), tapes(plan, ALL_PAIRS), "photo")
    np.testing.assert_allclose(found, plan, atol=1.0)


def test_too_few_distances_are_refused() -> None:
    with pytest.raises(CalibrationError, match="both diagonals"):
        places_from_tape(bodies(QUAD), tapes(QUAD, ALL_PAIRS[:4]), "photo")


def test_marks_without_any_tie_are_dropped() -> None:
    plan = np.vstack([QUAD, [[1000.0, 1000.0], [1500.0, 500.0]]])
    kept, kept_tapes = fixed_marks(bodies(plan, placed=(0, 1, 2, 3)), tapes(plan, [(0, 4), (1, 4), (4, 5)]))
    assert [m.name for m in kept] == list("ABCDE")
    assert [(t.first, t.second) for t in kept_tapes] == [(0, 4), (1, 4)]


def check(plan_typed, plan_true=QUAD) -> None:
    px = frames.apply(TRUTH, plan_true)
    names = tuple("ABCDEFGH"[: len(px)])
    check_marks(names, px, np.asarray(plan_typed, dtype=float), 2.0, "photo", scale_limits())


def test_right_order_passes() -> None:
    check(QUAD)
    check(np.roll(QUAD, 2, axis=0), np.roll(QUAD, 2, axis=0))


def test_three_in_a_line() -> None:
    plan = QUAD.copy()
    plan[2] = (plan[0] + plan[1]) / 2 + [0, 5]
    with pytest.raises(CalibrationError, match="marks A, B, C lie in one line"):
        check(plan, plan)
    fifth = np.vstack([plan, [[2900.0, 2500.0]]])
    check(fifth, fifth)


@pytest.mark.parametrize(("i", "j"), [(0, 1), (1, 2), (0, 3)])
def test_swapped_neighbours_are_named(i: int, j: int) -> None:
    plan = QUAD.copy()
    plan[[i, j]] = plan[[j, i]]
    with pytest.raises(CalibrationError, match="crossed order") as refused:
        check(plan)
    assert "ABCD"[i] in str(refused.value)


def test_mirrored_marks() -> None:
    with pytest.raises(CalibrationError, match="mirror"):
        check(QUAD * [-1.0, 1.0])


def test_marks_take_the_places_of_outline_corners(kit) -> None:
    field = kit.field()
    photo = kit.photo(np.zeros((600, 800, 3), np.uint8))
    entry = PhotoEntry(
        "p1",
        "p1.jpg",
        marks=(PhotoMark("A", 10, 20), PhotoMark("C", 30, 40, (5.0, 6.0)), PhotoMark("x", 50, 60)),
        distances=(MarkDistance("A", "x", Reading(1000.0, None, "1 m")),),
    )
    found, taped = read_marks(photo, entry, field, scale_limits())
    assert [m.place_mm for m in found] == [(0, 0), (5.0, 6.0), None]
    assert taped == (TapeBody(0, 2, 1000.0, scale_limits().tape_u),)


@pytest.mark.parametrize(
    ("marks", "distances", "says"),
    [
        ((PhotoMark("A", 10, 20), PhotoMark("A", 30, 40)), (), "mark A is there twice"),
        ((PhotoMark("A", 10, 900),), (), "outside the picture"),
        ((PhotoMark("A", 10, 20),), (MarkDistance("A", "Z", Reading(1.0, None, "")),), "names mark Z"),
        ((PhotoMark("A", 10, 20),), (MarkDistance("A", "A", Reading(1.0, None, "")),), "not a length"),
    ],
)
def test_faulty_marks_are_refused(kit, marks, distances, says: str) -> None:
    photo = kit.photo(np.zeros((600, 800, 3), np.uint8))
    with pytest.raises(CalibrationError, match=says):
        read_marks(
            photo, PhotoEntry("p1", "p1.jpg", marks=marks, distances=distances), kit.field(), scale_limits()
        )
