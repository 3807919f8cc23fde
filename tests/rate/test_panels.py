"""Pieces, shattered-slab classes, settlement, joints."""

from __future__ import annotations

from dataclasses import replace

import pytest
from invented_slab import Slab, crack

from analyzer.rate.limits import load_limits
from analyzer.rate.panels import airfield_severity, shattered_level
from analyzer.terms import Severity, Verdict


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
