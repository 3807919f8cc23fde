"""Parts of a grade plan are frozen and keep the unknown apart from zero."""

from __future__ import annotations

import dataclasses

import pytest

from analyzer.records import Crease, HeldRequirement, PlannedJoint
from analyzer.records.grades import SetOut


def test_parts_are_frozen() -> None:
    for record in (
        Crease((0.0, 0.0), (1.0, 0.0), 0.01),
        HeldRequirement("thickness", "at least 2 in", 0.0, "mm", "CPTECH-BONDED-RANGE"),
        SetOut(1.0, "station S1 is zero", (), True),
    ):
        name = dataclasses.fields(record)[0].name
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(record, name, None)


def test_what_was_not_worked_out_is_none_and_not_zero() -> None:
    held = HeldRequirement("thickness", "at least 2 in", 0.0, "mm", "CPTECH-BONDED-RANGE")
    assert held.room == 0.0
    assert held.room_rounded is None
    assert {f.name for f in dataclasses.fields(PlannedJoint)} >= {"depth_mm", "over_joint", "rule", "source"}
