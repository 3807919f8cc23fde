"""Pieces of a panel, counted against shapely's own splitting."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely
from shapely.ops import split

from analyzer.observe import load_readings, merge_distress
from analyzer.observe.pieces import count_pieces, crack_lines
from analyzer.records import CrackEntry, CrackSurvey, SlabFacts
from analyzer.terms import Answer

BOX = (0.0, 0.0, 3000.0, 3000.0)
EMPTY = CrackSurvey((), ())


def pieces(make_field, make_layout, *entries: CrackEntry, walked: Answer = Answer.YES, seen=None):
    field = make_field(cracks=entries, slab=SlabFacts(walked_over=walked))
    layout = make_layout(BOX)
    if seen is not None:
        layout = dataclasses.replace(
            layout, panels=(dataclasses.replace(layout.panels[0], seen_fraction=seen),)
        )
    summary = merge_distress(field, EMPTY, layout, None, None if seen is None else 1.0 - seen)
    return dict(summary.pieces_by_panel)["P1"]


@pytest.mark.parametrize("seed", range(5))
def test_random_crossing_cracks_equal_shapely_split(make_field, make_layout, seed: int) -> None:
    rng = np.random.default_rng(seed)
    lines = []
    for k in range(4):
        a, b = rng.uniform(200, 2800, 2)
        lines.append(((0.0, a), (3000.0, b)) if k % 2 else ((a, 0.0), (b, 3000.0)))
    parts = [shapely.box(*BOX)]
    for line in lines:
        longer = shapely.affinity.scale(shapely.LineString(line), 1.1, 1.1)
        parts = [p for part in parts for p in split(part, longer).geoms]
    entries = tuple(CrackEntry(f"C{k}", line_mm=line) for k, line in enumerate(lines))
    expected = len([p for p in parts if p.area > load_readings().on_joint_mm ** 2])
    assert pieces(make_field, make_layout, *entries) == expected


def test_a_crack_that_ends_inside_splits_nothing(make_field, make_layout) -> None:
    assert pieces(make_field, make_layout, CrackEntry("C", line_mm=((0, 1500), (1500, 1600)))) == 1
    almost = CrackEntry("C", line_mm=((20.0, 1500.0), (2980.0, 1600.0)))
    assert pieces(make_field, make_layout, almost) == 2  # a line drawn 20 mm short of the joint


def test_what_was_not_looked_at_is_not_determined(make_field, make_layout) -> None:
    assert pieces(make_field, make_layout, walked=Answer.UNKNOWN) is None
    assert pieces(make_field, make_layout, walked=Answer.YES) == 1
    assert pieces(make_field, make_layout, walked=Answer.NO, seen=0.6) is None
    assert pieces(make_field, make_layout, walked=Answer.NO, seen=1.0) == 1


def test_typed_without_a_line(make_field, make_layout) -> None:
    yes = CrackEntry("C", panel="P1", splits_panel=Answer.YES)
    assert pieces(make_field, make_layout, yes) == 2
    assert pieces(make_field, make_layout, CrackEntry("C", panel="P1")) is None
    no = CrackEntry("C", panel="P1", splits_panel=Answer.NO)
    assert pieces(make_field, make_layout, no) == 1


def test_a_crack_without_a_place_has_no_lines(make_field, make_layout) -> None:
    field = make_field(cracks=(CrackEntry("C", panel="P1"),))
    summary = merge_distress(field, EMPTY, make_layout(BOX), None, None)
    assert crack_lines(summary.cracks[0]) is None
    assert count_pieces(make_layout(BOX).panels[0], (), field, None, load_readings()) is None
