"""Repairs counted by class; what is not known is told and not taken as nothing."""

from __future__ import annotations

import dataclasses

import pytest

from analyzer.records import AreaDistress, CornerCut, CrackSize, DistressSummary, Fault, Panel, PanelLayout
from analyzer.takeoff.repair import count_repairs
from analyzer.takeoff.rules import load_takeoff_rules
from analyzer.terms import Answer, Distress, Grade


def crack(name: str, width: float | None, length: float | None = 1000.0, **more) -> CrackSize:
    u = (None if length is None else 10.0), (None if width is None else 0.1)
    kind = Distress.TRANSVERSE_CRACKING
    base = CrackSize(name, ("P1",), kind, length, u[0], None, None, width, u[1], None, None, Answer.UNKNOWN,
                     None, (), 1.0, Grade.MEASURED)  # fmt: skip
    return dataclasses.replace(base, **more)


def summary(*cracks: CrackSize, **more) -> DistressSummary:
    base = DistressSummary(tuple(cracks), (), (), None, (), (), None)
    return dataclasses.replace(base, **more)


SQUARE = ((0.0, 0.0), (3000.0, 0.0), (3000.0, 3000.0), (0.0, 3000.0))
LAYOUT = PanelLayout(
    tuple(Panel(f"P{k}", SQUARE, 9e6, 3e4, 3000.0, 3000.0, 5.0) for k in (1, 2)), (), (), 5.0
)


def count(distress: DistressSummary):
    items, notes = count_repairs(distress, LAYOUT, load_takeoff_rules())
    return {q.item: q for q in items}, notes


def test_cracks_fall_into_the_ltpp_width_classes() -> None:
    """Boundaries 3, 6 and 13 mm belong to the wider class (LTPP manual ch. 2, from memory)."""
    widths = [2.999, 3.0, 5.99, 6.0, 12.9, 13.0, 20.0]
    found, notes = count(summary(*(crack(f"C{k}", w) for k, w in enumerate(widths))))
    lengths = {name.removeprefix("cracks to rout and seal, "): q.value for name, q in found.items()}
    assert lengths == {"0 to 3 mm": 1.0, "3 to 6 mm": 2.0, "6 to 13 mm": 2.0, "13 mm and wider": 2.0}
    assert found["cracks to rout and seal, 3 to 6 mm"].u == pytest.approx(0.01 * 2**0.5)
    assert notes == ()


def test_unknown_width_and_length_are_apart() -> None:
    found, notes = count(
        summary(crack("C1", None), crack("C2", 2.0, None), crack("C3", None, width_upper_mm=0.5))
    )
    assert found["cracks, width not measured"].value == 1.0
    assert found["cracks to rout and seal, 0 to 3 mm"].value == 1.0
    assert any("C2" in n for n in notes)


def test_broken_and_rocking_panels_are_replaced_and_their_cracks_not_sealed_too() -> None:
    distress = summary(
        crack("C1", 2.0),
        crack("C2", 2.0, panels=("P2",)),
        pieces_by_panel=(("P1", 4), ("P2", 3)),
    )
    found, _ = count(distress)
    assert found["panels to replace full depth"].value == 1  # four pieces: UFC 3-270-05 ch. 14 (read)
    assert found["area of panels to replace"].value == pytest.approx(9.0)
    assert found["cracks to rout and seal, 0 to 3 mm"].basis.endswith("C2")
    rocking, _ = count(summary(rocking_panels=("P2",)))
    assert "P2" in rocking["panels to replace full depth"].basis


def test_areas_corners_and_steps() -> None:
    areas = (
        AreaDistress(Distress.SPALLING, "P1", 2e6, 3e5, None, None, Grade.MEASURED, "typed"),
        AreaDistress(Distress.SPALLING, "P2", 1e6, 4e5, None, None, Grade.MEASURED, "typed"),
        AreaDistress(Distress.SCALING, "P2", None, None, None, None, Grade.REPORTED, "typed"),
        AreaDistress(Distress.HOLLOW_SOUNDING, None, 0.0, 0.0, None, None, Grade.MEASURED, "sounded"),
    )
    cut = CornerCut((0.0, 0.0), 600.0, 800.0, 3000.0, 3000.0)
    corner = crack("C1", 2.0, distress=Distress.CORNER_BREAK, corner_cut=cut)
    fault = Fault((0.0, 0.0), 8.0, 0.5, "J1", ("P1", "P2"))
    found, notes = count(summary(corner, areas=areas, faults=(fault,), unseen_fraction=0.4))
    assert found["spalling to patch"].value == pytest.approx(3.0)
    assert found["spalling to patch"].u == pytest.approx(0.5)  # 0.3 and 0.4 by root-sum-square
    assert "scaling to patch" not in found
    assert any("scaling" in n for n in notes)
    assert any("40%" in n for n in notes)
    assert "0.24 m2" in found["corners to replace full depth"].basis  # 0.6 x 0.8 / 2
    assert found["steps to grind or lift"].value == 1
    assert "hollow-sounding area to remove and patch" not in found
