"""Stops and hard requirements."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from invented_slab import Slab, answers, area, clearance, crack

from analyzer.records import Clearing, Fault, SiteUse
from analyzer.score.gates import check_stops
from analyzer.score.options import STOP_IDS, load_options
from analyzer.terms import Answer, Distress, HeightKind, Option, Use

RULES = load_options()
B, U, P, R = Option.OVERLAY_BONDED, Option.OVERLAY_UNBONDED, Option.PATCH, Option.REMOVAL
NO, YES, UNKNOWN = Answer.NO, Answer.YES, Answer.UNKNOWN


def admissible(slab: Slab) -> dict[Option, bool | None]:
    return {rating.option: rating.admissible for rating in slab.rank().ratings}


@pytest.mark.parametrize("answer", [YES, UNKNOWN])
@pytest.mark.parametrize("stop", STOP_IDS)
def test_every_stop_blocks_until_it_is_cleared_by_name(stop: str, answer: Answer) -> None:
    slab = replace(Slab(), stops=answers(**{stop: answer}))
    blocked = [s for s in check_stops(slab.field(), RULES) if s.blocks]
    assert [s.stop_id for s in blocked] == [stop]
    clearing = Clearing(stop, "E. Invented, engineer", dt.date(2025, 5, 6), "Looked at and fit for it.")
    cleared = replace(slab, stops=replace(slab.stops, clearings=(clearing,)))
    passed = check_stops(cleared.field(), RULES)
    assert not any(s.blocks for s in passed)
    assert "E. Invented" in next(s.cleared_by for s in passed if s.stop_id == stop)
    # A clearing of another stop clears nothing here.
    other = STOP_IDS[(STOP_IDS.index(stop) + 1) % len(STOP_IDS)]
    wrong = replace(slab, stops=replace(slab.stops, clearings=(replace(clearing, stop=other),)))
    assert any(s.blocks for s in check_stops(wrong.field(), RULES))


def test_a_sound_known_slab_admits_everything() -> None:
    assert admissible(Slab()) == {P: True, B: True, U: True, R: True}


LOW_DOOR = (clearance(HeightKind.DOOR_SILL, "door", 2.0, egress_door=NO, swings_over=NO),)
FLIGHT = tuple(clearance(HeightKind.RISER, f"r{i}", 7.0, flight="f", order=i) for i in (1, 2, 3))


@pytest.mark.parametrize(
    ("slab", "expected"),
    [
        (Slab().told(still_moving=YES), {P: False, B: False, U: False, R: None}),
        (Slab().told(seasonal_movement=YES), {P: True, B: False, U: False, R: None}),
        (Slab().told(rocking_panels=("P1",)), {P: True, B: False, U: False, R: True}),
        (Slab().told(tree_roots=YES), {P: True, B: False, U: False, R: True}),
        (
            replace(Slab(), cracks=(crack("C1", "P1", 1.0, moving=YES),)),
            {P: True, B: False, U: True, R: True},
        ),
        (
            replace(Slab(), areas=(area(Distress.HOLLOW_SOUNDING, 0.4),)),
            {P: True, B: False, U: True, R: True},
        ),
        (
            replace(Slab(), areas=(*Slab().areas, area(Distress.DURABILITY_CRACKING, 0.1))),
            {P: True, B: False, U: True, R: True},
        ),
        (replace(Slab(), clearances=LOW_DOOR), {P: True, B: False, U: False, R: True}),
        (
            replace(Slab(), clearances=(clearance(HeightKind.WEEP_SCREED, "w", 3.5),)),
            {P: True, B: False, U: False, R: True},
        ),
        (
            replace(Slab(), clearances=(clearance(HeightKind.SIDING, "w", 5.0),)),
            {P: True, B: True, U: False, R: True},
        ),
        (
            replace(Slab(), clearances=(clearance(HeightKind.GARAGE_FLOOR, "g", 1.0),)),
            {P: True, B: False, U: False, R: True},
        ),
        (replace(Slab(), clearances=FLIGHT), {P: True, B: False, U: False, R: True}),
        (
            replace(Slab(), clearances=(clearance(HeightKind.GATE, "g", 1.0),)),
            {P: True, B: False, U: False, R: True},
        ),
        (replace(Slab(), planned_fall=-0.01), {P: True, B: False, U: False, R: True}),
        (
            replace(Slab(), conflicts=("The door and the drain cannot both be kept.",)),
            {P: True, B: False, U: False, R: True},
        ),
        (replace(Slab(), pieces=dict.fromkeys(Slab().pieces, 6)), {P: False, B: False, U: False, R: True}),
        (replace(Slab(), pieces={**Slab().pieces, "P1": 4}), {P: True, B: False, U: True, R: True}),
    ],
)
def test_what_refuses_what(slab: Slab, expected: dict[Option, bool | None]) -> None:
    assert admissible(slab) == expected
    for rating in slab.rank().ratings:
        assert (rating.admissible is False) == bool(rating.refusals)
        if rating.admissible is None:
            assert rating.missing
        for refusal in rating.refusals:
            assert refusal.reason.endswith(".")


@pytest.mark.parametrize(
    ("slab", "blocked"),
    [
        (Slab().told(still_moving=UNKNOWN), {B, U}),
        (replace(Slab(), site=SiteUse(Use.FOOT, NO, YES, NO)).told(seasonal_movement=UNKNOWN), {B, U}),
        (Slab().told(rocking_panels=None), {B, U}),
        (replace(Slab(), areas=()).told(sounded=UNKNOWN), {B}),
        (replace(Slab(), levelled=False), {B, U}),
        (replace(Slab(), unseen=0.4).told(walked_over=UNKNOWN), {P, B, U}),
        (Slab().told(walked_over=UNKNOWN), {P, B, U}),
        (replace(Slab(), clearances=(clearance(HeightKind.DOOR_SILL, "door", None),)), {B, U}),
        (replace(Slab(), clearances=(replace(FLIGHT[0], height_mm=None), *FLIGHT[1:])), {B, U}),
        (replace(Slab(), clearances=()).told(heights_listed=UNKNOWN), {B, U}),
        (Slab().told(heights_listed=NO), {B, U}),
        (replace(Slab(), pieces=dict.fromkeys(Slab().pieces)), {P, B, U}),
    ],
)
def test_what_is_missing_blocks_without_refusing(slab: Slab, blocked: set[Option]) -> None:
    told = admissible(slab)
    assert {option for option, value in told.items() if value is None} >= blocked
    assert False not in told.values()


def test_a_value_on_its_limit_is_told_and_not_firm() -> None:
    # 2 in at the thinnest point, give or take 1/16 in: it meets the limit as likely as not.
    thin = {**Slab().thickness_min_mm, B: 50.9}
    slab = replace(Slab(), thickness_min_mm=thin, areas=(*Slab().areas, area(Distress.SCALING, 0.4)))
    assert admissible(slab)[B] is True
    assert slab.rank().firmness == "leaning"
    assert admissible(replace(slab, thickness_min_mm={**thin, B: 50.0}))[B] is None
    assert admissible(replace(slab, thickness_min_mm={**thin, B: 48.0}))[B] is False


def test_road_limits_never_refuse_alone_on_a_walk() -> None:
    wide = tuple(crack(f"C{i}", f"P{i}", 30.0) for i in range(1, 7))
    told = admissible(replace(Slab(), cracks=wide))
    assert told == {P: True, B: True, U: True, R: True}
    stepped = tuple(Fault((0.0, 0.0), 10.0, 0.2, f"C{i}", (f"P{i}",)) for i in range(1, 7))
    assert admissible(replace(Slab(), cracks=wide, faults=stepped))[B] is False


def test_access_rules_refuse_on_public_routes_only() -> None:
    lip = (*Slab().clearances, clearance(HeightKind.ADJOINING_WALK, "path", 0.0))
    private = replace(Slab(), clearances=lip)
    assert admissible(private)[B] is True
    public = replace(private, site=SiteUse(Use.FOOT, YES, NO, NO))
    assert admissible(public)[B] is False
