"""Doors, steps, cladding, walks, drains and edges, now and after."""

from __future__ import annotations

from dataclasses import replace

import pytest
from invented_slab import Slab, clearance

from analyzer.terms import Answer, HeightKind, Verdict

NO, YES, UNKNOWN = Answer.NO, Answer.YES, Answer.UNKNOWN
WITHIN, EXCEEDS, OPEN = Verdict.WITHIN, Verdict.EXCEEDS, Verdict.NOT_DETERMINED


def with_heights(*heights):  # type: ignore[no-untyped-def]
    return replace(Slab(), clearances=heights).by_id()


@pytest.mark.parametrize(
    ("egress", "swings", "drop", "verdict"),
    [
        (YES, YES, 1.0, WITHIN),
        (YES, YES, 3.0, EXCEEDS),
        (YES, NO, 3.0, None),
        (NO, YES, 3.0, None),
        (UNKNOWN, UNKNOWN, 3.0, OPEN),
        (UNKNOWN, UNKNOWN, 1.0, WITHIN),
        (YES, UNKNOWN, 3.0, OPEN),
    ],
)
def test_landing_of_the_egress_door(
    egress: Answer, swings: Answer, drop: float, verdict: Verdict | None
) -> None:
    # IRC R311.3.1 as quoted: 1 1/2 in, or 7 3/4 in where the door does not swing over the landing.
    found = with_heights(
        clearance(HeightKind.DOOR_SILL, "door", drop, egress_door=egress, swings_over=swings)
    )
    name = "IRC-DOOR-EGRESS@door sill door"
    assert (found[name].verdict if name in found else None) is verdict
    assert found["IRC-DOOR-OTHER@door sill door"].verdict is WITHIN


def test_unmeasured_heights_stay_open() -> None:
    found = with_heights(
        clearance(HeightKind.DOOR_SILL, "door", None),
        clearance(HeightKind.WEEP_SCREED, "wall", None),
        clearance(HeightKind.RISER, "first", None, flight="stair", order=1),
        clearance(HeightKind.RISER, "second", 7.0, flight="stair", order=2),
    )
    asked = [f for f in found.values() if f.subject.split()[0] in ("door", "weep", "riser", "flight")]
    one_known = [f for f in asked if f.subject == "riser second"]
    assert one_known
    for finding in asked:
        if finding not in one_known:
            assert finding.verdict is OPEN, finding.finding_id


def test_cladding_has_a_hard_limit_and_a_warning() -> None:
    # Sources differ: 2 in over paving (code), 4 in for termites (inspection guides): hard and soft.
    found = with_heights(clearance(HeightKind.WEEP_SCREED, "wall", 3.0))
    assert found["IRC-WEEP@weep screed wall"].verdict is WITHIN
    assert found["TERMITE-INSPECT@weep screed wall"].verdict is EXCEEDS
    siding = with_heights(clearance(HeightKind.SIDING, "boards", 1.5))
    assert siding["IRC-SIDING@siding boards"].verdict is EXCEEDS


def test_evenness_by_code_and_by_building_tolerance() -> None:
    # Sources differ: 3/8 in across the flight (code), 3/16 in between neighbours (ACI 117): both, labelled.
    heights = [7.0, 7.15, 7.30]
    flight = [
        clearance(HeightKind.RISER, f"r{i}", h, flight="stair", order=i + 1, height_u_mm=0.1)
        for i, h in enumerate(heights)
    ]
    found = with_heights(*flight)
    assert found["IRC-RISER.evenness@flight stair"].value == pytest.approx(0.30)
    assert found["IRC-RISER.evenness@flight stair"].verdict is WITHIN
    assert found["ACI-117-RISER@flight stair"].value == pytest.approx(0.15)
    assert found["ACI-117-RISER@flight stair"].verdict is WITHIN
    shuffled = with_heights(*reversed(flight))
    assert shuffled["ACI-117-RISER@flight stair"].value == pytest.approx(0.15)


def test_a_flight_with_a_gap_can_fail_but_not_pass() -> None:
    partly = (
        clearance(HeightKind.RISER, "r1", 7.0, flight="stair", order=1),
        clearance(HeightKind.RISER, "r2", None, flight="stair", order=2),
    )
    even = with_heights(*partly, clearance(HeightKind.RISER, "r3", 7.0, flight="stair", order=3))
    assert even["IRC-RISER.evenness@flight stair"].verdict is OPEN
    uneven = with_heights(*partly, clearance(HeightKind.RISER, "r3", 8.0, flight="stair", order=3))
    assert uneven["IRC-RISER.evenness@flight stair"].verdict is EXCEEDS


def test_walks_drains_edges_gates_and_garage_floors() -> None:
    found = with_heights(
        clearance(HeightKind.ADJOINING_WALK, "path", -0.6),
        clearance(HeightKind.DRAIN, "gully", -1.0),
        clearance(HeightKind.FREE_EDGE, "bank", -31.0),
        clearance(HeightKind.GATE, "yard gate", -0.5),
        clearance(HeightKind.GARAGE_FLOOR, "stall", -0.5),
        clearance(HeightKind.POST, "lamp", 5.0),
    )
    assert found["ADA-303-3@adjoining walk path"].verdict is EXCEEDS
    assert found["SUBGRADE-GAS-WATER.drain@drain gully"].verdict is EXCEEDS
    assert found["IRC-GUARD@free edge bank"].verdict is EXCEEDS
    assert found["TOOL-GATE@gate yard gate"].verdict is EXCEEDS
    assert found["IRC-GARAGE@garage floor stall"].verdict is EXCEEDS
    assert not [name for name in found if "lamp" in name]
    open_drain = with_heights(clearance(HeightKind.DRAIN, "gully", 0.0))
    assert open_drain["SUBGRADE-GAS-WATER.drain@drain gully"].verdict is WITHIN


def test_evenness_says_that_it_is_a_difference_of_two_risers() -> None:
    steps = tuple(
        clearance(HeightKind.RISER, name, height, flight="garden", order=order)
        for order, (name, height) in enumerate((("lower", 6.5), ("upper", 7.0)), start=1)
    )
    told = replace(Slab(), clearances=steps).by_id()["IRC-RISER.evenness@flight garden"].statement
    assert "difference between its highest and its lowest riser: 0.5 in" in told
