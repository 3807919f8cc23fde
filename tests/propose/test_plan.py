"""A solved surface turned into a plan."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.propose.plan import build_plan, held, line_on_slab, main_plane
from analyzer.propose.requirements import requirements_of
from analyzer.propose.site import describe_site
from analyzer.propose.surface import Basis, Line, cut
from analyzer.terms import HeightKind, Option
from analyzer.units import MM_PER_FT


def creased(make_site, no_panels, exact, clearances=()):
    field, levels = make_site(lambda x, y: 0 * x, cells=(8, 6))
    place = describe_site(field, levels, tuple(clearances), no_panels, exact)
    line = Line((1.0, 0.0), 2000.0, "valley")
    basis = Basis(np.array([0.0, 0.0]), 1000.0, (line,))
    # 1 % up the y axis, falling 1 % along x before the crease and rising 2 % after it
    return place, basis, cut(place.old, (line,)), np.array([-10.0, 10.0, 80.0, 30.0])


def test_thickness_falls_and_crease(make_site, no_panels, exact) -> None:
    place, basis, surface, c = creased(make_site, no_panels, exact)
    plan = build_plan(place, Option.OVERLAY_BONDED, basis, surface, c, None)
    by_place = {(round(g.x_mm), round(g.y_mm)): g for g in plan.grades}
    assert by_place[(0, 0)].thickness_mm == pytest.approx(80.0)
    assert by_place[(2000, 0)].thickness_mm == pytest.approx(60.0)
    assert by_place[(6096, 0)].thickness_mm == pytest.approx(60.0 + 0.02 * 4096)
    assert plan.thickness_min_mm == pytest.approx(60.0)
    assert plan.thickness_min_at_mm == pytest.approx((2000.0, 0.0))
    (crease,) = plan.creases
    assert crease.bend == pytest.approx(0.03)
    assert {crease.start_mm[0], crease.end_mm[0]} == {2000.0}
    # mean by hand: two strips of linear thickness along x plus 1 % over half the depth
    strips = (2000 * 70.0 + 4096 * (60.0 + 0.02 * 4096 / 2)) / 6096
    assert plan.thickness_mean_mm == pytest.approx(strips + 0.01 * 3657.6 / 2)


def test_the_plane_is_that_of_the_largest_part(make_site, no_panels, exact) -> None:
    _, basis, surface, c = creased(make_site, no_panels, exact)
    a, b, z = main_plane(basis, surface, c)
    assert (a, b) == (pytest.approx(0.02), pytest.approx(0.01))
    assert a * 4000 + b * 1000 + z == pytest.approx(60.0 + 0.02 * 2000 + 10.0)


def test_a_new_slab_has_one_thickness(make_site, no_panels, exact) -> None:
    place, basis, surface, c = creased(make_site, no_panels, exact)
    plan = build_plan(place, Option.REMOVAL, basis, surface, c, 100.0)
    assert {g.thickness_mm for g in plan.grades} == {100.0}
    assert plan.thickness_mean_mm == pytest.approx(100.0)


def test_heights_follow_the_surface_and_upper_risers_stay(make_site, no_panels, exact, clearance) -> None:
    items = [
        clearance(HeightKind.RISER, (2000.0, 0.0), 180.0, "first", flight="f", order=1),
        clearance(HeightKind.RISER, (2000.0, 0.0), 180.0, "second", flight="f", order=2),
    ]
    place, basis, surface, c = creased(make_site, no_panels, exact, items)
    plan = build_plan(place, Option.OVERLAY_BONDED, basis, surface, c, None)
    assert [h.after_mm for h in plan.heights_after] == pytest.approx([120.0, 180.0])
    assert [h.before_mm for h in plan.heights_after] == [180.0, 180.0]


def test_room_left_to_each_requirement(make_site, no_panels, exact) -> None:
    place, basis, surface, c = creased(make_site, no_panels, exact)
    needs = requirements_of(place, Option.OVERLAY_BONDED, basis, surface, (50.8, "test"), None)
    rooms = {h.name: h for h in held(place, needs, c)}
    assert rooms["thickness"].room == pytest.approx(60.0 - 50.8)
    house = rooms["fall away from the house at C-D"]
    assert house.room == pytest.approx(0.01 - 0.02)
    assert house.unit == "slope"


def test_a_line_on_a_concave_slab_comes_in_parts(make_site, no_panels, exact) -> None:
    outline = [
        (0, 0),
        (9000, 0),
        (9000, 5000),
        (6000, 5000),
        (6000, 900),
        (3000, 900),
        (3000, 5000),
        (0, 5000),
    ]
    field, levels = make_site(lambda x, y: 0 * x, outline=outline, abuts={}, cells=(9, 5))
    place = describe_site(field, levels, (), no_panels, exact)
    parts = line_on_slab(place, Line((0.0, 1.0), 3000.0, "across"))
    assert sorted(sorted(round(p[0]) for p in part) for part in parts) == [[0, 3000], [6000, 9000]]


def test_slopes_at_edges_and_landings_of_a_bent_surface(make_site, no_panels, exact, clearance) -> None:
    door = clearance(HeightKind.DOOR_SILL, (500.0, 12 * MM_PER_FT), 200.0, "door")
    place, basis, surface, c = creased(make_site, no_panels, exact, [door])
    plan = build_plan(place, Option.OVERLAY_BONDED, basis, surface, c, None)
    found = {e.edge: e.slope for e in plan.edges}
    # A-B lies at y = 0: the surface rises away from it by 1 %; C-D opposite: falls away by 1 %
    assert found["A-B"] == pytest.approx(-0.01)
    assert found["C-D"] == pytest.approx(0.01)
    # B-C at the far end of x: 2 % down toward the crease, which is farther than 10 ft away
    assert found["B-C"] == pytest.approx(0.02)
    assert found["D-A"] == pytest.approx(-0.02)  # 1 % down to the crease, then 2 % up: the least counts
    assert plan.landings == (("door", pytest.approx(np.hypot(0.01, 0.01))),)


def test_a_slope_solved_at_its_limit_is_the_limit(make_site, no_panels, exact) -> None:
    from analyzer.propose import plan_grades

    rng = np.random.default_rng(1)
    for _ in range(5):
        bumps = rng.normal(0, 5, 20)
        field, levels = make_site(lambda x, y, b=bumps: 0.004 * y + b[: len(x)], size=(17.3, 11.7))
        for plan in plan_grades(levels, (), field, no_panels, exact):
            house = next(e for e in plan.edges if e.edge == "C-D")
            assert house.slope >= 0.02
