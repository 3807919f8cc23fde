"""The decision in many worlds: probabilities against a plain loop and against many more draws."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_slab import Slab, area, clearance, crack

from analyzer.score.judgement import judge, make_case
from analyzer.score.options import load_options
from analyzer.score.scoring import headline_of
from analyzer.terms import Answer, Distress, Headline, HeightKind, Option

RULES = load_options()
UNKNOWN = Answer.UNKNOWN


def case_of(slab: Slab, rules=RULES):  # type: ignore[no-untyped-def]
    return make_case(
        slab.findings(), slab.field(), slab.distress(), slab.layout(), slab.levels(), slab.plans(), rules
    )


def worn(share: float, **changed):  # type: ignore[no-untyped-def]
    return replace(Slab(), areas=(*Slab().areas, area(Distress.SCALING, share, **changed)))


TEN = [
    worn(0.11, area_u_mm2=1.5e6),
    worn(0.3).told(tree_roots=UNKNOWN),
    worn(0.3).told(still_moving=UNKNOWN, rocking_panels=None),
    replace(worn(0.3), thickness_min_mm={**Slab().thickness_min_mm, Option.OVERLAY_BONDED: 51.5}),
    replace(worn(0.3), clearances=(clearance(HeightKind.DOOR_SILL, "d", 3.3, height_u_mm=3.0),)),
    replace(
        Slab(),
        settlement_in={**Slab().settlement_in, "P1": 0.76, "P2": 0.74},
        pieces={**Slab().pieces, "P1": 3},
    ),
    replace(
        Slab(),
        cracks=tuple(crack(f"C{i}", f"P{i}", 5.9, width_max_u_mm=0.3) for i in range(1, 6)),
        settlement_in=dict.fromkeys(Slab().pieces, 0.75),
    ),
    replace(Slab(), pieces={**Slab().pieces, "P1": 4, "P2": None, "P3": None}),
    replace(Slab(), fall=0.0104),
    replace(Slab(), unseen=0.3).told(walked_over=UNKNOWN),
]


@pytest.mark.parametrize("number", range(10))
def test_two_thousand_draws_against_two_hundred_thousand(number: int) -> None:
    case = case_of(TEN[number])
    few = judge(case)
    # Another generator, another seed, a hundred times as many, in ten parts.
    generator = np.random.Generator(np.random.MT19937(7))
    width = len(case.evidence.key_names) + 1
    parts = [judge(case, generator.standard_normal((20000, width))) for _ in range(10)]
    admissible = np.mean([part.admissible for part in parts], axis=0)
    first = np.mean([part.first for part in parts], axis=0)
    for share, truth in ((few.admissible, admissible), (few.first, first)):
        # Five standard deviations of a share over 2,000 draws.
        slack = 5 * np.sqrt(truth * (1 - truth) / RULES.count) + 2 / RULES.count
        assert (np.abs(share - truth) <= slack).all()


def test_the_ten_cases_are_not_all_certain() -> None:
    shares = [share for slab in TEN for share in judge(case_of(slab)).admissible]
    assert sum(0.02 < share < 0.98 for share in shares) >= 10


def test_an_inadmissible_option_more_or_less_changes_no_winner() -> None:
    low = (clearance(HeightKind.DOOR_SILL, "d", 2.0, egress_door=Answer.NO, swings_over=Answer.NO),)
    for slab in (replace(worn(0.3), clearances=low), replace(Slab(), pieces=dict.fromkeys(Slab().pieces, 6))):
        full = judge(case_of(slab))
        out = [option for option in RULES.options if full.verdicts[option].admissible is False]
        assert out
        for option in out:
            column = RULES.options.index(option)
            fewer = replace(
                RULES,
                options=tuple(o for o in RULES.options if o is not option),
                criteria=tuple(
                    replace(c, points=c.points[:column] + c.points[column + 1 :]) for c in RULES.criteria
                ),
            )
            assert judge(case_of(slab, fewer)).best is full.best


def test_headline_is_open_exactly_without_a_recommendation() -> None:
    for slab in (*TEN, Slab(), worn(0.4)):
        judgement = judge(case_of(slab))
        assert (judgement.headline is Headline.NONE_YET) == (judgement.firmness == "open")
        if judgement.headline is not Headline.NONE_YET:
            assert judgement.headline is headline_of(judgement.best)
            assert judgement.verdicts[judgement.best].admissible is True


def test_nobody_breaks_out_a_slab_that_nobody_looked_at() -> None:
    unseen = replace(Slab(), pieces=dict.fromkeys(Slab().pieces), levelled=False).told(walked_over=UNKNOWN)
    judgement = judge(case_of(unseen))
    assert judgement.headline is Headline.NONE_YET
    assert judgement.rival is Option.PATCH


def test_panels_that_nobody_drew_leave_the_answer_open() -> None:
    rocking = Slab().told(rocking_panels=("P9",))
    told = judge(case_of(rocking))
    assert all(("joints" in dict(v.notes)) for v in told.verdicts.values())
    assert told.firmness != "firm"
    single = replace(rocking.layout(), panels=rocking.layout().panels[:1])
    case = make_case(
        rocking.findings(),
        rocking.field(),
        rocking.distress(),
        single,
        rocking.levels(),
        rocking.plans(),
        RULES,
    )
    alone = judge(case)
    assert alone.headline is Headline.NONE_YET
    assert all(("joints" in dict(v.missing)) for v in alone.verdicts.values())
