"""Rounded heights: every one a whole step, every requirement judged again, impossibility said."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from analyzer.propose import plan_grades
from analyzer.propose.setout import _Pair, _round
from analyzer.records import DesignChoices
from analyzer.terms import Goes, HeightKind, UnitSystem
from analyzer.units import MM_PER_FT, MM_PER_IN

FT, IN = MM_PER_FT, MM_PER_IN
HOUSE_Y = 12 * FT
STEP = IN / 16


def bonded(site, layout, rules, clearances=()):
    field, levels = site
    return plan_grades(levels, tuple(clearances), field, layout, rules)[0]


def test_heights_are_whole_sixteenths_and_keep_every_limit(make_site, no_panels, exact, clearance) -> None:
    rng = np.random.default_rng(3)
    bumps = rng.normal(0, 4, 20)
    door = clearance(HeightKind.DOOR_SILL, (10 * FT, HOUSE_Y), 9 * IN, "door")
    plan = bonded(make_site(lambda x, y: 0.013 * y + bumps[: len(x)]), no_panels, exact, [door])
    setout = plan.setout
    assert setout is not None
    assert setout.satisfied
    assert setout.step_mm == pytest.approx(STEP)
    for p in setout.points:
        assert p.rounded_mm / STEP == pytest.approx(round(p.rounded_mm / STEP), abs=1e-6)
        assert abs(p.rounded_mm - p.exact_mm) <= STEP + 1e-6
        assert p.thickness_mm == pytest.approx(p.rounded_mm - p.old_mm)
        assert p.thickness_mm >= 2 * IN - 1e-6
    by_name = {p.name: p for p in setout.points}
    rise = by_name["door"].rounded_mm - by_name["landing end at door"].rounded_mm
    # 36 in at 2.000 to 2.083 %: 0.72 to 0.75 in; of the sixteenths only 12/16 in does it
    assert rise == pytest.approx(0.75 * IN)
    assert {"wall", "form", "station"} >= {p.kind for p in setout.points}
    assert all(r.room_rounded is not None for r in plan.requirements)
    assert all(r.room_rounded >= -1e-9 for r in plan.requirements)


def test_metric_jobs_are_set_out_in_millimetres(make_site, no_panels, exact) -> None:
    import dataclasses

    field, levels = make_site(lambda x, y: 0.013 * y)
    field = dataclasses.replace(field, job=dataclasses.replace(field.job, units=UnitSystem.METRIC))
    setout = bonded((field, levels), no_panels, exact).setout
    assert setout.step_mm == 1.0
    assert all(p.rounded_mm == round(p.rounded_mm) for p in setout.points)


def test_where_no_sixteenth_does_it_the_plan_says_so(make_site, no_panels, exact, clearance) -> None:
    """A landing only 15 in deep: 2.000 to 2.083 % is 0.300 to 0.3125 in; 4/16 is too little, 5/16 just fits.

    At 14 in it is 0.280 to 0.2917 in, between 4/16 and 5/16 in: no sixteenth.
    """
    door = clearance(HeightKind.DOOR_SILL, (10 * FT, HOUSE_Y), 9 * IN, "door")
    for depth, fits in ((15.0, True), (14.0, False)):
        rules = exact.with_values(landing_depth=depth * IN)
        plan = bonded(make_site(lambda x, y: 0.013 * y, cells=(4, 4)), no_panels, rules, [door])
        assert plan.conflicts == ()
        assert plan.setout.satisfied is fits, depth
        if not fits:
            assert any("No choice of whole steps of 1/16 in" in n for n in plan.setout.notes)
            assert any("landing at door" in n or "falls at least" in n for n in plan.setout.notes[1:])


@pytest.mark.parametrize("seed", range(8))
def test_rounding_finds_a_solution_exactly_when_brute_force_does(seed: int) -> None:
    rng = np.random.default_rng(seed)
    n, step = 6, 1.0
    exact = rng.uniform(0, 20, n)
    least, most = exact - rng.uniform(0.1, 2, n), exact + rng.uniform(0.1, 2, n)
    pairs = []
    for _ in range(5):
        i, j = (int(v) for v in rng.choice(n, 2, replace=False))
        slope = exact[i] - exact[j]
        pairs.append(_Pair(i, j, 1.0, slope - rng.uniform(0, 0.7), slope + rng.uniform(0, 0.7), "fall", None))
    rounded, found = _round(exact, least, most, pairs, step)
    possible = False
    for choice in itertools.product((0, 1), repeat=n):
        z = np.floor(exact) + choice
        free = [k for k in range(n) if k not in {i for p in pairs for i in (p.high, p.low)}]
        if not all(least[k] - 1e-9 <= z[k] <= most[k] + 1e-9 for k in range(n) if k not in free):
            continue
        if all(p.least - 1e-9 <= z[p.high] - z[p.low] <= p.most + 1e-9 for p in pairs):
            possible = True
    single = all(
        any(least[k] - 1e-9 <= math.floor(exact[k]) + b <= most[k] + 1e-9 for b in (0, 1)) for k in range(n)
    )
    assert found is (possible and single)
    if found:
        for p in pairs:
            assert p.least - 1e-6 <= rounded[p.high] - rounded[p.low] <= p.most + 1e-6


def test_thickness_just_at_its_minimum_is_rounded_up(make_site, no_panels, exact) -> None:
    site = make_site(lambda x, y: 0.02 * y + 0.3, design=DesignChoices(fall=0.02))
    plan = bonded(site, no_panels, exact)
    assert plan.thickness_min_mm == pytest.approx(2 * IN)
    assert min(p.thickness_mm for p in plan.setout.points) >= 2 * IN - 1e-9


def test_what_no_site_work_mends_is_not_set_out(make_site, no_panels, exact, clearance) -> None:
    steep = make_site(lambda x, y: 0.02 * y, design=DesignChoices(fall=0.03))
    door = clearance(HeightKind.DOOR_SILL, (10 * FT, HOUSE_Y), 9 * IN, "door")
    plan = bonded(steep, no_panels, exact, [door])
    assert plan.conflicts
    assert plan.setout is None
    flight = [
        clearance(HeightKind.RISER, (10 * FT, HOUSE_Y), 7 * IN, f"r{k}", flight="porch", order=k)
        for k in (1, 2)
    ]
    plan = bonded(make_site(lambda x, y: 0.02 * y), no_panels, exact, flight)
    assert plan.conflicts
    assert plan.setout is not None
    assert not plan.setout.satisfied
    assert any("rebuild the steps" in n for n in plan.setout.notes)


def test_a_step_down_holds_the_rounded_height_from_above(make_site, no_panels, exact, clearance) -> None:
    # Geometry: what is poured on the slab is added to the rise; IRC R311.7.5.1, 7 3/4 in (read as quoted).
    step = clearance(HeightKind.RISER, (10 * FT, 0.0), 5.73 * IN, "step", goes=Goes.DOWN)
    plan = bonded(make_site(lambda x, y: 0.02 * y), no_panels, exact, [step])
    assert plan.setout is not None
    rise = next(h for h in plan.requirements if h.name == "riser step, greatest height")
    assert rise.room == pytest.approx(0.02 * IN, abs=1e-3)
    assert rise.room_rounded is not None
    at = min(plan.setout.points, key=lambda p: (p.x_mm - 10 * FT) ** 2 + p.y_mm**2)
    assert rise.room_rounded == pytest.approx(7.75 * IN - 5.73 * IN - at.thickness_mm, abs=1e-3)
