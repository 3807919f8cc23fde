"""Shares of the area, depth of loss, disease, unseen area."""

from __future__ import annotations

from dataclasses import replace

import pytest
from invented_slab import PANEL_IDS, Slab, area

from analyzer.terms import Answer, Distress, Grade, Verdict

HOLLOW_10, HOLLOW_30 = "PRE-OVERLAY-REPAIR.patch-first@slab", "PRE-OVERLAY-REPAIR.no-bond@slab"


@pytest.mark.parametrize(
    ("share", "first", "second"),
    [
        (0.05, Verdict.WITHIN, Verdict.WITHIN),
        (0.20, Verdict.EXCEEDS, Verdict.WITHIN),
        (0.40, Verdict.EXCEEDS, Verdict.EXCEEDS),
    ],
)
def test_hollow_shares(share: float, first: Verdict, second: Verdict) -> None:
    found = replace(Slab(), areas=(area(Distress.HOLLOW_SOUNDING, share),)).by_id()
    assert found[HOLLOW_10].value == pytest.approx(share)
    assert (found[HOLLOW_10].verdict, found[HOLLOW_30].verdict) == (first, second)


def test_a_slab_that_nobody_sounded_is_not_solid() -> None:
    slab = replace(Slab(), areas=()).told(sounded=Answer.UNKNOWN)
    assert slab.by_id()[HOLLOW_30].verdict is Verdict.NOT_DETERMINED
    assert slab.by_id()[HOLLOW_30].value is None
    # What was found without a full sounding is a lower bound.
    some = replace(slab, areas=(area(Distress.HOLLOW_SOUNDING, 0.05),)).by_id()
    assert some[HOLLOW_30].verdict is Verdict.NOT_DETERMINED
    unsized = replace(Slab(), areas=(area(Distress.HOLLOW_SOUNDING, 0.05, area_mm2=None),)).by_id()
    assert unsized[HOLLOW_30].verdict is Verdict.NOT_DETERMINED


def test_worn_share_counts_each_panel_once() -> None:
    sixth = 1 / len(PANEL_IDS)
    slab = replace(
        Slab(), areas=(area(Distress.SCALING, sixth, "P1"), area(Distress.MAP_CRACKING, sixth, "P1"))
    )
    assert slab.by_id()["LTPP-JCP-MAP-SCALING.extent@slab"].value == pytest.approx(sixth)


def test_nothing_seen_on_a_walk_over_is_a_report() -> None:
    found = Slab().by_id()["LTPP-JCP-MAP-SCALING.extent@slab"]
    assert (found.value, found.verdict, found.grade) == (0.0, Verdict.WITHIN, Grade.REPORTED)
    unsaid = Slab().told(walked_over=Answer.UNKNOWN).by_id()
    assert unsaid["LTPP-JCP-MAP-SCALING.extent@slab"].verdict is Verdict.NOT_DETERMINED
    assert unsaid["CPTECH-BONDED-QUALIFY.d-cracking@slab"].verdict is Verdict.NOT_DETERMINED
    assert unsaid["TOOL-UNSEEN@slab"].value is None


def test_disease_of_the_concrete() -> None:
    found = replace(Slab(), areas=(area(Distress.DURABILITY_CRACKING, 0.02),)).by_id()
    assert found["CPTECH-BONDED-QUALIFY.d-cracking@slab"].verdict is Verdict.EXCEEDS
    mapped = replace(Slab(), areas=(area(Distress.MAP_CRACKING, 0.2),))
    signs = "CPTECH-BONDED-QUALIFY.reactive-aggregate@slab"
    assert mapped.by_id()[signs].verdict is Verdict.WITHIN
    assert mapped.told(white_deposits=Answer.UNKNOWN).by_id()[signs].verdict is Verdict.NOT_DETERMINED
    assert mapped.told(white_deposits=Answer.YES).by_id()[signs].verdict is Verdict.EXCEEDS
    assert signs not in Slab().by_id()


@pytest.mark.parametrize(
    ("depth", "third", "half"),
    [
        (25.0, Verdict.WITHIN, Verdict.WITHIN),
        (42.0, Verdict.EXCEEDS, Verdict.WITHIN),
        (60.0, Verdict.EXCEEDS, Verdict.EXCEEDS),
    ],
)
def test_patch_to_a_third_and_replace_past_half(depth: float, third: Verdict, half: Verdict) -> None:
    # Sources differ: a third (FP2, read) and half (UFC 3-270-03, read). Between the two the tool warns.
    deep = area(Distress.SPALLING, 0.01, "P1", depth_mm=depth, depth_u_mm=1.0)
    found = replace(Slab(), areas=(deep,)).by_id()
    assert found["PDR-THIRD@spalling 1"].verdict is third
    assert found["UFC-SPALL-HALF@spalling 1"].verdict is half
    unread = replace(Slab(), areas=(deep,)).told(thickness=None).by_id()
    assert unread["UFC-SPALL-HALF@spalling 1"].verdict is Verdict.NOT_DETERMINED


def test_unseen_area_is_unknown_area() -> None:
    slab = replace(Slab(), unseen=0.4).told(walked_over=Answer.UNKNOWN)
    assert slab.by_id()["TOOL-UNSEEN@slab"].verdict is Verdict.EXCEEDS
    assert replace(slab, unseen=0.05).by_id()["TOOL-UNSEEN@slab"].verdict is Verdict.WITHIN
    assert replace(Slab(), unseen=0.4).by_id()["TOOL-UNSEEN@slab"].grade is Grade.REPORTED


def test_a_corner_written_down_as_broken_counts_without_a_drawn_crack() -> None:
    # FHWA, Full-Depth Repairs, Table 1 (read): any corner break, from low severity up, is taken out.
    found = replace(Slab(), areas=(area(Distress.CORNER_BREAK, 0.01, "P4"),)).by_id()
    corner = found["FHWA-FDR-TABLE1.corner-break@corner break 1"]
    assert corner.verdict is Verdict.EXCEEDS
    assert corner.statement.startswith("Corner broken off panel P4: 1")
    assert not [name for name in Slab().by_id() if "corner-break" in name]
