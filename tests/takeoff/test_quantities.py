"""The bill of a job: overlay, removal, patch, and what is not known."""

from __future__ import annotations

import dataclasses

import pytest

from analyzer.records import HeightEntry, JointSize, Panel, PanelLayout, PlannedJoint, SlabFacts
from analyzer.takeoff import count_quantities
from analyzer.terms import Abuts, HeightKind, JointKind, Option
from analyzer.units import (
    KG_PER_LB,
    KG_PER_TONNE,
    LB_PER_SHORT_TON,
    M3_PER_YD3,
    MM2_PER_FT2,
    MM2_PER_M2,
    MM_PER_FT,
    MM_PER_IN,
    Reading,
)

W, D = 20 * MM_PER_FT, 12 * MM_PER_FT
BOX = [(0.0, 0.0), (W, 0.0), (W, D), (0.0, D)]
JOINT = JointSize("J1", JointKind.CONTRACTION, (W / 2, 0.0), (W / 2, D), D, 5.0, 1.0)


def wedge(make_plan, **more):
    points = [(0, 0, 2.0), (W, 0, 2.0), (W, D, 4.4), (0, D, 4.4)]
    return make_plan([(x, y, t * MM_PER_IN, 1.0) for x, y, t in points], [(0, 1, 2), (0, 2, 3)], **more)


def by_item(bill, option):
    return {q.item: q for q in bill.quantities if q.option is option}


def test_overlay(make_book, make_plan, nothing_wrong) -> None:
    post = HeightEntry(HeightKind.POST, "lamp", (100.0, 100.0))
    book = make_book(BOX, {0: Abuts.FREE, 2: Abuts.HOUSE, 3: Abuts.WALL}, heights=(post,))
    layout = PanelLayout((), (JOINT,), (), 5.0)
    bill = count_quantities((wedge(make_plan),), layout, nothing_wrong, book)
    found = by_item(bill, Option.OVERLAY_BONDED)
    assert found["concrete by the plan"].value / M3_PER_YD3 == pytest.approx(2.370, abs=5e-4)  # QTY-WEDGE
    assert found["concrete by the plan"].u / found["concrete by the plan"].value < 0.05
    assert found["concrete to order"].value / M3_PER_YD3 == pytest.approx(2.75)
    area = found["area to clean, roughen and bond"]
    assert area.value * MM2_PER_M2 / MM2_PER_FT2 == pytest.approx(240)
    assert area.u is not None
    assert found["joints over the old joints"].value * 1000 == pytest.approx(D)
    assert found["isolation strip"].value * 1000 == pytest.approx(W + D)
    assert found["isolation collars at posts"].value == 1
    assert bill.orders[0].volume_m3 == found["concrete by the plan"].value
    assert bill.notes == ()


def test_an_unbonded_overlay_takes_a_bond_breaker(make_book, make_plan, nothing_wrong, no_panels) -> None:
    plan = wedge(make_plan, option=Option.OVERLAY_UNBONDED)
    bill = count_quantities((plan,), no_panels, nothing_wrong, make_book(BOX))
    assert "area of bond breaker" in by_item(bill, Option.OVERLAY_UNBONDED)


def test_removal_of_400_square_feet(make_book, make_plan, nothing_wrong, no_panels) -> None:
    """QTY-REMOVAL, computed: 400 ft2 x 4 in = 4.94 yd3 in place = 10.0 short tons at 150 lb/ft3."""
    side = 20 * MM_PER_FT
    box = [(0.0, 0.0), (side, 0.0), (side, side), (0.0, side)]
    slab = SlabFacts(thickness=Reading(4 * MM_PER_IN, 3.0, "4 in"))
    plan = make_plan(
        [(0, 0, 101.6, 1), (side, 0, 101.6, 1), (side, side, 101.6, 1)], [(0, 1, 2)], option=Option.REMOVAL
    )
    bill = count_quantities((plan,), no_panels, nothing_wrong, make_book(box, slab=slab))
    found = by_item(bill, Option.REMOVAL)
    assert found["area to break out"].value * MM2_PER_M2 / MM2_PER_FT2 == pytest.approx(400)
    in_place = found["concrete to break out, in place"]
    assert in_place.value / M3_PER_YD3 == pytest.approx(4.94, abs=0.005)
    mass = found["mass to haul off"]
    assert mass.value * KG_PER_TONNE / KG_PER_LB / LB_PER_SHORT_TON == pytest.approx(10.0, abs=0.05)
    assert "10.0 short tons" in mass.basis
    loose = found["broken concrete, loose"].value / in_place.value
    assert loose == pytest.approx(1.4)  # 1.3 to 1.5: common practice, no source
    assert found["concrete by the plan"].value == pytest.approx(in_place.value)
    assert found["truck loads to haul off"].value == 1
    assert [s.option for s in bill.slips] == [Option.REMOVAL]


def test_unknown_thickness_and_levels_are_not_zero(make_book, make_plan, nothing_wrong, no_panels) -> None:
    new = make_plan([(0, 0, 101.6, 1)], [], option=Option.REMOVAL, levels_known=False)
    over = dataclasses.replace(wedge(make_plan), grades=(), triangles=(), levels_known=False)
    bill = count_quantities((over, new), no_panels, nothing_wrong, make_book(BOX))
    removal, overlay = by_item(bill, Option.REMOVAL), by_item(bill, Option.OVERLAY_BONDED)
    assert "mass to haul off" not in removal
    assert "concrete by the plan" in removal
    assert "concrete by the plan" not in overlay
    assert len(bill.notes) == 2
    assert [o.option for o in bill.orders] == [Option.REMOVAL]


def test_a_plan_with_conflicts_is_counted_and_said_to_be_no_plan(
    make_book, make_plan, nothing_wrong, no_panels
) -> None:
    plan = wedge(make_plan, conflicts=("These cannot all be kept: a; b.",))
    bill = count_quantities((plan,), no_panels, nothing_wrong, make_book(BOX))
    assert "not admissible" in bill.notes[0]
    assert bill.orders


def test_the_base_under_a_new_slab(make_book, make_plan, nothing_wrong) -> None:
    points = [(x, y, 101.6, 1.0) for x, y in BOX]
    plan = make_plan(points, [(0, 1, 2), (0, 2, 3)], option=Option.REMOVAL)
    grades = tuple(dataclasses.replace(g, old_mm=-30.0, finished_mm=0.0) for g in plan.grades)
    plan = dataclasses.replace(plan, grades=grades)
    panel = Panel("P1", tuple(BOX), W * D, 1e3, W, D, 5.0)
    layout = PanelLayout((panel,), (), (), 5.0)
    slab = SlabFacts(thickness=Reading(101.6, 3.0, "4 in"), rocking_panels=("P1",))
    found = by_item(
        count_quantities((plan,), layout, nothing_wrong, make_book(BOX, slab=slab)), Option.REMOVAL
    )
    assert found["base to fill"].value == pytest.approx(W * D * 30.0 / 1e9)
    assert "base to cut" not in found
    assert found["base layer under settled panels"].value == pytest.approx(W * D * 101.6 / 1e9)


def test_contraction_joints_of_the_plan_itself(make_book, make_plan, nothing_wrong, no_panels) -> None:
    joint = PlannedJoint(
        "N1", JointKind.CONTRACTION, (0.0, 0.0), (0.0, D), D, 25.4, None, None, "by spacing", "JOINT-24-36"
    )
    wall = dataclasses.replace(joint, name="isolation at C-D", kind=JointKind.ISOLATION)
    plan = wedge(make_plan, option=Option.OVERLAY_UNBONDED, joints=(joint, wall))
    bill = count_quantities((plan,), no_panels, nothing_wrong, make_book(BOX))
    found = by_item(bill, Option.OVERLAY_UNBONDED)
    assert found["contraction joints"].value * 1000 == pytest.approx(D)
