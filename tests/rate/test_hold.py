"""One value against its limits: units of the source, missing values, lower bounds, what binds."""

from __future__ import annotations

from dataclasses import replace

import pytest
from invented_slab import Slab

from analyzer.rate.hold import UNKNOWN, Known, Scope, answered, below, hold
from analyzer.rate.limits import load_limits
from analyzer.records import SiteUse
from analyzer.terms import Answer, Grade, UnitSystem, Use, Verdict
from analyzer.units import MM_PER_IN

TABLE = load_limits()


def scope(use: Use | None = Use.FOOT, public: Answer = Answer.NO) -> Scope:
    return Scope(TABLE, replace(Slab(), site=SiteUse(use, public, Answer.NO, Answer.NO)).field())


def one(
    known: Known, limit: str = "IRC-RISER.height", quantity: str = "riser_height", where: Scope | None = None
):  # type: ignore[no-untyped-def]
    found = hold(where or scope(), quantity, "s", "The step", known)
    return next(f for f in found if f.limit.limit_id == limit)


def test_compared_in_the_unit_of_the_source() -> None:
    # 7 3/4 in is 196.85 mm; codes print 196 mm. A step of 196.5 mm is within the code's own 7 3/4 in.
    finding = one(Known(196.5))
    assert finding.unit == "in"
    assert finding.value == pytest.approx(196.5 / 25.4)
    assert finding.verdict is Verdict.WITHIN


def test_a_missing_value_is_never_a_pass() -> None:
    finding = one(UNKNOWN)
    assert (finding.value, finding.u, finding.probability) == (None, None, None)
    assert finding.verdict is Verdict.NOT_DETERMINED
    assert finding.grade is Grade.UNKNOWN
    assert "not measured" in finding.statement


def test_straddling_is_not_determined() -> None:
    finding = one(Known(7.75 * MM_PER_IN, 0.1 * MM_PER_IN))
    assert finding.probability == pytest.approx(0.5)
    assert finding.verdict is Verdict.NOT_DETERMINED


def test_a_lower_bound_can_exceed_but_not_pass() -> None:
    few = Known(0.05, 0.001, at_least=True)
    assert one(few, "PRE-OVERLAY-REPAIR.no-bond", "hollow_fraction").verdict is Verdict.NOT_DETERMINED
    many = replace(few, value=0.5)
    assert one(many, "PRE-OVERLAY-REPAIR.no-bond", "hollow_fraction").verdict is Verdict.EXCEEDS


def test_a_limit_that_may_not_apply_can_pass_but_not_fail() -> None:
    tall = Known(10 * MM_PER_IN, 0.1, applies=0.5)
    assert one(tall).verdict is Verdict.NOT_DETERMINED
    assert one(replace(tall, value=5 * MM_PER_IN)).verdict is Verdict.WITHIN


def test_below_is_a_rectangular_value() -> None:
    known = below(2.0)
    # JCGM 100 4.3.7 (from memory): half-width a = 1 gives a / sqrt(3).
    assert known.value == 1.0
    assert known.u == pytest.approx(1 / 3**0.5)


def test_answers() -> None:
    assert answered(Answer.UNKNOWN) is UNKNOWN
    assert answered(Answer.YES).value == 1.0
    assert answered(Answer.NO).value == 0.0
    assert one(answered(Answer.YES), "TREE-ROOTS", "tree_roots").verdict is Verdict.EXCEEDS
    assert one(answered(Answer.NO), "TREE-ROOTS", "tree_roots").verdict is Verdict.WITHIN


@pytest.mark.parametrize(
    ("use", "binds"), [(Use.FOOT, False), (None, False), (Use.CAR, True), (Use.TRUCK, True)]
)
def test_road_limits_bind_under_wheels_only(use: Use | None, binds: bool) -> None:
    found = hold(scope(use), "crack_width", "C1", "w", Known(5.0), term="transverse cracking")
    assert {f.binding for f in found} == {binds}


def test_access_rules_bind_on_public_routes_only() -> None:
    private = hold(scope(), "level_change", "s", "w", Known(20.0))
    assert not any(f.binding for f in private if f.limit.limit_id.startswith("ADA"))
    public = hold(scope(public=Answer.YES), "level_change", "s", "w", Known(20.0))
    assert all(f.binding for f in public if f.limit.limit_id.startswith("ADA"))
    # A rule for public routes alone is not even mentioned on a private slab, but is where nobody said.
    assert not [f for f in hold(scope(), "riser_height", "s", "w", Known(100.0)) if "IBC" in f.limit.limit_id]
    unsaid = hold(scope(public=Answer.UNKNOWN), "riser_height", "s", "w", Known(100.0))
    assert {f.binding for f in unsaid if "IBC" in f.limit.limit_id} == {False}


def test_statements_speak_in_the_units_of_the_job() -> None:
    # 1 in = 25.4 mm exactly: 4.7625 mm is 3/16 in, 15.875 mm is 5/8 in, 15 ft are 4.572 m.
    here = scope()
    field = replace(here.field, job=replace(here.field.job, units=UnitSystem.METRIC))
    there = replace(here, field=field)
    width = {"limit": "NJ-WARRANTY-1/4.width", "quantity": "crack_width_any"}
    road = {"limit": "LTPP-JCP-TRANSVERSE.width-moderate", "quantity": "crack_width"}
    low = {"limit": "TOL-ELEVATION", "quantity": "settlement"}
    apart = {"limit": "JOINT-24-36.max", "quantity": "joint_spacing"}
    assert "0.19 in (4.8 mm); limit: at or over 0.12 in (3 mm)" in one(Known(4.7625), **road).statement
    assert ": 4.8 mm; limit: at or over 3 mm" in one(Known(4.7625), where=there, **road).statement
    assert ": 0.19 in; limit: over 0.25 in" in one(Known(4.7625), **width).statement
    assert (
        "15.9 mm (0.62 in); limit: over 19.1 mm (0.75 in)" in one(Known(15.875), where=there, **low).statement
    )
    assert "4.57 m (15 ft); limit: over 4.57 m (15 ft)" in one(Known(4572.0), where=there, **apart).statement


@pytest.mark.parametrize(
    ("quantity", "limit", "says"),
    [
        ("door_weather_step", "DOOR-SILL", "the slab stands 0.44 in ABOVE the sill, and water can run in"),
        ("garage_step", "IRC-GARAGE", "the slab stands 0.44 in ABOVE the garage floor"),
    ],
)
def test_a_clearance_below_zero_says_what_stands_above_what(quantity: str, limit: str, says: str) -> None:
    low = one(Known(-7 / 16 * MM_PER_IN), limit, quantity)
    assert says in low.statement
    assert low.value == pytest.approx(-7 / 16)
    assert "ABOVE" not in one(Known(7 / 16 * MM_PER_IN), limit, quantity).statement
