"""Joints lengthened to what they meet, merged where they are one, and the distances between them."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from analyzer.measure.joints import lay_cuts, neighbour_spacings
from analyzer.records import JointEntry, PlanGrid, PlanImage
from analyzer.terms import JointKind

OUTLINE = [(0.0, 0.0), (6000.0, 0.0), (6000.0, 4000.0), (0.0, 4000.0)]
SLAB = shapely.Polygon(OUTLINE)


def test_a_joint_that_stops_short_reaches_the_edges(kit) -> None:
    (cut,) = lay_cuts([kit.joint("J1", (2000, 150), (2003, 3700))], kit.field_book(OUTLINE), SLAB)
    assert cut.divides
    assert cut.line.length == pytest.approx(4000, abs=5)


def test_a_joint_ends_on_the_next_joint_even_if_that_one_was_lengthened(kit) -> None:
    joints = [kit.joint("J1", (3000, 200), (3000, 3800)), kit.joint("J2", (200, 2000), (2700, 2000))]
    cuts = lay_cuts(joints, kit.field_book(OUTLINE), SLAB)
    assert cuts[1].line.length == pytest.approx(3000, abs=5)


def test_a_joint_that_ends_far_from_everything_is_not_lengthened(kit) -> None:
    (cut,) = lay_cuts([kit.joint("J1", (2000, 0), (2000, 1500))], kit.field_book(OUTLINE), SLAB)
    assert cut.line.length == pytest.approx(1500, abs=5)


def test_a_joint_goes_on_under_what_no_photo_shows(kit) -> None:
    # The upper 2.4 m of the slab are unseen: the joint stops there and is taken on to the edge; were
    # they seen without a joint, it would end there.
    grid = PlanGrid(50.0, 3950.0, 100.0, 40, 60)
    best = np.zeros((40, 60), dtype=np.int16)
    joint = [kit.joint("J1", (2000, 0), (2000, 1550))]
    seen = PlanImage(grid, (), (), grid, best.copy(), 24e6, 24e6)
    best[:24] = -1
    unseen = PlanImage(grid, (), (), grid, best, 24e6, 10e6)
    assert lay_cuts(joint, kit.field_book(OUTLINE), SLAB, seen)[0].line.length == pytest.approx(1550, abs=5)
    assert lay_cuts(joint, kit.field_book(OUTLINE), SLAB, unseen)[0].line.length == pytest.approx(4000, abs=5)


def test_two_traces_of_one_joint_are_one(kit) -> None:
    joints = [kit.joint("J1", (2000, 100), (2000, 3900)), kit.joint("J2", (2025, 500), (2025, 2500))]
    cuts = lay_cuts(joints, kit.field_book(OUTLINE), SLAB)
    assert [cut.trace.joint_id for cut in cuts] == ["J1"]


def test_a_joint_along_the_house_divides_nothing(kit) -> None:
    (cut,) = lay_cuts([kit.joint("J1", (100, 20), (5900, 25))], kit.field_book(OUTLINE), SLAB)
    assert not cut.divides


def test_typed_joints_replace_those_of_the_photos(kit) -> None:
    from dataclasses import replace

    field = replace(
        kit.field_book(OUTLINE),
        joints=(JointEntry("A", (3000.0, 0.0), (3000.0, 4000.0), JointKind.ISOLATION),),
    )
    cuts = lay_cuts([kit.joint("J1", (2000, 0), (2000, 4000))], field, SLAB)
    assert [(cut.trace.joint_id, cut.trace.typed) for cut in cuts] == [("A", True)]


def test_wobbling_pixels_become_a_straight_joint(kit) -> None:
    y = np.linspace(0, 4000, 400)
    points = [tuple(p) for p in np.stack([2000 + 8 * np.sin(y / 90), y], axis=1)]
    (cut,) = lay_cuts([kit.joint("J1", *points)], kit.field_book(OUTLINE), SLAB)
    assert len(cut.line.coords) == 2
    assert cut.line.length == pytest.approx(4000, abs=5)


def test_spacing_between_neighbours_only(kit) -> None:
    joints = [kit.joint("J1", (2000, 0), (2000, 4000)), kit.joint("J2", (3500, 0), (3500, 4000)),
              kit.joint("J3", (0, 1000), (6000, 1000))]  # fmt: skip
    cuts = lay_cuts(joints, kit.field_book(OUTLINE), SLAB)
    assert sorted(neighbour_spacings(cuts, SLAB)) == pytest.approx([1000, 1500, 2000, 2500, 3000], abs=3)


def test_without_joints_the_sides_of_the_slab_are_the_spacing() -> None:
    assert sorted(neighbour_spacings([], SLAB)) == pytest.approx([4000, 6000])
