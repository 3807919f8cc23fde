"""Pieces, shattered-slab classes, settlement, joints."""

from __future__ import annotations

from dataclasses import replace

import pytest
from invented_slab import Slab, area, crack

from analyzer.rate.hold import Scope
from analyzer.rate.limits import load_limits
from analyzer.rate.panels import airfield_severity, panel_findings, shattered_level
from analyzer.records import Fault
from analyzer.terms import Answer, Distress, Severity, Verdict


def test_classes_refuse_nonsense() -> None:
    with pytest.raises(ValueError):
        shattered_level(0, 1.0, 0.0, 0.0)
    with pytest.raises(ValueError):
        shattered_level(4, 0.5, 0.0, 0.0)


@pytest.mark.parametrize(
    ("width_in", "level"),
    [(0.12, Severity.LOW), (0.125, Severity.MODERATE), (1.0, Severity.MODERATE), (1.01, Severity.HIGH)],
)
def test_crack_levels_of_the_same_manual(width_in: float, level: Severity) -> None:
    # UFC 3-270-05 ch. 5 (read): low < 1/8 in, medium 1/8 to 1 in, high > 1 in.
    assert airfield_severity(width_in * 25.4, load_limits()) is level


def test_pieces_and_class_of_a_panel() -> None:
    slab = replace(
        Slab(), pieces={**Slab().pieces, "P3": 4}, cracks=(crack("C1", "P3", 2.0), crack("C2", "P3", 4.0))
    )
    found = slab.by_id()
    assert found["UFC-SHATTERED.low@P3"].verdict is Verdict.EXCEEDS
    # Half of the crack length is medium, more than 15 %: 4 pieces are then medium, not high.
    assert found["UFC-SHATTERED.medium@P3"].verdict is Verdict.EXCEEDS
    assert found["UFC-SHATTERED.high@P3"].verdict is Verdict.WITHIN
    assert "UFC-SHATTERED.medium@P1" not in found
    unread = replace(slab, cracks=(crack("C1", "P3", None), crack("C2", "P3", 4.0))).by_id()
    assert unread["UFC-SHATTERED.high@P3"].verdict is Verdict.NOT_DETERMINED


def test_uncounted_pieces_are_not_one_piece() -> None:
    for pieces in ({**Slab().pieces, "P3": None}, {k: v for k, v in Slab().pieces.items() if k != "P3"}):
        assert (
            replace(Slab(), pieces=pieces).by_id()["UFC-SHATTERED.low@P3"].verdict is Verdict.NOT_DETERMINED
        )


def test_settlement_either_way_and_unread() -> None:
    found = replace(Slab(), settlement_in={"P1": 1.0, "P2": -1.0, "P3": 0.35}).by_id()
    assert found["TOL-ELEVATION@P1"].verdict is Verdict.EXCEEDS
    assert found["TOL-ELEVATION@P2"].verdict is Verdict.EXCEEDS
    assert "above the plane" in found["TOL-ELEVATION@P2"].statement
    assert found["TOL-ELEVATION@P3"].verdict is Verdict.WITHIN
    assert found["NJ-WARRANTY-1/4.vertical@P3"].verdict is Verdict.EXCEEDS
    assert found["TOL-ELEVATION@P4"].verdict is Verdict.NOT_DETERMINED


def test_joint_spacing_needs_the_thickness() -> None:
    found = Slab().by_id()
    # 3000 mm at 100 mm are 30 times the thickness: within the 36 of the rule.
    assert found["JOINT-24-36.ratio@joints"].value == pytest.approx(30.0)
    assert found["JOINT-24-36.ratio@joints"].verdict is Verdict.WITHIN
    assert found["JOINT-24-36.max@joints"].value == pytest.approx(3000 / 304.8)
    unread = Slab().told(thickness=None).by_id()
    assert unread["JOINT-24-36.ratio@joints"].verdict is Verdict.NOT_DETERMINED
    assert unread["JOINT-24-36.max@joints"].verdict is Verdict.WITHIN
    assert found["JOINT-ASPECT@P1"].value == pytest.approx(1.0)


def test_pieces_of_a_map_pattern_are_of_the_surface_only() -> None:
    # FHWA-HRT-13-092 ch. 2 (from memory): map cracking extends only into the upper surface.
    typed = area(Distress.MAP_CRACKING, 0.12, "P3")
    slab = replace(Slab(), pieces={**Slab().pieces, "P3": 13}, areas=(*Slab().areas, typed))
    name = "UFC-SHATTERED.low@P3"
    assert slab.by_id()[name].verdict is Verdict.WITHIN
    # Anything beside it that says the panel itself is broken keeps the pieces.
    for beside in (
        replace(slab, cracks=(crack("C1", "P3", 4.0),)),
        replace(slab, cracks=(crack("C1", "P3", 1.0, through=Answer.YES),)),
        replace(slab, faults=(Fault((0.0, 0.0), 8.0, 0.2, "J1", ("P3",)),)),
        slab.told(rocking_panels=("P3",)),
        slab.told(walked_over=Answer.UNKNOWN),
        replace(slab, areas=(*Slab().areas, replace(typed, source="photo"))),
        replace(slab, areas=(*Slab().areas, area(Distress.MAP_CRACKING, 0.01, "P3"))),
    ):
        assert beside.by_id()[name].verdict is Verdict.EXCEEDS


def test_one_panel_has_no_others_to_lie_below() -> None:
    slab = Slab()
    single = replace(slab.layout(), panels=slab.layout().panels[:1])
    found = panel_findings(slab.distress(), single, slab.levels(), Scope(load_limits(), slab.field()))
    assert {f.limit.quantity for f in found} == {"pieces"}
