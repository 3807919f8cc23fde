"""What each option would leave: thickness, slopes, heights."""

from __future__ import annotations

from dataclasses import replace

import pytest
from invented_slab import Slab

from analyzer.rate.findings import compare
from analyzer.rate.limits import load_limits
from analyzer.records import EdgeSlope
from analyzer.terms import Option, Verdict

B, U, R = Option.OVERLAY_BONDED, Option.OVERLAY_UNBONDED, Option.REMOVAL


@pytest.mark.parametrize(
    ("option", "limit", "minimum_in"),
    [
        (B, "CPTECH-BONDED-RANGE.min", 2.0),
        (U, "TOOL-UNBONDED-FLATWORK", 4.0),
        (R, "IRC-SLAB-MIN", 3.5),
    ],
)
def test_least_thickness_of_each_regime(option: Option, limit: str, minimum_in: float) -> None:
    name = f"{limit}@new concrete/{option}"
    thin = {**Slab().thickness_min_mm, option: (minimum_in - 0.25) * 25.4}
    assert replace(Slab(), thickness_min_mm=thin).by_id()[name].verdict is Verdict.EXCEEDS
    thick = {**Slab().thickness_min_mm, option: (minimum_in + 0.25) * 25.4}
    assert replace(Slab(), thickness_min_mm=thick).by_id()[name].verdict is Verdict.WITHIN


def test_planned_slopes_are_exact() -> None:
    found = replace(Slab(), planned_fall=0.02).by_id()
    after = found[f"IRC-R401-3@edge C-D/{B}"]
    assert (after.u, after.verdict) == (0.0, Verdict.WITHIN)
    assert after.value == pytest.approx(2.0)
    less = replace(Slab(), planned_fall=0.0199).by_id()
    assert less[f"IRC-R401-3@edge C-D/{B}"].verdict is Verdict.EXCEEDS
    back = replace(Slab(), planned_fall=-0.01).by_id()
    assert back[f"TOOL-FALL-REVERSED@edge C-D/{R}"].verdict is Verdict.EXCEEDS


def test_landing_slope_only_where_there_is_a_door() -> None:
    # IRC R311.3 (from memory): 1/4 in per ft = 2.083 % at a landing.
    name = f"IRC-LANDING-SIZE-SLOPE@slab/{B}"
    assert replace(Slab(), planned_fall=0.25 / 12).by_id()[name].verdict is Verdict.WITHIN
    assert replace(Slab(), planned_fall=0.022).by_id()[name].verdict is Verdict.EXCEEDS
    assert name not in replace(Slab(), clearances=()).by_id()


def test_a_plan_without_levels_has_no_thickness() -> None:
    slab = Slab()
    plans = tuple(replace(plan, levels_known=False, plane=None, fall=None) for plan in slab.plans())
    found = compare(slab.distress(), slab.layout(), None, slab.clearances, plans, slab.field(), load_limits())
    by_id = {f.finding_id: f for f in found}
    assert by_id[f"CPTECH-BONDED-RANGE.min@new concrete/{B}"].verdict is Verdict.NOT_DETERMINED
    assert by_id[f"IRC-R401-3@edge C-D/{B}"].verdict is Verdict.NOT_DETERMINED
    assert by_id[f"IRC-LANDING-SIZE-SLOPE@slab/{B}"].verdict is Verdict.NOT_DETERMINED


def test_a_bent_surface_is_judged_edge_by_edge_and_at_its_landings() -> None:
    slab = Slab()
    plans = tuple(
        replace(
            plan,
            edges=tuple(EdgeSlope(e.name, e.abuts, 0.02, 0.0) for e in slab.field().edges),
            landings=(("door", 0.0205),),
            plane=(0.0, -0.05, 0.0),
            fall=0.05,
        )
        for plan in slab.plans()
    )
    found = compare(slab.distress(), slab.layout(), None, slab.clearances, plans, slab.field(), load_limits())
    by_id = {f.finding_id: f for f in found}
    assert by_id[f"IRC-R401-3@edge C-D/{B}"].verdict is Verdict.WITHIN
    assert by_id[f"IRC-LANDING-SIZE-SLOPE@slab/{B}"].value == pytest.approx(0.0205 * 12)  # in per ft
