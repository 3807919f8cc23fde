"""Typed and photographed distress joined: gauge over photo, nothing twice, disagreement told."""

from __future__ import annotations

import math

import pytest

from analyzer.observe import merge_distress
from analyzer.records import (
    AreaEntry,
    BranchSize,
    CrackEntry,
    CrackSize,
    CrackSurvey,
    FaultEntry,
    JointSize,
    MapCracking,
    SlabFacts,
)
from analyzer.terms import Answer, Distress, Grade, JointKind
from analyzer.units import Reading

LEFT, RIGHT = (0.0, 0.0, 3000.0, 4000.0), (3000.0, 0.0, 6000.0, 4000.0)
JOINT = JointSize(
    "J1", JointKind.CONTRACTION, (3000.0, 0.0), (3000.0, 4000.0), 4000.0, 5.0, 1.0, ("P1", "P2")
)


def photo_crack(
    name: str = "K1",
    points=((200.0, 1000.0), (2800.0, 1100.0)),
    mean: float | None = 2.0,
    most: float | None = 3.0,
    upper: float | None = None,
) -> CrackSize:
    length = math.dist(points[0], points[-1])
    u = None if mean is None else 0.2
    branch = BranchSize(points, length, 10.0, mean, u, most, u, upper, 2.2, "ph", 0.9)
    return CrackSize(name, ("P1",), Distress.TRANSVERSE_CRACKING, length, 10.0, mean, u, most, u, upper, 2.2,
                     Answer.UNKNOWN, None, (branch,), 0.9, Grade.MEASURED, "photo")  # fmt: skip


def merge(make_field, make_layout, cracks=(), survey=(), maps=(), unseen=0.0, **more):
    field = make_field(cracks=tuple(cracks), **more)
    layout = make_layout(LEFT, RIGHT, joints=(JOINT,))
    return merge_distress(field, CrackSurvey(tuple(survey), tuple(maps)), layout, None, unseen)


@pytest.mark.parametrize(
    "entry",
    [
        CrackEntry("K1", width=Reading(2.5, 0.1, "2.5 mm")),
        CrackEntry("C9", at_mm=(1500.0, 1060.0), width=Reading(2.5, 0.1, "2.5 mm")),
        CrackEntry("C9", line_mm=((0.0, 990.0), (1500.0, 1060.0)), width=Reading(2.5, 0.1, "2.5 mm")),
    ],
    ids=["name", "place", "overlap"],
)
def test_the_same_crack_is_found_and_the_gauge_rules(make_field, make_layout, entry: CrackEntry) -> None:
    summary = merge(make_field, make_layout, [entry], [photo_crack()])
    (crack,) = summary.cracks
    assert (crack.crack_id, crack.width_max_mm, crack.width_source) == (entry.name, 2.5, "gauge")
    assert crack.width_mean_mm == 2.0  # the photo's mean stands: gauge between mean and greatest
    assert crack.disagreement is None
    assert summary.contradictions == ()


def test_a_crack_elsewhere_stays_a_second_one(make_field, make_layout) -> None:
    entry = CrackEntry("C9", at_mm=(1500.0, 3000.0), width=Reading(2.5, 0.1, "2.5 mm"))
    assert [c.crack_id for c in merge(make_field, make_layout, [entry], [photo_crack()]).cracks] == [
        "C9",
        "K1",
    ]


@pytest.mark.parametrize(("gauge", "clash"), [(6.0, True), (0.8, True), (3.3, False), (1.7, False)])
def test_gauge_and_photo_that_differ_are_told_not_averaged(make_field, make_layout, gauge, clash) -> None:
    entry = CrackEntry("K1", width=Reading(gauge, 0.1, "t"))
    summary = merge(make_field, make_layout, [entry], [photo_crack()])
    (crack,) = summary.cracks
    assert crack.width_max_mm == gauge
    assert bool(crack.disagreement) is clash
    assert bool(summary.contradictions) is clash
    assert (crack.width_mean_mm is None) is clash


def test_a_gauge_over_the_photos_upper_bound_is_told(make_field, make_layout) -> None:
    thin = photo_crack(mean=None, most=None, upper=0.6)
    summary = merge(make_field, make_layout, [CrackEntry("K1", width=Reading(2.0, 0.1, "t"))], [thin])
    assert "less than" in summary.contradictions[0].sentence
    assert summary.cracks[0].width_upper_mm is None


def test_tape_and_photo_length(make_field, make_layout) -> None:
    summary = merge(
        make_field, make_layout, [CrackEntry("K1", length=Reading(1800.0, 10.0, "t"))], [photo_crack()]
    )
    assert summary.cracks[0].length_mm == 1800.0
    assert "tape" in summary.contradictions[0].sentence


def test_words_for_typed_cracks(make_field, make_layout) -> None:
    entries = [
        CrackEntry("corner", panel="P1", corner=Answer.YES),
        CrackEntry("across", line_mm=((0.0, 2000.0), (3000.0, 2100.0))),
        CrackEntry("along", line_mm=((1500.0, 0.0), (1600.0, 4000.0))),
        CrackEntry("slant", line_mm=((0.0, 0.0), (3000.0, 3000.0))),
        CrackEntry("bare"),
    ]
    kinds = {c.crack_id: c.distress for c in merge(make_field, make_layout, entries).cracks}
    assert kinds == {
        "corner": Distress.CORNER_BREAK,
        "across": Distress.TRANSVERSE_CRACKING,
        "along": Distress.LONGITUDINAL_CRACKING,
        "slant": Distress.DIAGONAL_CRACKING,
        "bare": Distress.TRANSVERSE_CRACKING,
    }


def test_sounding_three_ways(make_field, make_layout) -> None:
    def hollow(summary):
        return [a for a in summary.areas if a.kind is Distress.HOLLOW_SOUNDING]

    (none,) = hollow(merge(make_field, make_layout, slab=SlabFacts(sounded=Answer.YES)))
    assert (none.area_mm2, none.grade) == (0.0, Grade.MEASURED)
    (open_,) = hollow(merge(make_field, make_layout, slab=SlabFacts(sounded=Answer.NO)))
    assert (open_.area_mm2, open_.grade) == (None, Grade.UNKNOWN)
    square = ((0.0, 0.0), (500.0, 0.0), (500.0, 500.0), (0.0, 500.0))
    entry = AreaEntry(Distress.HOLLOW_SOUNDING, outline_mm=square)
    (typed,) = hollow(merge(make_field, make_layout, areas=(entry,), slab=SlabFacts(sounded=Answer.YES)))
    assert (typed.area_mm2, typed.panel_id) == (250000.0, "P1")


def test_typed_map_cracking_outranks_the_photo(make_field, make_layout) -> None:
    seen = MapCracking("P1", ((0, 0), (1, 0), (1, 1)), 2e6, 1e5, (), 5000.0)
    typed = AreaEntry(Distress.MAP_CRACKING, panel="P1", area_mm2=1e6)
    summary = merge(make_field, make_layout, maps=[seen], areas=(typed,))
    maps = [a for a in summary.areas if a.kind is Distress.MAP_CRACKING]
    assert [a.area_mm2 for a in maps] == [1e6]
    assert "typed area" in summary.contradictions[0].sentence
    (alone,) = [
        a for a in merge(make_field, make_layout, maps=[seen]).areas if a.kind is Distress.MAP_CRACKING
    ]
    assert (alone.area_mm2, alone.source) == (2e6, "photo")


def test_a_fault_finds_its_joint_and_both_panels(make_field, make_layout) -> None:
    summary = merge(make_field, make_layout, faults=(FaultEntry((3010.0, 2000.0), Reading(-6.0, None, "t")),))
    (fault,) = summary.faults
    assert (fault.step_mm, fault.along, fault.panels) == (6.0, "J1", ("P1", "P2"))
    assert fault.step_u_mm == pytest.approx(
        1 / math.sqrt(3)
    )  # nearest 1 mm, LTPP manual ch. 2, read as quoted
