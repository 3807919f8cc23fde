"""Each contradiction is found, and is not found where the evidence agrees."""

from __future__ import annotations

import dataclasses

import pytest

from analyzer.observe import map_levels, merge_distress
from analyzer.observe.contradictions import find_contradictions
from analyzer.observe.readings import load_readings
from analyzer.records import AreaEntry, CrackSurvey, FaultEntry, HeightEntry, JointSize, SlabFacts
from analyzer.terms import Abuts, Answer, Distress, HeightKind, JointKind
from analyzer.units import Reading

BOXES = [(x, 0.0, x + 2000.0, 4000.0) for x in (0.0, 2000.0, 4000.0)]
PLACES = [(b[0] + dx, y) for b in BOXES for dx in (200.0, 1800.0) for y in (200.0, 2000.0, 3800.0)]
JOINT = JointSize(
    "J1", JointKind.CONTRACTION, (4000.0, 0.0), (4000.0, 4000.0), 4000.0, 5.0, 1.0, ("P2", "P3")
)


def told(make_field, make_layout, drop=20.0, unseen=0.0, joints=(JOINT,), tilt=0.0, **more) -> list[str]:
    stations = [(x, y, tilt * y - (drop if x > 4000 else 0.0)) for x, y in PLACES]
    field = make_field(stations, abuts={2: Abuts.HOUSE}, **more)
    layout = make_layout(*BOXES, joints=joints)
    levels = map_levels(field, layout)
    summary = merge_distress(field, CrackSurvey((), ()), layout, levels, unseen)
    return [f"{c.subject}: {c.sentence}" for c in summary.contradictions]


@pytest.mark.parametrize(("step", "clash"), [(20.0, False), (19.0, False), (8.0, True), (0.0, True)])
def test_levels_against_a_typed_step(make_field, make_layout, step: float, clash: bool) -> None:
    fault = FaultEntry((4000.0, 2000.0), Reading(step, 0.5, f"{step} mm"), "J1")
    found = [t for t in told(make_field, make_layout, faults=(fault,)) if t.startswith("step")]
    assert bool(found) is clash


@pytest.mark.parametrize(("typed", "clash"), [(20.0, False), (5.0, True), (45.0, True)])
def test_levels_against_typed_settlement(make_field, make_layout, typed: float, clash: bool) -> None:
    entry = AreaEntry(Distress.SETTLEMENT, panel="P3", depth=Reading(typed, 0.5, f"{typed} mm"))
    found = [t for t in told(make_field, make_layout, areas=(entry,)) if t.startswith("settlement")]
    assert bool(found) is clash


@pytest.mark.parametrize(("inches", "clash"), [(7.0, False), (24.0, False), (30.0, True), (0.5, True)])
def test_a_riser_that_cannot_be(make_field, make_layout, inches: float, clash: bool) -> None:
    entry = HeightEntry(HeightKind.RISER, "step", (0, 0), Reading(inches * 25.4, None, f"{inches} in"))
    assert any("riser" in t for t in told(make_field, make_layout, heights=(entry,))) is clash


@pytest.mark.parametrize(("inches", "clash"), [(4.0, False), (1.0, True), (40.0, True)])
def test_a_thickness_that_cannot_be(make_field, make_layout, inches: float, clash: bool) -> None:
    slab = SlabFacts(thickness=Reading(inches * 25.4, None, f"{inches} in"))
    assert any("slab thickness" in t for t in told(make_field, make_layout, slab=slab)) is clash


def test_a_step_at_a_joint_that_no_photo_shows(make_field, make_layout) -> None:
    away = FaultEntry((1000.0, 2000.0), Reading(5.0, 0.5, "5 mm"))
    assert any("no photo" in t for t in told(make_field, make_layout, faults=(away,)))
    unknown = FaultEntry((4000.0, 2000.0), Reading(20.0, 0.5, "20 mm"), "J9")
    assert any("J9" in t for t in told(make_field, make_layout, faults=(unknown,)))
    good = FaultEntry((4000.0, 2000.0), Reading(20.0, 0.5, "20 mm"))
    assert told(make_field, make_layout, faults=(good,)) == []
    # Without photos and without any joint or crack entered there is nothing to contradict.
    assert told(make_field, make_layout, faults=(away,), joints=(), unseen=None) == []


@pytest.mark.parametrize(
    ("answer", "tilt", "clash"),
    [
        (Answer.NO, 0.01, True),
        (Answer.NO, -0.01, False),
        (Answer.YES, -0.01, True),
        (Answer.YES, 0.01, False),
        (Answer.UNKNOWN, 0.01, False),
    ],
)
def test_drainage_toward_the_house(make_field, make_layout, answer, tilt, clash) -> None:
    # the house is the edge at y = 4000; z = tilt y, so a negative tilt falls toward it
    slab = SlabFacts(drains_toward_house=answer)
    found = told(make_field, make_layout, drop=0.0, tilt=-tilt, slab=slab)
    assert any("drain toward" in t for t in found) is clash


def test_no_pond_seen_but_the_levels_hold_one(make_field, make_layout) -> None:
    stations = [(x, y, -25.0 if (x, y) == (2200.0, 2000.0) else 0.0) for x, y in PLACES]
    slab = SlabFacts(ponding_seen=Answer.NO)
    field = make_field(stations, slab=slab)
    layout = make_layout(*BOXES)
    levels = map_levels(field, layout)
    rules = load_readings()
    found = find_contradictions(field, layout, levels, (), (), None, rules)
    assert [c.subject for c in found] == ["ponding"]
    field = dataclasses.replace(field, slab=SlabFacts(ponding_seen=Answer.YES))
    assert find_contradictions(field, layout, levels, (), (), None, rules) == ()
