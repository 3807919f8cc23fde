"""Value of information: against a direct computation, and in an order a person would understand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_slab import Slab, area

from analyzer.records import StationLevel
from analyzer.score.evidence import standard_draws
from analyzer.score.judgement import judge, make_case
from analyzer.score.options import load_options
from analyzer.score.voi import next_measurements, worth_of_readings, would_make_surer
from analyzer.terms import Answer, Distress, Firmness
from analyzer.units import Reading

RULES = load_options()
UNKNOWN = Answer.UNKNOWN
WORN = replace(Slab(), areas=(*Slab().areas, area(Distress.SCALING, 0.35)), fall=0.009)
MAPPED = replace(Slab(), areas=(*Slab().areas, area(Distress.MAP_CRACKING, 0.6))).told(white_deposits=UNKNOWN)


def told(slab: Slab):  # type: ignore[no-untyped-def]
    case = make_case(
        slab.findings(), slab.field(), slab.distress(), slab.layout(), slab.levels(), slab.plans(), RULES
    )
    normal = standard_draws(case.evidence, RULES)
    judgement = judge(case, normal)
    return case, judgement, normal, worth_of_readings(case, judgement, normal)


def test_worth_of_a_yes_or_no_against_its_definition() -> None:
    case, judgement, normal, worth = told(MAPPED)
    key = case.evidence.key_names.index(("slab", "reaction_signs"))
    # By definition: the best choice when the answer is known, less the best choice without it. The answer is
    # yes in the worlds where its draw passes the threshold of its prior chance.
    utility = np.where(judgement.drawn.refused, -200.0, judgement.drawn.points.totals)
    index = next(i for i, f in enumerate(case.evidence.findings) if f.limit.quantity == "reaction_signs")
    yes = normal[:, key] > case.evidence.threshold[index]
    known = yes.mean() * utility[yes].mean(axis=0).max() + (~yes).mean() * utility[~yes].mean(axis=0).max()
    expected = known - utility.mean(axis=0).max()
    assert expected > 5
    assert worth[key] == pytest.approx(expected, rel=0.1)


def test_a_reading_that_is_known_is_worth_nothing() -> None:
    case, _, _, worth = told(WORN)
    roots = case.evidence.key_names.index(("slab", "tree_roots"))
    assert worth[roots] == 0.0
    assert worth[-1] == 0.0  # all of the slab was seen
    assert (worth >= 0).all()


def test_the_reading_that_settles_it_comes_first() -> None:
    first = MAPPED.rank().next_measurements[0]
    assert "deposits" in first.what
    assert first.worth > 5
    unsounded = replace(WORN, areas=WORN.areas[1:]).told(sounded=UNKNOWN).rank()
    assert "chain" in unsounded.next_measurements[0].what
    unlevelled = replace(WORN, levelled=False).rank()
    assert "level readings" in unlevelled.next_measurements[0].what
    assert MAPPED.told(white_deposits=Answer.NO).rank().next_measurements[0].worth < first.worth


def test_what_an_option_waits_for_is_asked_before_what_is_only_noted() -> None:
    slab = replace(Slab(), unseen=0.4).told(walked_over=UNKNOWN)
    asked = [m.what for m in slab.rank().next_measurements]
    assert asked[0].startswith("Walk over the whole slab")


def test_every_measurement_says_why_and_how_much_work() -> None:
    case, judgement, _, worth = told(
        replace(WORN, levelled=False).told(still_moving=UNKNOWN, rocking_panels=None)
    )
    measurements = next_measurements(case, judgement, worth)
    assert len(measurements) >= 3
    assert len({m.what for m in measurements}) == len(measurements)
    for measurement in measurements:
        assert measurement.why
        assert measurement.effort
    assert next_measurements(case, judgement, worth, limit=2) == measurements[:2]


def test_a_firm_answer_still_says_what_would_make_it_surer() -> None:
    ranking = Slab().rank()
    assert ranking.firmness is Firmness.FIRM
    told = {m.what: m.why for m in ranking.next_measurements}
    photo = next(why for what, why in told.items() if what.startswith("Photograph the whole slab"))
    assert photo.startswith("would make it surer: ")
    # The invented slab has four stations in a panel and a thickness with its uncertainty.
    assert not any("level readings" in what for what in told)
    assert not any("thickness at 2 open edges" in what for what in told)
    thin = Slab().told(thickness=Reading(100.0, None, "100 mm")).rank()
    assert any("thickness at 2 open edges" in m.what for m in thin.next_measurements)


def test_corners_without_a_level_are_asked_for() -> None:
    case, *_ = told(Slab())
    levels = Slab().levels()
    assert levels is not None
    corner = StationLevel("A", 0.0, 0.0, 0.0, 3.0, 0.0, "P1")
    bare = replace(levels, corners=(corner,))
    for read, asks in ((levels, False), (bare, True), (None, True)):
        found = would_make_surer(case, read, Slab().layout(), Slab().distress(), ())
        assert any("level readings at the corners" in m.what for m in found) is asks
    # What is asked for anyway is not asked for twice.
    asked = would_make_surer(case, bare, Slab().layout(), Slab().distress(), ())
    assert would_make_surer(case, bare, Slab().layout(), Slab().distress(), asked) == ()
