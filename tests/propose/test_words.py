"""Sentences say the number, the place and the source."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from analyzer.propose import plan_grades
from analyzer.propose.site import describe_site
from analyzer.propose.words import conflicts_in_words
from analyzer.records import DesignChoices, SiteUse
from analyzer.terms import Abuts, Answer, HeightKind, UnitSystem, Use
from analyzer.units import MM_PER_FT, MM_PER_IN

HOUSE_Y = 12 * MM_PER_FT


def test_two_conflicts_at_once_tell_what_the_nearest_plan_gives_up(
    make_site, no_panels, exact, clearance
) -> None:
    items = (
        clearance(HeightKind.WEEP_SCREED, (1000.0, HOUSE_Y), 2.5 * MM_PER_IN, "west wall"),
        clearance(HeightKind.GATE, (0.0, 0.0), 0.5 * MM_PER_IN, "yard gate"),
    )
    field, levels = make_site(lambda x, y: 0.02 * y)
    plan = plan_grades(levels, items, field, no_panels, exact)[0]
    assert len(plan.conflicts) == 2
    assert all(c.startswith("These cannot all be kept: ") for c in plan.conflicts)
    # Nothing alone would do, so that the shortfalls of the nearest plan are told: 1 1/2 in each.
    assert len(plan.relaxations) == 2
    assert all(r.startswith('The nearest plan falls short by 1-1/2" of this: ') for r in plan.relaxations)
    assert "yard gate stays" in "".join(plan.relaxations)
    assert "weep screed west wall stays" in "".join(plan.relaxations)


def test_a_step_left_low_is_told(make_site, no_panels, exact, clearance) -> None:
    step = clearance(HeightKind.RISER, (1000.0, HOUSE_Y), 5 * MM_PER_IN, "porch step")
    field, levels = make_site(lambda x, y: 0.02 * y)
    plan = plan_grades(levels, (step,), field, no_panels, exact)[0]
    assert any("porch step" in n and "trip" in n for n in plan.notes)


@pytest.mark.parametrize("answer", [Answer.YES, Answer.NO, Answer.UNKNOWN])
def test_an_open_public_route_is_said(make_site, no_panels, exact, answer: Answer) -> None:
    field, levels = make_site(lambda x, y: 0.02 * y, site=SiteUse(use=Use.FOOT, public_route=answer))
    plan = plan_grades(levels, (), field, no_panels, exact)[0]
    assert any("public route" in a for a in plan.assumptions) is (answer is Answer.UNKNOWN)


def test_no_conflict_no_words(make_site, no_panels, exact) -> None:
    field, levels = make_site(lambda x, y: 0.02 * y)
    field = dataclasses.replace(field, job=dataclasses.replace(field.job, units=UnitSystem.METRIC))
    place = describe_site(field, levels, (), no_panels, exact)
    assert conflicts_in_words(place, (), (), np.zeros(3)) == ((), ())
    assert place.length(50.8) == "51 mm"


def test_an_edge_that_may_be_a_house_is_told(make_site, no_panels, exact) -> None:
    field, levels = make_site(lambda x, y: 0.02 * y, abuts={0: Abuts.FREE})
    plan = plan_grades(levels, (), field, no_panels, exact)[0]
    assert any("B-C, C-D, D-A was not said" in a for a in plan.assumptions)
    field, levels = make_site(lambda x, y: 0.02 * y, abuts=dict.fromkeys(range(4), Abuts.FREE))
    plan = plan_grades(levels, (), field, no_panels, exact)[0]
    assert not any("was not said" in a for a in plan.assumptions)


def test_a_drain_that_nothing_runs_to_is_told(make_site, no_panels, exact, clearance) -> None:
    gully = clearance(HeightKind.DRAIN, (3000.0, 1800.0), 0.0, "gully")
    field, levels = make_site(lambda x, y: 0.02 * y)
    notes = " ".join(plan_grades(levels, (gully,), field, no_panels, exact)[0].notes)
    assert "Raise the rim of gully" in notes
    assert "not shaped to gather water at gully" in notes
    shaped = dataclasses.replace(field, edges=(), design=DesignChoices(fall_toward="gully"))
    notes = " ".join(plan_grades(levels, (gully,), shaped, no_panels, exact)[0].notes)
    assert "not shaped" not in notes
