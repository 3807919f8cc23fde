"""Where a surface falls and how a cut through it runs: against planes in closed form and shapely."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely

from analyzer.records import GradePlan, HeightEntry, JobRecord, StationGrade
from analyzer.terms import HeightKind
from analyzer.transmit.surface_lines import cut, falls


def _roof(plan: GradePlan) -> GradePlan:
    """A ridge along y = 700: falls of 2 % to both sides on a 2000 x 1400 slab."""
    places = ((0, 0), (2000, 0), (0, 700), (2000, 700), (0, 1400), (2000, 1400))
    grades = tuple(
        StationGrade(f"S{k}", x, y, 0.0, 80 - 0.02 * abs(y - 700), 80 - 0.02 * abs(y - 700), 1.0)
        for k, (x, y) in enumerate(places)
    )
    triangles = ((0, 1, 2), (1, 3, 2), (2, 3, 4), (3, 5, 4))
    return dataclasses.replace(plan, grades=grades, triangles=triangles)


def test_one_arrow_down_a_plane(full: JobRecord) -> None:
    (fall,) = falls(full.plans[0])
    # z = 60 + 0.02 y falls by 2 % towards -y.
    assert fall.slope == pytest.approx(0.02)
    assert fall.end_mm[1] < fall.start_mm[1]
    assert fall.end_mm[0] == pytest.approx(fall.start_mm[0])


def test_one_arrow_for_each_side_of_a_ridge(full: JobRecord) -> None:
    arrows = falls(_roof(full.plans[0]))
    assert [a.slope for a in arrows] == pytest.approx([0.02, 0.02])
    directions = sorted(a.end_mm[1] - a.start_mm[1] for a in arrows)
    assert directions[0] < 0 < directions[1]
    assert {a.start_mm[1] < 700 for a in arrows} == {True, False}


def test_a_level_or_unknown_surface_has_no_arrow(full: JobRecord) -> None:
    plan = full.plans[0]
    level = dataclasses.replace(
        plan, grades=tuple(dataclasses.replace(g, finished_mm=60.0) for g in plan.grades)
    )
    assert falls(level) == ()
    assert falls(dataclasses.replace(plan, plane=None)) == ()


def test_the_cut_runs_along_the_fall_from_edge_to_edge(full: JobRecord) -> None:
    profile = cut(full.field, full.plans[0])
    assert profile is not None
    outline = shapely.Polygon([(c.x_mm, c.y_mm) for c in full.field.outline])
    line = shapely.LineString([profile.start_mm, profile.end_mm])
    # shapely: the cut lies in the slab and is as long as its distances say; down the fall is -y.
    assert line.length == pytest.approx(profile.along_mm[-1])
    assert outline.buffer(1e-6).contains(line)
    assert line.length == pytest.approx(1500)
    y = 1500 - profile.along_mm
    np.testing.assert_allclose(profile.finished_mm, 60 + 0.02 * y, atol=1e-6)
    np.testing.assert_allclose(profile.old_mm, y / 150, atol=1e-6)
    assert profile.name == ""


def test_the_cut_goes_through_the_door(full: JobRecord) -> None:
    door = HeightEntry(HeightKind.DOOR_SILL, "pump door", (400.0, 1500.0))
    field = dataclasses.replace(full.field, heights=(door,))
    profile = cut(field, full.plans[0])
    assert profile is not None
    assert profile.name == "pump door"
    assert profile.from_start
    assert profile.start_mm == pytest.approx((400, 1500))


def test_without_levels_there_is_no_cut(full: JobRecord) -> None:
    assert cut(full.field, dataclasses.replace(full.plans[0], levels_known=False)) is None
