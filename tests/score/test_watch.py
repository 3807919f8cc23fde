"""Panels beyond the warning limit of 1/4 in and short of the 3/4 in of a settled one are told by number."""

from __future__ import annotations

from dataclasses import replace

import pytest
from invented_slab import Slab

from analyzer.records import Ranking
from analyzer.score.judgement import make_case
from analyzer.score.options import load_options
from analyzer.score.watch import low_panels, low_words
from analyzer.terms import Firmness, Option
from analyzer.units import MM_PER_IN

RULES = load_options()


def lying(**inches: float) -> Slab:
    return replace(Slab(), settlement_in={**Slab().settlement_in, **inches})


def texts(ranking: Ranking) -> list[str]:
    reasons = ranking.reasons_for + ranking.reasons_against
    return [ranking.sentence, *(r.sentence for r in reasons), *(a.reason for a in ranking.panel_actions)]


# N.J.A.C. 5:25-3.5 (read): a slab may not lie more than 1/4 in off; ACI 117 as the US Access Board quotes
# it (read as quoted): 3/4 in for the top of a new slab on ground.
@pytest.mark.parametrize(("inches", "watched"), [(0.1, False), (0.625, True), (1.2, False), (-0.5, True)])
def test_watched_between_the_two_limits(inches: float, watched: bool) -> None:
    slab = lying(P4=inches)
    parts = slab.findings(), slab.field(), slab.distress(), slab.layout(), slab.levels(), slab.plans()
    case = make_case(*parts, RULES)
    lows = low_panels(case.evidence, case.laid)
    assert [low.panel_id for low in lows] == (["P4"] if watched else [])
    for low in lows:
        assert low.off_mm == pytest.approx(abs(inches) * MM_PER_IN)
        assert low.limit_mm == pytest.approx(0.25 * MM_PER_IN)
        assert low.next_mm == pytest.approx(0.75 * MM_PER_IN)
        told = low_words(low, "imperial", RULES.phrases)
        assert told == ('P4 lies 5/8" low' if inches > 0 else 'P4 stands 1/2" high')


def test_a_low_panel_is_told_in_reasons_panel_line_and_headline() -> None:
    ranking = lying(P4=0.625).rank(what_if=True)
    assert ranking.option is Option.PATCH
    assert not [text for text in texts(ranking) if "not settled" in text or "or settled" in text]
    against = ranking.reasons_against[0]
    assert against.sentence.startswith('P4 lies 5/8" low: more than the 1/4"')
    assert against.finding_ids == ("NJ-WARRANTY-1/4.vertical@P4",)
    line = next(a for a in ranking.panel_actions if a.panel_id == "P4")
    assert "0.62 in" in line.reason
    assert line.finding_ids == ("NJ-WARRANTY-1/4.vertical@P4",)
    assert "Watch 1 panel (P4)" in ranking.sentence
    assert "nothing to repair" not in ranking.sentence
    # What would be done with it beyond the next limit is the first that would change the answer.
    assert ranking.would_change[0] == 'P4 more than 3/4" low (now 5/8"), then: lift it.'
    beyond = lying(P4=0.9).rank()
    assert next(a.action for a in beyond.panel_actions if a.panel_id == "P4") == "lift"


def test_a_panel_in_three_pieces_would_be_replaced() -> None:
    # MODOT-JACK-LIMIT (read): more than two pieces is normally replaced and not lifted.
    slab = replace(lying(P4=0.625), pieces={**Slab().pieces, "P4": 3})
    assert slab.rank(what_if=True).would_change[0].endswith("then: replace it.")


def test_a_slab_in_one_plane_has_nothing_to_watch() -> None:
    ranking = Slab().rank(what_if=True)
    assert not [text for text in (*texts(ranking), *ranking.would_change) if "low" in text.split()]
    assert "Watch" not in ranking.sentence


def test_open_readings_of_panels_that_stay_keep_a_repair_from_being_firm() -> None:
    assert lying(P4=0.625).rank().firmness is Firmness.FIRM
    # 3/4 in and within the uncertainty of the reading (0.8 mm): too close to call, and said.
    close = lying(P4=0.76).rank()
    assert (close.option, close.firmness) == (Option.PATCH, Firmness.LEANING)
    assert any(text.startswith("Panel P4, below the plane") for text in close.unknowns)
