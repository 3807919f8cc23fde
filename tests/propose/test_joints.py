"""Joints by regime and rule."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely

from analyzer.propose.joints import grid_lines, panels_between, plan_joints, spacing_limit, support_notes
from analyzer.propose.site import describe_site
from analyzer.records import EdgeEntry, JointSize, PanelLayout, PanelLevel
from analyzer.terms import Abuts, JointKind, Option, Support
from analyzer.units import MM_PER_FT, MM_PER_IN

FT, IN = MM_PER_FT, MM_PER_IN


def site_of(make_site, exact, joints=(), size=(20, 12), **more):
    field, levels = make_site(lambda x, y: 0 * x, size=size, **more)
    return describe_site(field, levels, (), PanelLayout((), tuple(joints), (), 5.0), exact)


def plan_of(site, option, thickness_mm=4 * IN):
    from analyzer.propose.overlay import plan_grades

    plan = plan_grades(None, (), site.field, site.layout)[0]
    return dataclasses.replace(plan, option=option, thickness_min_mm=thickness_mm)


@pytest.mark.parametrize(("inches", "feet"), [(3, 9), (4, 12), (5, 15), (6, 15)])
def test_spacing_table(make_site, exact, inches: float, feet: float) -> None:
    """JOINT-24-36: 36 times the thickness, at most 15 ft (JOINT-TABLE read: 12 ft at 4 in, 15 ft at 5 in)."""
    assert spacing_limit(site_of(make_site, exact), inches * IN) / FT == pytest.approx(feet)


def test_a_bonded_overlay_is_jointed_over_the_old_joints(make_site, exact) -> None:
    """CPTECH-SAW-DEPTH, from memory: full overlay depth plus 1/2 in."""
    old = [
        JointSize("J1", JointKind.CONTRACTION, (3000.0, 0.0), (3000.0, 12 * FT), 12 * FT, 5, 1.0),
        JointSize("J2", JointKind.ISOLATION, (0.0, 2000.0), (20 * FT, 2000.0), 20 * FT, 5, 1.0),
    ]
    site = site_of(make_site, exact, old)
    found = plan_joints(site, plan_of(site, Option.OVERLAY_BONDED), lambda p: 50.0 + p[:, 1] / 100)
    over = [j for j in found if j.over_joint]
    assert [j.over_joint for j in over] == ["J1", "J2"]
    assert over[0].depth_mm == pytest.approx(50.0 + 12 * FT / 100 + 0.5 * IN)
    # UFGS concrete rehabilitation 3.10.3, read: through the full overlay depth over isolation joints
    assert over[1].depth_mm == pytest.approx(70.0)
    assert over[1].kind is JointKind.ISOLATION
    (wall,) = [j for j in found if j.name.startswith("isolation")]
    assert wall.length_mm == pytest.approx(20 * FT)
    assert wall.width_mm == pytest.approx(0.5 * IN)  # common practice, no source


def test_a_new_slab_is_jointed_by_its_own_thickness(make_site, exact) -> None:
    site = site_of(make_site, exact)
    found = plan_joints(site, plan_of(site, Option.REMOVAL), lambda p: np.full(len(p), 4 * IN))
    own = [j for j in found if j.kind is JointKind.CONTRACTION]
    assert {round(j.start_mm[0] / FT, 2) for j in own} == {10.0}
    assert all(j.depth_mm == pytest.approx(1 * IN) for j in own)  # a quarter of 4 in, at least 1 in (read)


@pytest.mark.parametrize("deg", [0.0, 20.0])
@pytest.mark.parametrize(
    "outline",
    [
        [(0, 0), (40, 0), (40, 25), (0, 25)],
        [(0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30)],
        [(0, 0), (5, 0), (5, 19), (6.5, 19), (6.5, 24), (-1.5, 24), (-1.5, 19), (0, 19)],
        [(0, 0), (50, 0), (50, 4), (0, 4)],
    ],
    ids=["yard", "L", "walk with landing", "long walk"],
)
def test_panels_are_short_stout_and_start_at_inside_corners(outline, deg: float) -> None:
    """JOINT-24-36 (memory) and JOINT-ASPECT (read); a fifth over the aspect is let pass to avoid a T."""
    turn = np.radians(deg)
    rotate = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    polygon = shapely.Polygon(np.array(outline) * FT @ rotate)
    lines = grid_lines(polygon, 12 * FT, 1.5)
    parts = panels_between(polygon, lines)
    assert sum(p.area for p in parts) == pytest.approx(polygon.area, rel=1e-6)
    for part in parts:
        box = np.asarray(part.minimum_rotated_rectangle.exterior.coords)
        sides = sorted(np.linalg.norm(np.diff(box[:3], axis=0), axis=1))
        assert sides[1] <= 12 * FT * 1.001
        assert sides[1] <= 1.8001 * sides[0]
    ring = np.asarray(polygon.exterior.coords)[:-1]
    sides = np.roll(ring, -1, axis=0) - ring
    for k, corner in enumerate(ring):
        before, after = sides[k - 1], sides[k]
        if before[0] * after[1] - before[1] * after[0] < 0:
            assert min(line.distance(shapely.Point(corner)) for line in lines) < 5.0


def test_a_small_square_needs_none(make_site, exact) -> None:
    assert grid_lines(shapely.box(0, 0, 3000, 2500), 12 * FT, 1.5) == ()


def test_changes_of_support_are_told(make_site, exact) -> None:
    old = [JointSize("J1", JointKind.CONTRACTION, (3000.0, 0.0), (3000.0, 12 * FT), 12 * FT, 5, 1.0)]
    site = site_of(make_site, exact, old)
    sunk = dataclasses.replace(site.levels, panels=(PanelLevel("P2", 30.0, 1.0, 4, sound=False),))
    washed = (EdgeEntry("A", "B", Abuts.FREE, Support.UNDERMINED),)
    field = dataclasses.replace(site.field, edges=washed)
    site = dataclasses.replace(site, levels=sunk, field=field)
    plan = plan_of(site, Option.OVERLAY_UNBONDED)
    text = " ".join(support_notes(site, plan))
    assert "span the old joint J1" in text
    assert "Panel P2" in text
    assert "under edge A-B" in text
    bonded = dataclasses.replace(plan, option=Option.OVERLAY_BONDED)
    joints = plan_joints(site, bonded, lambda p: np.full(len(p), 60.0))
    matched = dataclasses.replace(plan, joints=joints)
    assert "span the old joint" not in " ".join(support_notes(site, matched))
