"""Clues: true, false or open."""

from __future__ import annotations

from dataclasses import replace

import pytest
from invented_slab import Slab, area, crack

from analyzer.records import BranchSize, Corner, SiteUse
from analyzer.score.clues import Clue, Scene, inside_corners, look
from analyzer.terms import Answer, Distress, Use


def scene(slab: Slab) -> Scene:
    return Scene(slab.findings(), slab.field(), slab.distress(), slab.layout(), slab.levels())


def pattern(name: str, slab: Slab):  # type: ignore[no-untyped-def]
    return look(Clue("c", "s", pattern=name), scene(slab))


def test_by_limits() -> None:
    exceeds = Clue("c", "s", limits=("TOL-ELEVATION",), state="exceeds")
    within = replace(exceeds, state="within")
    low = replace(Slab(), settlement_in={**Slab().settlement_in, "P2": 1.0})
    assert look(exceeds, scene(low)).holds is True
    assert look(exceeds, scene(low)).finding_ids == ("TOL-ELEVATION@P2",)
    assert look(within, scene(low)).holds is False
    assert look(exceeds, scene(Slab())).holds is False
    assert look(within, scene(Slab())).holds is True
    unread = replace(Slab(), levelled=False)
    assert look(exceeds, scene(unread)).holds is None
    assert look(within, scene(unread)).holds is None


@pytest.mark.parametrize(
    ("answer", "holds"), [(Answer.YES, True), (Answer.NO, False), (Answer.UNKNOWN, None)]
)
def test_by_answer(answer: Answer, holds: bool | None) -> None:
    assert (
        look(Clue("c", "s", answer="slab.tree_roots", is_="yes"), scene(Slab().told(tree_roots=answer))).holds
        is holds
    )


def test_fine_cracks() -> None:
    fine = replace(Slab(), cracks=(crack("C1", "P1", 0.5),))
    assert pattern("fine cracks only", fine).holds is True
    assert pattern("fine cracks only", Slab()).holds is False
    assert pattern("fine cracks only", replace(Slab(), cracks=(crack("C1", "P1", 5.0),))).holds is False
    assert pattern("fine cracks only", replace(Slab(), cracks=(crack("C1", "P1", None),))).holds is None


def test_where_low_and_high_panels_lie() -> None:
    # Panels P4 to P6 lie against the house; P1, P3, P4, P6 hold the corners.
    for panel, corner, house in (
        ("P1", True, False),
        ("P2", False, False),
        ("P5", False, True),
        ("P6", True, True),
    ):
        slab = replace(Slab(), settlement_in={**Slab().settlement_in, panel: 1.2})
        assert pattern("corner panel low", slab).holds is corner
        assert pattern("low at the house", slab).holds is house
        assert pattern("raised panel", slab).holds is False
    high = replace(Slab(), settlement_in={**Slab().settlement_in, "P1": -1.2})
    assert pattern("raised panel", high).holds is True
    assert pattern("corner panel low", high).holds is False
    assert pattern("raised panel", replace(Slab(), levelled=False)).holds is None


def test_inside_corners_of_an_outline() -> None:
    square = tuple(Corner(n, x, y) for n, x, y in (("A", 0, 0), ("B", 4, 0), ("C", 4, 4), ("D", 0, 4)))
    assert inside_corners(square) == ()
    bent = tuple(
        Corner(n, x, y)
        for n, x, y in (("A", 0, 0), ("B", 4, 0), ("C", 4, 2), ("D", 2, 2), ("E", 2, 4), ("F", 0, 4))
    )
    assert inside_corners(bent) == ((2, 2),)


def test_a_crack_at_an_inside_corner() -> None:
    bent = tuple(
        Corner(n, 1000.0 * x, 1000.0 * y)
        for n, x, y in (("A", 0, 0), ("B", 9, 0), ("C", 9, 3), ("D", 3, 3), ("E", 3, 6), ("F", 0, 6))
    )

    def at(*points: tuple[float, float]):  # type: ignore[no-untyped-def]
        branch = BranchSize(points, 100.0, 1.0, None, None, 1.0, 0.1, None, 0.0, None, 1.0)
        slab = replace(Slab(), cracks=(crack("C1", "P1", 1.0, branches=(branch,)),))
        looked = replace(scene(slab), field=replace(slab.field(), outline=bent))
        return look(Clue("c", "s", pattern="crack at an inside corner"), looked).holds

    assert at((3100.0, 2900.0), (5000.0, 1000.0)) is True
    assert at((8000.0, 500.0), (5000.0, 1000.0)) is False
    slab = replace(Slab(), cracks=(crack("C1", "P1", 1.0),))
    unplaced = replace(scene(slab), field=replace(slab.field(), outline=bent))
    assert look(Clue("c", "s", pattern="crack at an inside corner"), unplaced).holds is None


def test_areas_wheels_and_age() -> None:
    assert pattern("popouts", replace(Slab(), areas=(area(Distress.POPOUTS, 0.1),))).holds is True
    assert pattern("popouts", Slab()).holds is False
    assert pattern("popouts", Slab().told(walked_over=Answer.UNKNOWN)).holds is None
    wheels = replace(Slab(), site=SiteUse(Use.TRUCK))
    assert (pattern("wheels", wheels).holds, pattern("no wheels", wheels).holds) == (True, False)
    assert pattern("wheels", replace(Slab(), site=SiteUse())).holds is None
    assert pattern("old slab", Slab()).holds is True
    assert pattern("old slab", Slab().told(age_years=1)).holds is False
    assert pattern("old slab", Slab().told(age_years=None)).holds is None
