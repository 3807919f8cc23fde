"""Pieces of a panel, counted against shapely's own splitting."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely
from shapely.ops import split

from analyzer.observe import load_readings, merge_distress
from analyzer.observe.pieces import count_pieces, crack_lines
from analyzer.records import AreaEntry, BranchSize, CrackEntry, CrackSize, CrackSurvey, SlabFacts
from analyzer.terms import Answer, Distress, Grade

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


def test_legs_of_a_star_typed_one_by_one_are_no_further_pieces(make_field, make_layout) -> None:
    """Four legs from the middle to the four sides cut a panel in four, however many names they have."""
    centre, tips = (1500.0, 1500.0), ((1500.0, 3000.0), (3000.0, 1400.0), (1600.0, 0.0), (0.0, 1600.0))
    legs = tuple(
        BranchSize((centre, tip), 1500.0, 3.0, 8.0, 0.3, 9.0, 0.3, None, 0.0, "ph", 0.9) for tip in tips
    )
    traced = CrackSize(
        "C1",
        ("P1",),
        Distress.TRANSVERSE_CRACKING,
        6000.0,
        6.0,
        8.0,
        0.2,
        9.0,
        0.3,
        None,
        0.0,
        Answer.YES,
        None,
        legs,
        0.9,
        Grade.MEASURED,
        "photo ph",
    )
    entries = tuple(
        CrackEntry(f"K{k}", at_mm=tuple((np.array(centre) + np.array(tip)) / 2), splits_panel=Answer.YES)
        for k, tip in enumerate(tips)
    )
    field = make_field(cracks=entries, slab=SlabFacts(walked_over=Answer.YES))
    summary = merge_distress(field, CrackSurvey((traced,), ()), make_layout(BOX), None, 0.0)
    assert dict(summary.pieces_by_panel)["P1"] == 4
    assert sorted(c.crack_id for c in summary.cracks) == ["K0", "K1", "K2", "K3"]
    assert sum(c.length_mm for c in summary.cracks) == pytest.approx(6000.0)


@pytest.mark.parametrize("typed", ["outline", "panel", None])
def test_map_cracking_breaks_no_panel(make_field, make_layout, typed: str | None) -> None:
    """LTPP manual: map cracks extend only into the upper surface (from memory)."""
    line = ((0.0, 1500.0), (3000.0, 1450.0))
    branch = BranchSize(line, 3000.0, 3.0, None, None, None, None, 1.5, 0.0, "ph", 0.9)
    traced = CrackSize(
        "C1",
        ("P1",),
        Distress.TRANSVERSE_CRACKING,
        3000.0,
        3.0,
        None,
        None,
        None,
        None,
        1.5,
        0.0,
        Answer.UNKNOWN,
        None,
        (branch,),
        0.9,
        Grade.MEASURED,
        "photo ph",
    )
    ring = ((0.0, 1000.0), (3000.0, 1000.0), (3000.0, 2000.0), (0.0, 2000.0))
    areas = {
        "outline": (AreaEntry(Distress.MAP_CRACKING, outline_mm=ring),),
        "panel": (AreaEntry(Distress.MAP_CRACKING, panel="P1"),),
        None: (),
    }[typed]
    field = make_field(areas=areas, slab=SlabFacts(walked_over=Answer.YES))
    summary = merge_distress(field, CrackSurvey((traced,), ()), make_layout(BOX), None, 0.0)
    assert dict(summary.pieces_by_panel)["P1"] == (2 if typed is None else 1)
