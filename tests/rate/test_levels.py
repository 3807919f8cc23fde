"""Slopes, ponding and flatness of the old surface."""

from __future__ import annotations

from dataclasses import replace

import pytest
from invented_slab import Slab, inches

from analyzer.rate.findings import compare
from analyzer.rate.limits import load_limits
from analyzer.records import EdgeEntry, GapEntry, Pond
from analyzer.terms import Abuts, Answer, Verdict


@pytest.mark.parametrize(
    ("fall", "code", "practice", "reversed_"),
    [
        (0.025, Verdict.WITHIN, Verdict.WITHIN, Verdict.WITHIN),
        (0.015, Verdict.EXCEEDS, Verdict.WITHIN, Verdict.WITHIN),  # 1 to 2 % warns and cites
        (0.006, Verdict.EXCEEDS, Verdict.EXCEEDS, Verdict.WITHIN),
        (-0.01, Verdict.EXCEEDS, Verdict.EXCEEDS, Verdict.EXCEEDS),
        (0.0203, Verdict.NOT_DETERMINED, Verdict.WITHIN, Verdict.WITHIN),  # measured: judged with its u
    ],
)
def test_slope_away_from_the_house(fall: float, code: Verdict, practice: Verdict, reversed_: Verdict) -> None:
    found = replace(Slab(), fall=fall).by_id()
    assert found["IRC-R401-3@edge C-D"].verdict is code
    assert found["SLOPE-PATIO@edge C-D"].verdict is practice
    assert found["TOOL-FALL-REVERSED@edge C-D"].verdict is reversed_


def test_without_levels_nothing_is_level() -> None:
    found = replace(Slab(), levelled=False).by_id()
    for limit in ("IRC-R401-3@edge C-D", "SDDC-SLOPE-MIN@slab", "TOL-STRAIGHTEDGE@slab"):
        assert found[limit].verdict is Verdict.NOT_DETERMINED
        assert found[limit].value is None


def test_an_edge_that_nobody_described_may_lie_at_the_house() -> None:
    found = replace(Slab(), edges=()).by_id()
    assert found["IRC-R401-3@edges"].verdict is Verdict.NOT_DETERMINED
    walk = tuple(replace(edge, abuts=Abuts.FREE) for edge in Slab().edges)
    assert not [name for name in replace(Slab(), edges=walk).by_id() if name.startswith("IRC-R401-3@edge")]
    unsaid = (*walk[:3], EdgeEntry("D", "A", Abuts.UNKNOWN))
    assert "IRC-R401-3@edges" in replace(Slab(), edges=unsaid).by_id()


def with_levels(slab: Slab, **changed):  # type: ignore[no-untyped-def]
    levels = replace(slab.levels(), **changed)
    found = compare(
        slab.distress(), slab.layout(), levels, slab.clearances, slab.plans(), slab.field(), load_limits()
    )
    return {f.finding_id: f for f in found}


def test_ponding_from_levels_or_as_seen() -> None:
    pond = Pond(((0.0, 0.0), (1.0, 0.0), (1.0, 1.0)), 1e5, 10.0, 0.5)
    name = "TOL-STRAIGHTEDGE.pond@slab"
    assert with_levels(Slab(), ponds=(pond,))[name].verdict is Verdict.EXCEEDS
    assert with_levels(Slab())[name].verdict is Verdict.WITHIN
    seen = replace(Slab(), levelled=False)
    assert (
        seen.told(ponding_seen=Answer.YES, ponding_depth=inches(0.5)).by_id()[name].verdict is Verdict.EXCEEDS
    )
    assert seen.told(ponding_seen=Answer.YES).by_id()[name].verdict is Verdict.NOT_DETERMINED
    assert seen.told(ponding_seen=Answer.UNKNOWN).by_id()[name].verdict is Verdict.NOT_DETERMINED
    # Seen, but the levels show none: the depth is open, not zero.
    assert Slab().told(ponding_seen=Answer.YES).by_id()[name].verdict is Verdict.NOT_DETERMINED


def test_a_short_straightedge_can_only_miss_a_gap() -> None:
    slab = replace(Slab(), levelled=False)
    field = slab.field()

    def verdict(gap: float, straightedge: float) -> Verdict:
        entry = GapEntry((0.0, 0.0), inches(gap), inches(straightedge))
        found = compare(
            slab.distress(), slab.layout(), None, (), (), replace(field, gaps=(entry,)), load_limits()
        )
        return next(f for f in found if f.limit.limit_id == "TOL-STRAIGHTEDGE").verdict

    # ACI 117 as quoted: 1/4 in under 10 ft, not to be scaled to other lengths.
    assert verdict(0.1, 120) is Verdict.WITHIN
    assert verdict(0.1, 72) is Verdict.NOT_DETERMINED
    assert verdict(0.4, 72) is Verdict.EXCEEDS
