"""The new slab: where it lies, how thick, what binds it from both sides."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from analyzer.propose import plan_grades
from analyzer.propose.replacement import replacement_thickness
from analyzer.records import DesignChoices, SiteUse
from analyzer.terms import Abuts, HeightKind, Option, Use
from analyzer.units import MM_PER_FT, MM_PER_IN, Reading

IN = MM_PER_IN
HOUSE_Y = 12 * MM_PER_FT


def new_slab(site, layout, clearances=(), rules=None):
    field, levels = site
    plan = plan_grades(levels, tuple(clearances), field, layout, rules)[2]
    assert plan.option is Option.REMOVAL
    return plan


def test_thickness_by_use_or_as_typed(make_site, exact) -> None:
    def thickness(**more) -> float:
        return replacement_thickness(make_site(lambda x, y: 0 * x, **more)[0], exact)[0] / IN

    # common practice, no source: 4 in for feet, more where vehicles stand
    assert thickness() == pytest.approx(4)
    assert thickness(site=SiteUse(use=Use.CAR)) == pytest.approx(5)
    assert thickness(site=SiteUse(use=Use.TRUCK)) == pytest.approx(6)
    typed = DesignChoices(replacement_thickness=Reading(4.5 * IN, None, "4 1/2 in"))
    assert thickness(design=typed) == pytest.approx(4.5)


def test_a_good_old_plane_is_kept(make_site, no_panels, exact) -> None:
    plan = new_slab(make_site(lambda x, y: 0.03 * y + 12.0), no_panels, rules=exact)
    assert plan.plane == pytest.approx((0.0, 0.03, 12.0), abs=1e-6)
    assert plan.thickness_min_mm == plan.thickness_max_mm == pytest.approx(4 * IN)


def test_a_settled_corner_does_not_pull_the_new_plane_down(make_site, no_panels, exact) -> None:
    def sunk(x, y):
        return 0.025 * y - np.where((x < 100) & (y < 100), 80.0, 0.0)

    plan = new_slab(make_site(sunk, cells=(6, 6)), no_panels, rules=exact)
    assert plan.plane == pytest.approx((0.0, 0.025, 0.0), abs=1e-6)


def test_a_flat_slab_is_turned_to_fall_about_its_middle(make_site, no_panels, exact) -> None:
    """Least mean distance from a level surface at 2 %: the plane through the middle line (by symmetry)."""
    plan = new_slab(make_site(lambda x, y: 0 * x, cells=(8, 8)), no_panels, rules=exact)
    a, b, c = plan.plane
    assert (a, b) == (pytest.approx(0.0, abs=1e-9), pytest.approx(0.02))
    assert b * HOUSE_Y / 2 + c == pytest.approx(0.0, abs=0.02 * HOUSE_Y / 8)


def test_door_and_flight_hold_it_from_both_sides(make_site, no_panels, clearance, exact) -> None:
    low = make_site(lambda x, y: 0.02 * y)
    door = clearance(HeightKind.DOOR_SILL, (3000.0, HOUSE_Y), 10 * IN, "door")
    plan = new_slab(low, no_panels, [door], exact)
    assert plan.conflicts == ()
    # IRC R311.3.2: not more than 7 3/4 in below the threshold (read as quoted)
    assert plan.heights_after[0].after_mm <= 7.75 * IN + 1e-6
    flight = [
        clearance(HeightKind.RISER, (3000.0, HOUSE_Y), rise * IN, f"r{k}", flight="porch", order=k)
        for k, rise in ((1, 5.0), (2, 7.0))
    ]
    plan = new_slab(low, no_panels, flight, exact)
    assert plan.heights_after[0].after_mm == pytest.approx(6.625 * IN)  # 7 - 3/8 in, IRC R311.7.5.1


def test_a_walk_is_met_flush_where_that_can_be(make_site, no_panels, clearance, exact) -> None:
    site = make_site(lambda x, y: 0.02 * y)
    walk = clearance(HeightKind.ADJOINING_WALK, (3000.0, 0.0), 1 * IN, "lane")
    plan = new_slab(site, no_panels, [walk], exact)
    assert abs(plan.heights_after[0].after_mm) <= 0.25 * IN + 1e-6  # ADA 303.2 as a yardstick


def test_what_cannot_be_is_told(make_site, no_panels, clearance, exact) -> None:
    site = make_site(lambda x, y: 0.02 * y)
    items = [
        clearance(HeightKind.DOOR_SILL, (3000.0, HOUSE_Y), 9 * IN, "door"),
        clearance(HeightKind.WEEP_SCREED, (3000.0, HOUSE_Y), 2 * IN, "north wall"),
    ]
    plan = new_slab(site, no_panels, items, exact)
    assert len(plan.conflicts) == 1
    assert "north wall" in plan.conflicts[0]
    assert "door" in plan.conflicts[0]
    assert len(plan.relaxations) == 2
    # door asks for a rise of 1 1/4 in, the screed for none: either gives way by that
    assert all('1-1/4"' in r for r in plan.relaxations)


@pytest.mark.parametrize("seed", range(3))
def test_nearness_against_an_independent_formulation(make_site, no_panels, exact, seed: int) -> None:
    bumps = np.random.default_rng(seed).normal(0, 15, 49)
    free = dict.fromkeys(range(4), Abuts.FREE)
    site = make_site(lambda x, y: 0.03 * y + bumps[: len(x)], cells=(6, 6), abuts=free)
    plan = new_slab(site, no_panels, rules=exact)
    _, levels = site
    xyz = np.array([(s.x_mm, s.y_mm, s.z_mm) for s in levels.stations])
    weight = np.zeros(len(xyz))
    for t in levels.triangles:
        (x0, y0), (x1, y1), (x2, y2) = xyz[list(t), :2]
        weight[list(t)] += abs((x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)) / 6.0

    def off(p) -> float:
        return float(weight @ np.abs(p[0] * xyz[:, 0] + p[1] * xyz[:, 1] + p[2] - xyz[:, 2]))

    starts = [np.array(plan.plane), np.array([0.0, 0.03, 0.0]), np.array(levels.plane)]
    best = min(
        (minimize(off, s, method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1.0, "maxiter": 4000}).fun)
        for s in starts
    )
    assert off(plan.plane) <= 1.02 * best
