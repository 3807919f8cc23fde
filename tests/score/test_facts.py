"""State of each panel and shares of the area."""

from __future__ import annotations

from dataclasses import replace

import pytest
from invented_slab import PANEL_IDS, Slab, crack

from analyzer.records import Fault, SiteUse
from analyzer.score.evidence import nominal_world
from analyzer.score.facts import gather_facts
from analyzer.score.judgement import make_case
from analyzer.score.options import load_options
from analyzer.terms import Answer, Distress, Use
from analyzer.units import MM_PER_IN

RULES = load_options()


def facts_of(slab: Slab):  # type: ignore[no-untyped-def]
    case = make_case(
        slab.findings(), slab.field(), slab.distress(), slab.layout(), slab.levels(), slab.plans(), RULES
    )
    return gather_facts(nominal_world(case.evidence, RULES), case.laid, RULES)


def state_of(slab: Slab, panel: str) -> str:
    facts = facts_of(slab)
    held = [name for name, value in facts.states.items() if value[0, PANEL_IDS.index(panel)]]
    assert len(held) <= 1
    return held[0] if held else "sound"


def step(panel: str, inches: float, along: str = "C1") -> Fault:
    return Fault((0.0, 0.0), inches * MM_PER_IN, 0.2, along, (panel,))


WIDE = (crack("C1", "P2", 8.0),)


@pytest.mark.parametrize(
    ("slab", "state"),
    [
        (Slab(), "sound"),
        (replace(Slab(), pieces={**Slab().pieces, "P2": 4}), "broken"),
        (replace(Slab(), pieces={**Slab().pieces, "P2": 3}), "sound"),
        (Slab().told(rocking_panels=("P2",)), "broken"),
        # A road severity alone never makes a panel of a walk bad: it needs company.
        (replace(Slab(), cracks=WIDE), "cracked"),
        (replace(Slab(), cracks=WIDE, faults=(step("P2", 0.3),)), "broken"),
        (replace(Slab(), cracks=WIDE, settlement_in={**Slab().settlement_in, "P2": 1.0}), "broken"),
        (replace(Slab(), settlement_in={**Slab().settlement_in, "P2": 1.0}), "settled"),
        (replace(Slab(), faults=(step("P2", 0.6, "J1"),)), "settled"),
        (replace(Slab(), faults=(step("P2", 0.4, "J1"),)), "sound"),
        (replace(Slab(), cracks=(crack("C1", "P2", 4.0),)), "cracked"),
        (replace(Slab(), cracks=(crack("C1", "P2", 1.0),)), "sound"),
        (replace(Slab(), cracks=(crack("C1", "P2", 1.0, distress=Distress.CORNER_BREAK),)), "cracked"),
    ],
)
def test_state_of_a_panel(slab: Slab, state: str) -> None:
    assert state_of(slab, "P2") == state
    assert state_of(slab, "P6") == "sound"


def test_road_limits_count_alone_under_wheels() -> None:
    wheels = SiteUse(Use.CAR, Answer.NO, Answer.NO, Answer.NO)
    stepped = replace(Slab(), cracks=(crack("C1", "P2", 4.0),), faults=(step("P2", 0.3),))
    assert state_of(stepped, "P2") == "cracked"
    assert state_of(replace(stepped, site=wheels), "P2") == "broken"


def test_a_step_between_two_panels_counts_for_the_one_that_moved() -> None:
    fault = replace(step("P1", 0.7, "J1"), panels=("P1", "P2"))
    slab = replace(Slab(), faults=(fault,), settlement_in={**Slab().settlement_in, "P2": 0.7})
    assert (state_of(slab, "P1"), state_of(slab, "P2")) == ("sound", "settled")
    unlevelled = replace(slab, levelled=False)
    assert (state_of(unlevelled, "P1"), state_of(unlevelled, "P2")) == ("settled", "settled")


def test_shares_add_up() -> None:
    slab = replace(
        Slab(), pieces={**Slab().pieces, "P2": 4, "P3": 5}, settlement_in={**Slab().settlement_in, "P1": 1.0}
    )
    values = facts_of(slab).values
    assert values["broken_share"][0] == pytest.approx(2 / 6)
    assert values["settled_share"][0] == pytest.approx(1 / 6)
    assert values["sound_share"][0] == pytest.approx(3 / 6)


def test_what_nobody_saw_is_not_sound() -> None:
    slab = replace(Slab(), unseen=0.4).told(walked_over=Answer.UNKNOWN)
    assert facts_of(slab).values["sound_share"][0] == pytest.approx(0.6)


def test_a_crack_without_a_place_counts_somewhere() -> None:
    slab = replace(Slab(), cracks=(crack("C1", "P9", 8.0),))
    assert facts_of(slab).values["cracked_share"][0] == pytest.approx(1 / 6)
