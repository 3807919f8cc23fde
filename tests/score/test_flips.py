"""The smallest change that changes the answer: run again, it does; half of it does not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from invented_slab import Slab, area, clearance, crack

from analyzer.score.evidence import standard_draws
from analyzer.score.flips import changed_case, find_flips, headline_after
from analyzer.score.judgement import judge, make_case
from analyzer.score.options import load_options
from analyzer.terms import Answer, Distress, Headline, HeightKind, Option, UnitSystem
from analyzer.units import MM_PER_IN

RULES = load_options()
WORN = replace(Slab(), areas=(*Slab().areas, area(Distress.SCALING, 0.35)), fall=0.009)
ONE_BAD = replace(
    Slab(),
    cracks=(crack("C1", "P5", 8.0), crack("C2", "P1", 2.0)),
    pieces={**Slab().pieces, "P5": 4},
    settlement_in={**Slab().settlement_in, "P5": 1.1},
)
TALL = replace(Slab(), clearances=(clearance(HeightKind.RISER, "step", 10.0),))
SLABS = {"worn": WORN, "one bad": ONE_BAD, "tall": TALL, "sound": Slab()}


def compiled(slab: Slab):  # type: ignore[no-untyped-def]
    case = make_case(
        slab.findings(), slab.field(), slab.distress(), slab.layout(), slab.levels(), slab.plans(), RULES
    )
    return case, standard_draws(case.evidence, RULES)


def indices_of(case, flip):  # type: ignore[no-untyped-def]
    lead = next(
        i
        for i, f in enumerate(case.evidence.findings)
        if f.subject == flip.subject and f.limit.quantity == flip.quantity and f.option is None
    )
    key = case.evidence.key[lead]
    return [i for i, other in enumerate(case.evidence.key) if other == key]


@pytest.mark.parametrize("name", SLABS)
def test_the_reported_flip_flips_and_half_of_it_does_not(name: str) -> None:
    case, normal = compiled(SLABS[name])
    now = judge(case, normal)
    flips = find_flips(case, now, normal)
    assert flips
    for flip in flips:
        assert flip.headline is not now.headline
        indices = indices_of(case, flip)
        per = {"in": 1 / MM_PER_IN, "mm": 1.0, "percent": 100.0, "in/ft": 12.0}.get(flip.unit, 1.0)
        change = (flip.after - (flip.before or 0.0)) / per
        assert headline_after(case, indices, change, normal) is flip.headline
        if flip.unit != "answer":
            assert headline_after(case, indices, change / 2, normal) is now.headline, flip.sentence


def test_a_flip_is_the_same_when_the_reading_itself_is_changed() -> None:
    # Not only in the arrays: measure the door lower and the answer is the one that was foretold.
    flip = next(f for f in WORN.rank(what_if=True).flips if f.quantity == "door_weather_step")
    assert flip.before == pytest.approx(6.0)

    def ranked(height_in: float):  # type: ignore[no-untyped-def]
        lower = tuple(replace(c, height_mm=height_in * MM_PER_IN) for c in WORN.clearances)
        return replace(WORN, clearances=lower).rank()

    assert ranked(flip.after - 0.01).headline is flip.headline
    assert ranked((flip.after + flip.before) / 2).headline is Headline.OVERLAY


def test_one_reading_moves_in_all_its_findings() -> None:
    case, _ = compiled(WORN)
    door = [i for i, f in enumerate(case.evidence.findings) if f.subject == "door sill hall door"]
    moved = changed_case(case, door, -25.4).evidence.findings
    for i in door:
        assert moved[i].value == pytest.approx(case.evidence.findings[i].value - 1.0)
    assert {moved[i].option for i in door} == {None, *(o for o in Option if o is not Option.PATCH)}
    others = set(range(len(moved))) - set(door)
    assert all(moved[i] == case.evidence.findings[i] for i in others)


def test_answers_flip_as_a_whole_and_unknown_ones_are_said_to_be() -> None:
    flips = {f.quantity: f for f in WORN.rank(what_if=True).flips}
    assert (flips["tree_roots"].before, flips["tree_roots"].after) == (0.0, 1.0)
    assert "yes instead of no" in flips["tree_roots"].sentence
    asked = replace(WORN, areas=(*Slab().areas, area(Distress.MAP_CRACKING, 0.12))).told(
        white_deposits=Answer.UNKNOWN
    )
    open_flips = [f for f in asked.rank(what_if=True).flips if f.before is None]
    assert all("not answered" in f.sentence or "not measured" in f.sentence for f in open_flips)


def test_far_fetched_changes_are_not_told_and_panels_are_told_once() -> None:
    flips = Slab().rank(what_if=True).flips
    pieces = [f for f in flips if f.quantity == "pieces"]
    assert len(pieces) <= 1
    assert all(f.sentence.startswith(f"A panel in {f.after:.0f} pieces or more; then") for f in pieces)
    for slab in SLABS.values():
        for flip in slab.rank(what_if=True).flips:
            reach = RULES.reach.get(flip.quantity)
            assert reach is None or abs(flip.after - (flip.before or 0.0)) <= reach + 1e-9
            assert "leave the answer open" not in flip.sentence


def test_changes_are_told_in_the_units_of_the_job() -> None:
    case, normal = compiled(WORN)
    job = replace(case.field.job, units=UnitSystem.METRIC)
    metric = replace(case, field=replace(case.field, job=job))
    flips = find_flips(metric, judge(metric, normal), normal)
    door = next(f for f in flips if f.quantity == "door_weather_step")
    # 6 in are 152 mm (25.4 mm to the inch, exactly).
    assert "81 mm (now 152 mm); then we could not tell." in door.sentence
    assert [replace(f, sentence="") for f in flips] == [
        replace(f, sentence="") for f in find_flips(case, judge(case, normal), normal)
    ]


def test_no_flips_while_a_stop_is_open_or_when_not_asked_for() -> None:
    from analyzer import score

    case = (WORN.findings(), WORN.field(), WORN.distress(), WORN.layout(), WORN.levels(), WORN.plans())
    assert score.rank_options(*case, RULES, what_if=False).flips == ()
    assert score.rank_options(*case, RULES).would_change
