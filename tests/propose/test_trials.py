"""Several planes: closed forms for a court, a bent slab, a drain and a sloped rim."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.propose import plan_grades
from analyzer.propose.site import describe_site
from analyzer.propose.trials import basis_for, best_trial, try_creases
from analyzer.records import DesignChoices
from analyzer.terms import Abuts, HeightKind, Option
from analyzer.units import MM_PER_FT, MM_PER_IN

FT, IN = MM_PER_FT, MM_PER_IN
BONDED = Option.OVERLAY_BONDED


def bonded(site, layout, rules, clearances=()):
    field, levels = site
    return plan_grades(levels, tuple(clearances), field, layout, rules)[0]


def test_a_court_between_two_houses_gets_a_valley(make_site, no_panels, exact) -> None:
    """2 % from both walls to the middle and 1/8 in per ft along it; mean thickness by hand."""
    court = {0: Abuts.HOUSE, 2: Abuts.HOUSE}
    plan = bonded(make_site(lambda x, y: 0 * x, abuts=court, cells=(4, 4)), no_panels, exact)
    assert plan.conflicts == ()
    (valley,) = plan.creases
    assert valley.bend == pytest.approx(0.04)
    assert {round(valley.start_mm[1]), round(valley.end_mm[1])} == {round(6 * FT)}
    mean = 2 * IN + 0.02 * 12 * FT / 4 + 0.125 / 12 * 20 * FT / 2
    assert plan.thickness_mean_mm == pytest.approx(mean)
    assert plan.thickness_min_mm == pytest.approx(2 * IN)


def test_one_plane_cannot_do_what_the_valley_does(make_site, no_panels, exact) -> None:
    field, levels = make_site(lambda x, y: 0 * x, abuts={0: Abuts.HOUSE, 2: Abuts.HOUSE}, cells=(4, 4))
    site = describe_site(field, levels, (), no_panels, exact)
    alone = try_creases(site, BONDED, (2 * IN, "test"), (), site.ways[0])
    assert alone.solution is None
    assert alone.shortfall_mm > 0
    assert best_trial(site, BONDED, (2 * IN, "test")).solution is not None


def test_a_slab_that_bends_10_ft_from_the_house_is_followed(make_site, no_panels, exact) -> None:
    """Old surface: 1/8 in per ft far out, 4 % within 10 ft of the house: the overlay has one thickness."""

    def bent(x, y):
        return 0.125 / 12 * y + (0.04 - 0.125 / 12) * np.maximum(0, y - 20 * FT)

    plan = bonded(make_site(bent, size=(12, 30), cells=(3, 6)), no_panels, exact)
    assert len(plan.creases) == 1
    assert plan.thickness_max_mm == pytest.approx(2 * IN)
    assert plan.creases[0].bend == pytest.approx(-(0.125 / 12 - 0.04))


def test_a_crease_that_saves_little_is_not_made(make_site, no_panels, exact) -> None:
    """The 20 x 12 ft wedge keeps its one plane although a bend 10 ft out would save 6 % of it."""
    plan = bonded(make_site(lambda x, y: 0.48 * IN * y / (12 * FT)), no_panels, exact)
    assert plan.creases == ()
    eager = exact.with_values(crease_saving=0.01, crease_least=0.0)
    bent = bonded(make_site(lambda x, y: 0.48 * IN * y / (12 * FT)), no_panels, eager)
    assert len(bent.creases) >= 1
    assert bent.thickness_mean_mm < plan.thickness_mean_mm


def test_a_flat_yard_is_shaped_to_the_drain_that_the_book_names(
    make_site, no_panels, exact, clearance
) -> None:
    gully = clearance(HeightKind.DRAIN, (10 * FT, 6 * FT), 0.0, "gully")
    design = DesignChoices(fall_toward="gully")
    site = make_site(lambda x, y: 0 * x, abuts={}, cells=(8, 6), design=design)
    plan = bonded(site, no_panels, exact, [gully])
    assert plan.conflicts == ()
    assert len(plan.creases) == 2
    lowest = min(plan.grades, key=lambda g: g.finished_mm)
    assert (lowest.x_mm, lowest.y_mm) == (pytest.approx(10 * FT), pytest.approx(6 * FT))
    assert plan.thickness_min_mm == pytest.approx(2 * IN)
    for g in plan.grades:
        reach = np.hypot(g.x_mm - lowest.x_mm, g.y_mm - lowest.y_mm)
        assert g.finished_mm - lowest.finished_mm >= 0.125 / 12 * reach - 1e-6
    new = plan_grades(site[1], (gully,), site[0], no_panels, exact)[2]
    assert new.conflicts == ()
    assert len(new.creases) == 2


def test_the_rim_where_people_cross_is_sloped_but_never_thin(make_site, no_panels, exact) -> None:
    def dipped(x, y):
        return 0.02 * y - np.where(y < 1.0, 2 * IN, 0.0)

    walk = {0: Abuts.WALK, 2: Abuts.HOUSE}
    plan = bonded(make_site(dipped, abuts=walk, cells=(4, 12)), no_panels, exact)
    assert len(plan.creases) == 1
    rim = [g for g in plan.grades if g.y_mm == 0.0]
    assert min(g.thickness_mm for g in plan.grades) == pytest.approx(2 * IN)
    # 1:12 over 12 in lowers the rim by 1 in less what 2 % would have lowered it anyway
    assert rim[0].thickness_mm == pytest.approx(4 * IN - (1 * IN - 0.02 * 12 * IN))
    slope = next(r for r in plan.requirements if r.name.startswith("fall away"))
    assert slope.room >= -1e-9
    free = bonded(make_site(dipped, cells=(4, 12)), no_panels, exact)
    assert free.creases == ()


def test_basis_is_centred_on_the_slab(make_site, no_panels, exact) -> None:
    field, levels = make_site(lambda x, y: 0 * x)
    site = describe_site(field, levels, (), no_panels, exact)
    basis = basis_for(site, ())
    assert basis.centre == pytest.approx([10 * FT, 6 * FT])
    assert basis.scale_mm == pytest.approx(20 * FT)


def test_round_an_outside_corner_of_the_house_the_surface_gets_a_hip(
    make_site, no_panels, exact, clearance
) -> None:
    """2 % from each wall; one plane would fall 2.83 % at the door, over the 1/4 in per ft of a landing."""
    outline = [(0, 0), (24 * FT, 0), (24 * FT, 9 * FT), (9 * FT, 9 * FT), (9 * FT, 24 * FT), (0, 24 * FT)]
    houses = {2: Abuts.HOUSE, 3: Abuts.HOUSE}
    door = clearance(HeightKind.DOOR_SILL, (15 * FT, 9 * FT), 12 * IN, "door")
    site = make_site(lambda x, y: 0 * x, outline=outline, abuts=houses, cells=(8, 8))
    one_plane = exact.with_values(most_creases=0)
    assert bonded(site, no_panels, one_plane).fall == pytest.approx(0.02 * np.sqrt(2))
    assert "landing" in bonded(site, no_panels, one_plane, [door]).conflicts[0]
    plan = bonded(site, no_panels, exact, [door])
    assert plan.conflicts == ()
    (hip,) = plan.creases
    assert hip.bend == pytest.approx(-0.02 * np.sqrt(2))
    (x0, y0), (x1, y1) = hip.start_mm, hip.end_mm
    assert abs((y1 - y0) - (x1 - x0)) < 1.0
    assert plan.fall == pytest.approx(0.02)


def test_in_an_inside_corner_of_the_house_it_gets_a_valley(make_site, no_panels, exact, clearance) -> None:
    corner = {2: Abuts.HOUSE, 3: Abuts.HOUSE}
    door = clearance(HeightKind.DOOR_SILL, (4 * FT, 9 * FT), 12 * IN, "door")
    site = make_site(lambda x, y: 0 * x, size=(9, 9), abuts=corner, cells=(6, 6))
    plan = bonded(site, no_panels, exact, [door])
    assert plan.conflicts == ()
    (valley,) = plan.creases
    assert valley.bend == pytest.approx(0.02 * np.sqrt(2))
    assert {round(v) for v in (*valley.start_mm, *valley.end_mm)} == {0, round(9 * FT)}


def test_creases_that_help_only_together_are_found(make_site, no_panels, exact, clearance) -> None:
    """A court 16 ft wide with a door in each of the facing walls: a valley, level enough at both landings."""
    court = {0: Abuts.HOUSE, 2: Abuts.HOUSE}
    doors = [
        clearance(HeightKind.DOOR_SILL, (10 * FT, 0.0), 9 * IN, "south door"),
        clearance(HeightKind.DOOR_SILL, (10 * FT, 16 * FT), 9 * IN, "north door"),
    ]
    site = make_site(lambda x, y: 0 * x, size=(20, 16), abuts=court, cells=(4, 4))
    plan = bonded(site, no_panels, exact.with_values(fall_plain=0.005), doors)
    assert plan.conflicts == ()
    assert len(plan.creases) == 1
