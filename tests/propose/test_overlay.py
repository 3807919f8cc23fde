"""Overlay plans: closed forms, an independent formulation, height rules, conflicts."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize

from analyzer.errors import FieldBookError
from analyzer.observe import read_clearances
from analyzer.propose import plan_grades
from analyzer.propose.design import load_design
from analyzer.records import Clearance, DesignChoices, HeightEntry, SiteUse
from analyzer.terms import Abuts, Answer, Goes, HeightKind, Option, Use
from analyzer.units import MM_PER_FT, MM_PER_IN, Reading

IN = MM_PER_IN
HOUSE_Y = 12 * MM_PER_FT


def bonded(site, layout, clearances=(), rules=None):
    field, levels = site
    return plan_grades(levels, tuple(clearances), field, layout, rules)[0]


def wedge(x, y):
    """The old slab of QTY-WEDGE: 0.48 in of fall over 12 ft, away from the house."""
    return 0.48 * IN * y / HOUSE_Y


def test_the_wedge_of_20_by_12_ft(make_site, no_panels, exact) -> None:
    """QTY-WEDGE, computed: 2.0 in at the far edge, 4.4 in at the house, mean 3.2 in, fall 2.88 in."""
    plan = bonded(make_site(wedge), no_panels, rules=exact)
    assert plan.conflicts == ()
    assert plan.thickness_min_mm == pytest.approx(2.0 * IN)
    assert plan.thickness_max_mm == pytest.approx(4.4 * IN)
    assert plan.thickness_mean_mm == pytest.approx(3.2 * IN)
    assert plan.fall == pytest.approx(0.02)
    assert plan.fall_direction_deg == pytest.approx(270.0)
    # CALC-FALL-2PC, computed: 2 % over 12 ft = 2.88 in
    at_house = [g.finished_mm for g in plan.grades if g.y_mm == pytest.approx(HOUSE_Y)]
    far = [g.finished_mm for g in plan.grades if g.y_mm == 0]
    assert max(at_house) - min(far) == pytest.approx(2.88 * IN)


def test_the_unbonded_overlay_is_4_in_at_its_thinnest(make_site, no_panels, exact) -> None:
    field, levels = make_site(wedge)
    plans = plan_grades(levels, (), field, no_panels, exact)
    assert [p.option for p in plans] == [Option.OVERLAY_BONDED, Option.OVERLAY_UNBONDED, Option.REMOVAL]
    assert plans[1].thickness_min_mm == pytest.approx(4.0 * IN)  # TOOL-UNBONDED-FLATWORK, judgement


@pytest.mark.parametrize("seed", range(5))
def test_least_concrete_against_an_independent_formulation(make_site, no_panels, exact, seed: int) -> None:
    """The same plane by scipy's SLSQP on (a, b, c) with the rules written out by hand."""
    rng = np.random.default_rng(seed)
    bumps = rng.normal(0, 6, 20)
    site = make_site(lambda x, y: 0.004 * y + 0.003 * x + bumps[: len(x)])
    plan = bonded(site, no_panels, rules=exact)
    _, levels = site
    xyz = np.array([(s.x_mm, s.y_mm, s.z_mm) for s in levels.stations])
    areas = np.zeros(len(xyz))
    for t in levels.triangles:
        (x0, y0), (x1, y1), (x2, y2) = xyz[list(t), :2]
        areas[list(t)] += abs((x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)) / 6.0

    def plane(p):
        return p[0] * xyz[:, 0] / 1000 + p[1] * xyz[:, 1] / 1000 + p[2]

    found = minimize(
        lambda p: float(areas @ (plane(p) - xyz[:, 2])) / areas.sum(),
        x0=[0.0, 30.0, 150.0],
        constraints=[
            {"type": "ineq", "fun": lambda p: plane(p) - xyz[:, 2] - 2 * IN},
            {"type": "ineq", "fun": lambda p: p[1] - 20.0},
        ],
        method="SLSQP",
        options={"maxiter": 500, "ftol": 1e-12},
    )
    assert found.success
    assert plan.thickness_mean_mm == pytest.approx(found.fun, abs=1e-3)


def test_no_plane_of_a_fine_grid_takes_less(make_site, no_panels, exact) -> None:
    """Brute force: every slope on a grid, lowered until it touches the least thickness."""
    rng = np.random.default_rng(11)
    bumps = rng.normal(0, 5, 20)
    site = make_site(lambda x, y: 0.005 * y + bumps[: len(x)])
    plan = bonded(site, no_panels, rules=exact)
    _, levels = site
    old = np.array([(s.x_mm, s.y_mm, s.z_mm) for s in levels.stations])
    grades = {(g.x_mm, g.y_mm): g for g in plan.grades}
    assert len(grades) == len(old)
    best = np.inf
    for a in np.linspace(-0.01, 0.01, 81):
        for b in np.linspace(0.02, 0.03, 41):
            flat = a * old[:, 0] + b * old[:, 1]
            lift = (old[:, 2] + 2 * IN - flat).max()
            mean = a * old[:, 0].max() / 2 + b * old[:, 1].max() / 2 + lift
            best = min(best, mean)
    a, b, c = plan.plane
    ours = a * old[:, 0].max() / 2 + b * old[:, 1].max() / 2 + c
    assert ours <= best + 1e-6
    assert ours == pytest.approx(best, abs=0.6)


def test_weep_screed_of_the_sheet_fails_and_1_5_in_would_fit(make_site, no_panels, clearance, exact) -> None:
    """CALC-WEEP, computed: screed 3.5 in up, overlay 2.0 in leaves 1.5 in < 2 in: at most 1.5 in there."""
    flat = make_site(lambda x, y: 0.02 * y)
    weep = clearance(HeightKind.WEEP_SCREED, (1000.0, HOUSE_Y), 3.5 * IN, "north wall")
    plan = bonded(flat, no_panels, [weep], exact)
    assert len(plan.conflicts) == 1
    assert "north wall" in plan.conflicts[0]
    assert "IRC-WEEP" in plan.conflicts[0]
    assert "thick everywhere" in plan.conflicts[0]
    (after,) = plan.heights_after
    assert after.after_mm == pytest.approx(1.5 * IN, abs=0.01)
    assert any('1/2"' in r for r in plan.relaxations)
    thinner = bonded(flat, no_panels, [weep], exact.with_values(bonded_min=1.5 * IN))
    assert thinner.conflicts == ()
    assert thinner.heights_after[0].after_mm == pytest.approx(2.0 * IN)


def test_door_examples_of_the_sheet(make_site, no_panels, clearance, exact) -> None:
    """CALC-DOOR, computed: 7.75 in less 2.25 in leaves 5.50 in; 3.0 in less 3.0 in leaves no weather step."""
    flat = make_site(lambda x, y: 0.02 * y)
    high = clearance(HeightKind.DOOR_SILL, (3000.0, HOUSE_Y), 7.75 * IN, "back door")
    plan = bonded(flat, no_panels, [high], exact.with_values(bonded_min=2.25 * IN))
    assert plan.conflicts == ()
    assert plan.heights_after[0].after_mm == pytest.approx(5.50 * IN)
    low = clearance(HeightKind.DOOR_SILL, (3000.0, HOUSE_Y), 3.0 * IN, "back door")
    plan = bonded(flat, no_panels, [low], exact.with_values(bonded_min=3.0 * IN))
    assert plan.heights_after[0].after_mm == pytest.approx(0.0, abs=0.01)
    assert "back door" in plan.conflicts[0]


def test_riser_break_of_the_sheet(make_site, no_panels, clearance, exact) -> None:
    """CALC-RISER-BREAK, computed: risers of 7.50 in, overlay 2.00 in: bottom 5.50, spread 2.00 > 3/8 in."""
    flat = make_site(lambda x, y: 0.02 * y)
    flight = [
        clearance(HeightKind.RISER, (3000.0, HOUSE_Y), 7.5 * IN, f"r{k}", flight="porch", order=k)
        for k in (1, 2, 3)
    ]
    plan = bonded(flat, no_panels, flight, exact)
    assert "flight porch" in plan.conflicts[0]
    rises = [h.after_mm for h in plan.heights_after]
    assert rises == pytest.approx([5.5 * IN, 7.5 * IN, 7.5 * IN], abs=0.01)
    # With 3/8 in of overlay at its foot the flight would still be even enough (IRC R311.7.5.1).
    assert bonded(flat, no_panels, flight, exact.with_values(bonded_min=0.375 * IN)).conflicts == ()
    assert bonded(flat, no_panels, flight, exact.with_values(bonded_min=0.376 * IN)).conflicts != ()


def test_an_overlay_makes_the_first_riser_down_higher(make_site, no_panels, clearance, exact) -> None:
    """Steps that go down from the slab: pouring t on their upper landing adds t to the top riser only.

    Geometry; limits IRC R311.7.5.1, 7 3/4 in and 3/8 in of spread (read as quoted).
    """
    flat = make_site(lambda x, y: 0.02 * y)

    def flight(rise_in: float, **more: object) -> list[Clearance]:
        return [
            clearance(
                HeightKind.RISER, (3000.0, 0.0), rise_in * IN, f"r{k}", flight="yard", order=k,
                goes=Goes.DOWN, **more,
            )
            for k in (1, 2, 3)
        ]  # fmt: skip

    plan = bonded(flat, no_panels, flight(6.5), exact)
    assert [h.after_mm for h in plan.heights_after] == pytest.approx([8.5 * IN, 6.5 * IN, 6.5 * IN], abs=0.01)
    assert "flight yard" in plan.conflicts[0]
    assert bonded(flat, no_panels, flight(6.5), exact.with_values(bonded_min=0.375 * IN)).conflicts == ()
    assert bonded(flat, no_panels, flight(6.5), exact.with_values(bonded_min=0.376 * IN)).conflicts != ()
    # A first riser that is 2 in too low is made even by 2 in of overlay.
    low = [replace(r, height_mm=4.5 * IN) if r.order == 1 else r for r in flight(6.5)]
    mended = bonded(flat, no_panels, low, exact)
    assert mended.conflicts == ()
    assert [h.after_mm for h in mended.heights_after] == pytest.approx([6.5 * IN] * 3, abs=0.01)
    # One step alone: 5 3/4 in and 2 in are just the 7 3/4 in that a riser may have.
    alone = clearance(HeightKind.RISER, (3000.0, 0.0), 5.75 * IN, "step", goes=Goes.DOWN)
    assert bonded(flat, no_panels, [alone], exact).conflicts == ()
    higher = replace(alone, height_mm=5.76 * IN)
    assert "step" in bonded(flat, no_panels, [higher], exact).conflicts[0]
    # Without levels the overlay is one thickness, and the sign the same.
    unread = plan_grades(None, tuple(flight(6.5)), flat[0], no_panels, exact)[0]
    assert [h.after_mm for h in unread.heights_after] == pytest.approx([8.5 * IN, 6.5 * IN, 6.5 * IN])


def test_the_slope_window_at_a_door(make_site, no_panels, clearance, exact) -> None:
    """CALC-SLOPE-WINDOW, computed: 2.000 % to 2.083 % beside an exterior door."""
    door = clearance(HeightKind.DOOR_SILL, (3000.0, HOUSE_Y), 9 * IN, "door")
    for chosen, fits in ((0.02, True), (0.0208, True), (0.0209, False), (0.03, False)):
        site = make_site(wedge, design=DesignChoices(fall=chosen))
        plan = bonded(site, no_panels, [door], exact)
        assert (plan.conflicts == ()) is fits, chosen
        if fits:
            assert plan.fall == pytest.approx(chosen)
        else:
            assert "landing" in plan.conflicts[0]


def test_thickness_keeps_two_standard_uncertainties_to_spare(make_site, no_panels) -> None:
    rules = load_design()
    plan = bonded(make_site(wedge, u_mm=2.0), no_panels)
    # root-sum-square, NIST TN 1297 5.1: reading 2 mm, strike-off 1/8 in half-width rectangular
    u = math.hypot(2.0, rules["setout_half_width"] / math.sqrt(3))
    assert plan.thickness_min_u_mm == pytest.approx(u)
    assert plan.thickness_min_mm == pytest.approx(2 * IN + 2 * u)
    assert plan.requirements[0].room == pytest.approx(2 * u)


def test_where_there_is_no_room_to_spare_the_plan_says_so(make_site, no_panels, clearance) -> None:
    site = make_site(lambda x, y: 0.02 * y, u_mm=2.0)
    siding = clearance(HeightKind.SIDING, (1000.0, HOUSE_Y), 4.1 * IN, "boards")
    plan = bonded(site, no_panels, [siding])
    assert plan.conflicts == ()
    assert any("no room" in a for a in plan.assumptions)
    assert plan.thickness_min_mm >= 2 * IN - 1e-6
    assert plan.heights_after[0].after_mm >= 2 * IN - 1e-6


def test_fall_goes_where_the_book_says_or_where_it_takes_least(make_site, no_panels, exact) -> None:
    free = {0: Abuts.FREE, 1: Abuts.FREE, 2: Abuts.FREE, 3: Abuts.FREE}
    plan = bonded(make_site(lambda x, y: -0.02 * x, abuts=free), no_panels, rules=exact)
    assert plan.fall_direction_deg == pytest.approx(0.0, abs=1e-6)
    assert plan.thickness_max_mm == pytest.approx(2 * IN)
    toward = DesignChoices(fall_toward="A-B", fall=0.015)
    plan = bonded(make_site(lambda x, y: 0 * x, abuts=free, design=toward), no_panels, rules=exact)
    assert plan.fall_direction_deg == pytest.approx(270.0)
    assert plan.fall == pytest.approx(0.015)
    with pytest.raises(FieldBookError, match="no edge, corner or drain"):
        bonded(make_site(wedge, design=DesignChoices(fall_toward="Z")), no_panels)


def test_a_fall_under_2_percent_is_kept_and_cited_not_refused(make_site, no_panels, exact) -> None:
    plan = bonded(make_site(wedge, design=DesignChoices(fall=0.0125)), no_panels, rules=exact)
    assert plan.conflicts == ()
    assert plan.fall == pytest.approx(0.0125)
    assert any("R401.3" in n for n in plan.notes)


def test_a_concave_slab_around_a_house_corner_falls_away_from_both_walls(make_site, no_panels, exact) -> None:
    outline = [(0, 0), (6000, 0), (6000, 3000), (3000, 3000), (3000, 6000), (0, 6000)]
    site = make_site(
        lambda x, y: 0 * x, outline=outline, abuts={2: Abuts.HOUSE, 3: Abuts.HOUSE}, cells=(6, 6)
    )
    plan = bonded(site, no_panels, rules=exact.with_values(most_creases=0))
    a, b, _ = plan.plane
    assert (a, b) == (pytest.approx(0.02), pytest.approx(0.02))
    assert plan.thickness_min_mm == pytest.approx(2 * IN)


def test_walk_drain_guard_and_post_are_told(make_site, no_panels, clearance, exact) -> None:
    flat = make_site(lambda x, y: 0.02 * y)
    items = [
        clearance(HeightKind.ADJOINING_WALK, (3000.0, 0.0), 0.0, "lane"),
        clearance(HeightKind.DRAIN, (3000.0, 1000.0), 0.0, "gully"),
        clearance(HeightKind.FREE_EDGE, (0.0, 1000.0), -29 * IN, "bank"),
        clearance(HeightKind.POST, (200.0, 200.0), 100.0, "lamp"),
        clearance(HeightKind.SIDING, (10.0, HOUSE_Y), None, "boards"),
    ]
    plan = bonded(flat, no_panels, items, exact)
    assert plan.conflicts == ()  # a walk that cannot be met flush on private ground refuses nothing
    text = " ".join(plan.notes)
    assert '2" over the adjoining walk' in text
    assert 'Raise the rim of gully by 2"' in text
    assert "guard" in text  # 29 + 2 in > 30 in, IRC R312.1, from memory
    assert 'covers 2" of post lamp' in text
    assert plan.heights_after[4].after_mm is None
    assert any("boards" in a for a in plan.assumptions)


def test_on_a_public_route_the_walk_and_the_cross_slope_bind(make_site, no_panels, clearance, exact) -> None:
    public = SiteUse(use=Use.FOOT, public_route=Answer.YES)
    site = make_site(lambda x, y: 0.02 * y, site=public)
    walk = clearance(HeightKind.ADJOINING_WALK, (3000.0, 0.0), 0.0, "lane")
    plan = bonded(site, no_panels, [walk], exact)
    assert "lane" in plan.conflicts[0]
    assert "ADA-303-3" in plan.conflicts[0]
    steep = make_site(lambda x, y: 0.02 * y, site=public, design=DesignChoices(fall=0.03))
    plan = bonded(steep, no_panels, [], exact)
    assert any("cross slope" in c for c in plan.conflicts)


def test_the_chosen_minimum_may_be_more_but_not_less(make_site, no_panels, exact) -> None:
    more = make_site(wedge, design=DesignChoices(overlay_min=Reading(3 * IN, None, "3 in")))
    assert bonded(more, no_panels, rules=exact).thickness_min_mm == pytest.approx(3 * IN)
    less = make_site(wedge, design=DesignChoices(overlay_min=Reading(1 * IN, None, "1 in")))
    plan = bonded(less, no_panels, rules=exact)
    assert plan.thickness_min_mm == pytest.approx(2 * IN)
    assert any("1 in is under the 2 in" in a for a in plan.assumptions)


def test_without_levels_nothing_is_claimed(make_site, no_panels, clearance) -> None:
    field, _ = make_site(wedge)
    items = (
        clearance(HeightKind.DOOR_SILL, (3000.0, HOUSE_Y), 4 * IN, "door"),
        clearance(HeightKind.SIDING, (3000.0, HOUSE_Y), None, "boards"),
    )
    plans = plan_grades(None, items, field, no_panels)
    assert [p.levels_known for p in plans] == [False] * 3
    for plan in plans:
        assert plan.plane is None
        assert plan.fall is None
        assert plan.grades == ()
        assert "No levels" in plan.assumptions[0]
        assert plan.heights_after[1].after_mm is None
    assert plans[0].heights_after[0].after_mm == pytest.approx(2 * IN)
    assert plans[2].heights_after[0].after_mm == pytest.approx(4 * IN)


def test_scaling_the_slab_scales_the_plan(make_site, no_panels, exact) -> None:
    rng = np.random.default_rng(8)
    bumps = rng.normal(0, 4, 20)
    one = bonded(make_site(lambda x, y: wedge(x, y) + bumps, size=(10, 6)), no_panels, rules=exact)
    doubled = exact.with_values(bonded_min=4 * IN, house_band=20 * MM_PER_FT)
    two = bonded(
        make_site(lambda x, y: 2 * wedge(x / 2, y / 2) + 2 * bumps, size=(20, 12)), no_panels, rules=doubled
    )
    assert two.thickness_mean_mm == pytest.approx(2 * one.thickness_mean_mm)
    assert two.plane[:2] == pytest.approx(one.plane[:2])


def test_typed_heights_reach_the_plan(make_site, no_panels, exact) -> None:
    entry = HeightEntry(HeightKind.DOOR_SILL, "door", (3000.0, HOUSE_Y), Reading(6 * IN, 1.0, "6 in"))
    field, levels = make_site(lambda x, y: 0.02 * y, heights=(entry,))
    plan = plan_grades(levels, read_clearances(field, levels), field, no_panels, exact)[0]
    assert plan.heights_after[0].after_mm == pytest.approx(4 * IN)
    u = math.hypot(1.0, exact["setout_half_width"] / math.sqrt(3))
    assert plan.heights_after[0].after_u_mm == pytest.approx(u)
