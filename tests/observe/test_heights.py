"""Heights keep what was typed, get an uncertainty, and a flight its order."""

from __future__ import annotations

import math

import pytest

from analyzer.observe import read_clearances
from analyzer.records import HeightEntry
from analyzer.terms import Answer, Goes, HeightKind
from analyzer.units import Reading


def test_heights_become_clearances(make_field) -> None:
    heights = (
        HeightEntry(HeightKind.RISER, "upper", (0, 0), Reading(180.0, None, "t"), "steps", 2),
        HeightEntry(HeightKind.DOOR_SILL, "door", (1, 2), Reading(90.0, 0.7, "t"), egress_door=Answer.YES),
        HeightEntry(HeightKind.RISER, "lower", (0, 0), Reading(175.0, None, "t"), "steps", 1),
        HeightEntry(HeightKind.SIDING, "siding", (3, 4)),
    )
    down = HeightEntry(HeightKind.RISER, "yard", (0, 0), Reading(165.0, None, "t"), goes=Goes.DOWN)
    (yard,) = read_clearances(make_field(heights=(down,)), None)
    assert (yard.height_mm, yard.leads_down) == (165.0, True)
    door, siding, lower, upper = read_clearances(make_field(heights=heights), None)
    assert (door.height_mm, door.height_u_mm, door.egress_door) == (90.0, 0.7, Answer.YES)
    assert siding.height_mm is None
    assert siding.height_u_mm is None
    assert [lower.name, upper.name] == ["lower", "upper"]
    # tools read to 1/16 in (US Access Board tolerance report 1.1.1); rectangular, JCGM 100 4.3.7 from memory
    assert lower.height_u_mm == pytest.approx(25.4 / 16 / math.sqrt(3))
