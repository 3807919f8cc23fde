"""Movement and its signs."""

from __future__ import annotations

from dataclasses import replace

import pytest
from invented_slab import Slab

from analyzer.records import SiteUse
from analyzer.terms import Abuts, Answer, Support, Use, Verdict

NO, YES, UNKNOWN = Answer.NO, Answer.YES, Answer.UNKNOWN
VERDICTS = {YES: Verdict.EXCEEDS, NO: Verdict.WITHIN, UNKNOWN: Verdict.NOT_DETERMINED}


@pytest.mark.parametrize("answer", list(Answer))
@pytest.mark.parametrize(
    ("question", "limit"),
    [
        ("still_moving", "CRACK-ACTIVE-FIRST.slab"),
        ("tree_roots", "TREE-ROOTS"),
        ("expansive_ground", "SETTLE-CAUSES.expansive"),
        ("rust_stains", "TOOL-RUST"),
    ],
)
def test_answers_become_findings(question: str, limit: str, answer: Answer) -> None:
    assert Slab().told(**{question: answer}).by_id()[f"{limit}@slab"].verdict is VERDICTS[answer]


def test_seasons_need_frost_or_clay() -> None:
    name = "FROST-HEAVE-CLUE@slab"
    unsaid = Slab().told(seasonal_movement=UNKNOWN)
    assert unsaid.by_id()[name].verdict is Verdict.WITHIN
    frost = replace(unsaid, site=SiteUse(Use.FOOT, NO, YES, NO))
    assert frost.by_id()[name].verdict is Verdict.NOT_DETERMINED
    assert unsaid.told(expansive_ground=UNKNOWN).by_id()[name].verdict is Verdict.NOT_DETERMINED
    assert Slab().told(seasonal_movement=YES).by_id()[name].verdict is Verdict.EXCEEDS


def test_rocking_tried_not_tried_and_found() -> None:
    assert Slab().by_id()["UFC-JACK-NEED.rocking@slab"].verdict is Verdict.WITHIN
    untried = Slab().told(rocking_panels=None).by_id()
    assert untried["UFC-JACK-NEED.rocking@slab"].verdict is Verdict.NOT_DETERMINED
    assert Slab().told(rocking_panels=("P4",)).by_id()["UFC-JACK-NEED.rocking@P4"].verdict is Verdict.EXCEEDS


def test_support_below_open_edges() -> None:
    assert Slab().by_id()["UFC-JACK-NEED.support@edges"].verdict is Verdict.WITHIN
    edges = Slab().edges
    partly = replace(Slab(), edges=(replace(edges[0], support=Support.PARTLY_WASHED), *edges[1:])).by_id()
    assert partly["UFC-JACK-NEED.washed-edge@edge A-B"].verdict is Verdict.EXCEEDS
    assert partly["UFC-JACK-NEED.support@edges"].verdict is Verdict.WITHIN
    washed = (replace(edges[0], support=Support.UNDERMINED), *edges[1:])
    assert replace(Slab(), edges=washed).by_id()["UFC-JACK-NEED.support@edge A-B"].verdict is Verdict.EXCEEDS
    unseen = (replace(edges[0], support=Support.UNKNOWN), *edges[1:])
    assert (
        replace(Slab(), edges=unseen).by_id()["UFC-JACK-NEED.support@edges"].verdict is Verdict.NOT_DETERMINED
    )
    hidden = tuple(replace(edge, abuts=Abuts.HOUSE) for edge in edges)
    assert (
        replace(Slab(), edges=hidden).by_id()["UFC-JACK-NEED.support@edges"].verdict is Verdict.NOT_DETERMINED
    )
