"""A star of four legs, typed leg by leg, is shared out; nothing is lost and nothing counted twice."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely

from analyzer.observe.shared import share_out
from analyzer.records import BranchSize, CrackEntry, CrackSize
from analyzer.terms import Answer, Distress, Grade
from analyzer.units import Reading

CENTRE = (1000.0, 1000.0)
TIPS = ((1000.0, 2000.0), (2000.0, 1000.0), (1000.0, 0.0), (0.0, 1000.0))


def leg(tip: tuple[float, float], width: float | None) -> BranchSize:
    u = None if width is None else 0.2
    return BranchSize((CENTRE, tip), math.dist(CENTRE, tip), 3.0, width, u, width, u, None, 0.0, "ph", 0.9)


def star(*widths: float | None) -> CrackSize:
    legs = tuple(leg(tip, width) for tip, width in zip(TIPS, widths, strict=True))
    return CrackSize("C9", ("P1",), Distress.TRANSVERSE_CRACKING, 4000.0, 6.0, 5.0, 0.1, 8.0, 0.2, None, 0.0,
                     Answer.YES, None, legs, 0.9, Grade.MEASURED, "photo ph")  # fmt: skip


def typed(name: str, at: tuple[float, float]) -> CrackEntry:
    return CrackEntry(name, at_mm=at, width=Reading(5.0, 0.1, "5 mm"))


def test_each_leg_goes_to_its_own_entry() -> None:
    entries = [typed("N", (1010.0, 1600.0)), typed("E", (1700.0, 980.0)), typed("S", (1000.0, 500.0))]
    parts = share_out([star(4.0, 5.0, 6.0, 8.0)], entries, 152.0)
    assert len(parts) == 3
    assert {p.crack_id for p in parts} == {"C9a", "C9b", "C9c"}
    for entry in entries:
        on = [p for p in parts if shapely.MultiLineString([b.points_mm for b in p.branches])
              .distance(shapely.Point(entry.at_mm)) < 152]  # fmt: skip
        assert len(on) == 1
    assert sum(p.length_mm for p in parts) == pytest.approx(4000.0)
    assert sum(len(p.branches) for p in parts) == 4


def test_widths_and_uncertainties_of_a_part() -> None:
    """Weighted mean and root sum of squares (GUM, clause 5.1.2), by hand for two equal legs."""
    entries = [typed("N", (1000.0, 1600.0)), typed("S", (1000.0, 500.0))]
    parts = share_out([star(4.0, 6.0, None, None)], entries, 152.0)
    assert sorted(len(p.branches) for p in parts) in ([1, 3], [2, 2])
    for part in parts:
        known = [b.width_mean_mm for b in part.branches if b.width_mean_mm is not None]
        if known:
            assert part.width_mean_mm == pytest.approx(sum(known) / len(known))
            assert part.width_max_mm == max(known)
            assert part.width_mean_u_mm == pytest.approx(0.2 / math.sqrt(len(known)))
        else:
            assert part.width_mean_mm is None
        assert part.length_u_mm == pytest.approx(3.0 * math.sqrt(len(part.branches)))


@pytest.mark.parametrize(
    "entries",
    [[], [typed("N", (1000.0, 1600.0))], [typed("N", (1000.0, 1600.0)), typed("far", (5000.0, 5000.0))],
     [CrackEntry("a"), CrackEntry("b")]],
    ids=["none", "one", "one and one elsewhere", "no places"],
)  # fmt: skip
def test_otherwise_it_stays_whole(entries: list[CrackEntry]) -> None:
    crack = star(4.0, 5.0, 6.0, 8.0)
    assert share_out([crack], entries, 152.0) == (crack,)


def test_map_cracking_stays_whole() -> None:
    crack = replace(star(1.0, 1.0, 1.0, 1.0), distress=Distress.MAP_CRACKING)
    entries = [typed("N", (1000.0, 1600.0)), typed("S", (1000.0, 500.0))]
    assert share_out([crack], entries, 152.0) == (crack,)


def test_an_entry_near_another_ones_leg_still_gets_its_own() -> None:
    """Two places near the middle: each gets the leg it lies on."""
    entries = [typed("N", (1000.0, 1090.0)), typed("E", (1080.0, 1000.0))]
    parts = share_out([star(4.0, 5.0, 6.0, 8.0)], entries, 152.0)
    assert len(parts) == 2
