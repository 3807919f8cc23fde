"""The recommendation: what the trade would say, what stops say, and nothing from empty boxes."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import fields, replace

import pytest
from invented_slab import PANEL_IDS, Slab, answers, area, clearance, crack

from analyzer.records import Clearing, Contradiction, SiteUse, SlabFacts, StopAnswers
from analyzer.score.options import STOP_IDS
from analyzer.terms import Answer, Distress, Firmness, Headline, HeightKind, Option

NO, YES, UNKNOWN = Answer.NO, Answer.YES, Answer.UNKNOWN
SOUND = Slab().areas

# Six slabs as the trade meets them (common practice, no source), each changed in what makes it so.
WORN = replace(Slab(), areas=(*SOUND, area(Distress.SCALING, 0.35)), fall=0.009)
SETTLED = replace(
    Slab(),
    cracks=tuple(crack(f"C{i}", f"P{i}", 9.0) for i in (1, 2, 4, 5)),
    settlement_in={"P1": 1.5, "P2": 1.2, "P3": 0.1, "P4": 1.8, "P5": 1.4, "P6": 0.0},
    pieces={"P1": 3, "P2": 4, "P3": 1, "P4": 5, "P5": 3, "P6": 1},
    fall=-0.005,
)
ONE_BAD = replace(
    Slab(),
    cracks=(crack("C1", "P5", 8.0), crack("C2", "P5", 7.0)),
    pieces={**Slab().pieces, "P5": 4},
    settlement_in={**Slab().settlement_in, "P5": 1.1},
)
NO_HEIGHT = replace(
    WORN,
    fall=0.02,
    clearances=(clearance(HeightKind.DOOR_SILL, "hall door", 1.25, egress_door=NO, swings_over=NO),),
)
HAIRLINES = replace(
    Slab(),
    cracks=tuple(
        crack(f"C{i}", f"P{i}", None, width_upper_mm=0.6, distress=Distress.SHRINKAGE_CRACK)
        for i in (1, 2, 4)
    ),
)
MAPPED = replace(Slab(), areas=(*SOUND, area(Distress.MAP_CRACKING, 0.6)))
SIX = {
    "worn": (WORN, Option.OVERLAY_BONDED),
    "settled": (SETTLED, Option.REMOVAL),
    "one bad": (ONE_BAD, Option.PATCH),
    "no height": (NO_HEIGHT, Option.PATCH),
    "hairlines": (HAIRLINES, Option.PATCH),
    "mapped": (MAPPED, Option.OVERLAY_BONDED),
}


@pytest.mark.parametrize("name", SIX)
def test_six_slabs_as_the_trade_would_decide_them(name: str) -> None:
    slab, option = SIX[name]
    ranking = slab.rank()
    assert (ranking.option, ranking.firmness) == (option, Firmness.FIRM)
    assert ranking.reasons_for
    assert len(ranking.reasons_for) <= 3
    assert len(ranking.reasons_against) <= 3


def test_the_reasons_are_the_right_ones() -> None:
    assert any("35 %" in reason.sentence for reason in WORN.rank().reasons_for)
    assert any("4 of 6 panels" in reason.sentence for reason in SETTLED.rank().reasons_for)
    refusal = next(r for r in NO_HEIGHT.rank().reasons_for if "no height left at the door" in r.sentence)
    assert refusal.finding_ids == (f"DOOR-SILL@door sill hall door/{Option.OVERLAY_BONDED}",)
    assert "seal cracks in 3 panels" in HAIRLINES.rank().sentence
    assert "replace 1 panel (P5)" in ONE_BAD.rank().sentence


def test_disease_signs_part_the_overlays() -> None:
    assert MAPPED.told(white_deposits=YES).rank().option is Option.OVERLAY_UNBONDED
    unsure = MAPPED.told(white_deposits=UNKNOWN).rank()
    assert (unsure.headline, unsure.firmness) == (Headline.OVERLAY, Firmness.LEANING)
    assert "white or glassy" in unsure.next_measurements[0].what


def test_a_step_worth_curing_makes_a_sound_slab_worth_an_overlay() -> None:
    # Common practice, no source: a step of 10 in or more is a defect worth curing.
    tall = replace(Slab(), clearances=(clearance(HeightKind.RISER, "r", 9.75),))
    assert tall.rank().headline is Headline.OVERLAY
    even = replace(Slab(), clearances=(clearance(HeightKind.RISER, "r", 7.0),))
    assert even.rank().headline is Headline.PATCH


@pytest.mark.parametrize("answer", [YES, UNKNOWN])
@pytest.mark.parametrize("stop", STOP_IDS)
@pytest.mark.parametrize("name", ["worn", "settled"])
def test_stops_come_before_advice(name: str, stop: str, answer: Answer) -> None:
    ranking = replace(SIX[name][0], stops=answers(**{stop: answer})).rank()
    assert (ranking.headline, ranking.option, ranking.firmness) == (Headline.NONE_YET, None, Firmness.OPEN)
    assert stop.replace("_", " ") in ranking.sentence
    assert ranking.panel_actions == ()
    assert all(r.admissible is None and not r.contributions for r in ranking.ratings)
    advice = [ranking.sentence, *ranking.cautions, *ranking.would_change]
    advice += [m.what for m in ranking.next_measurements]
    for verb in ("pour", "saw", "rout", "core", "drill", "remove", "break", "overlay", "grind"):
        assert not [text for text in advice if re.search(rf"\b{verb}\b", text.lower())], verb


def test_a_cleared_stop_lets_advice_through() -> None:
    clearing = Clearing("post_tension", "E. Invented, engineer", dt.date(2025, 5, 6), "No cables: mesh only.")
    stops = StopAnswers(**{**dict.fromkeys(STOP_IDS, NO), "post_tension": UNKNOWN}, clearings=(clearing,))
    assert replace(WORN, stops=stops).rank().headline is Headline.OVERLAY


def empty(**kept: object) -> Slab:
    return replace(
        Slab(),
        **{
            "site": SiteUse(),
            "stops": StopAnswers(),
            "facts": SlabFacts(),
            "areas": (),
            "pieces": {},
            "levelled": False,
            "clearances": (),
            "edges": (),
            **kept,
        },
    )


def test_an_empty_book_gives_no_recommendation() -> None:
    ranking = empty().rank()
    assert ranking.headline is Headline.NONE_YET
    assert len([s for s in ranking.stops if s.blocks]) == 8
    # With only the stops answered nothing is known of the slab yet: not even that it has to go.
    ranking = empty(stops=answers()).rank()
    assert (ranking.headline, ranking.firmness) == (Headline.NONE_YET, Firmness.OPEN)
    assert ranking.next_measurements


def test_looking_is_not_measuring() -> None:
    # Walked over and nothing else: not enough for an overlay, nor firm for anything.
    ranking = empty(
        stops=answers(), facts=SlabFacts(walked_over=YES), pieces=dict.fromkeys(PANEL_IDS, 1)
    ).rank()
    assert ranking.headline is not Headline.OVERLAY
    assert ranking.firmness is not Firmness.FIRM


READINGS = [
    f.name for f in fields(SlabFacts) if f.name not in ("age_years", "pours_of_different_dates", "reinforced")
]
ORDER = {Firmness.OPEN: 0, Firmness.LEANING: 1, Firmness.FIRM: 2}


def without(slab: Slab, reading: str) -> Slab:
    if reading == "levels":
        return replace(slab, levelled=False)
    if reading == "heights":
        return replace(
            slab, clearances=tuple(replace(c, height_mm=None, height_u_mm=None) for c in slab.clearances)
        )
    if reading == "height list":
        return replace(slab, clearances=()).told(heights_listed=UNKNOWN)
    if reading == "widths":
        return replace(
            slab, cracks=tuple(replace(c, width_max_mm=None, width_upper_mm=None) for c in slab.cracks)
        )
    if reading == "pieces":
        return replace(slab, pieces=dict.fromkeys(slab.pieces))
    if reading == "areas":
        return replace(slab, areas=()).told(sounded=UNKNOWN, walked_over=UNKNOWN)
    if reading == "use":
        return replace(slab, site=replace(slab.site, use=None))
    if reading == "edges":
        return replace(slab, edges=())
    gone = None if reading in ("thickness", "rocking_panels", "ponding_depth") else UNKNOWN
    return slab.told(**{reading: gone})


@pytest.mark.parametrize(
    "reading", [*READINGS, "levels", "heights", "height list", "widths", "pieces", "areas", "use", "edges"]
)
@pytest.mark.parametrize("name", SIX)
def test_every_single_reading_missing(name: str, reading: str) -> None:
    slab, _ = SIX[name]
    before, after = slab.rank(), without(slab, reading).rank()
    assert ORDER[after.firmness] <= ORDER[before.firmness]
    was = {r.option: r.admissible for r in before.ratings}
    for rating in after.ratings:
        # What a reading had refused is not admitted for want of it, except by the reading's own absence.
        if was[rating.option] is False and rating.admissible is True:
            assert after.firmness is not Firmness.FIRM, rating.option


@pytest.mark.parametrize(
    ("adverse", "gone"),
    [
        (Slab().told(still_moving=YES), Slab().told(still_moving=UNKNOWN)),
        (Slab().told(rocking_panels=("P1", "P2", "P3", "P4")), Slab().told(rocking_panels=None)),
        (WORN.told(tree_roots=YES), WORN.told(tree_roots=UNKNOWN)),
        (MAPPED.told(white_deposits=YES), MAPPED.told(white_deposits=UNKNOWN)),
        (NO_HEIGHT, without(NO_HEIGHT, "heights")),
        (NO_HEIGHT, without(NO_HEIGHT, "height list")),
        (SETTLED, without(SETTLED, "levels")),
        (SETTLED, without(SETTLED, "pieces")),
    ],
)
def test_leaving_an_adverse_box_empty_earns_nothing(adverse: Slab, gone: Slab) -> None:
    before, after = adverse.rank(), gone.rank()
    out = {r.option for r in before.ratings if r.admissible is not True}
    assert not (after.firmness is Firmness.FIRM and after.option in out)


def test_nothing_that_opens_the_slab_is_ever_a_next_measurement() -> None:
    for slab in (empty(), empty(stops=answers()), *(without(WORN, reading) for reading in READINGS)):
        for measurement in slab.rank().next_measurements:
            assert not re.search(r"\b(core|coring|drill|saw|cut|break|chip)\b", measurement.what.lower())


def test_contradictions_keep_an_answer_from_being_firm() -> None:
    told = Contradiction("crack C1", "the gauge reads 3 mm and the photo 1 mm; the gauge is used")
    assert replace(WORN, contradictions=(told,)).rank().firmness is Firmness.LEANING


def test_probabilities_are_shares_and_not_in_any_sentence() -> None:
    ranking = replace(WORN, facts=replace(WORN.facts, tree_roots=UNKNOWN)).rank()
    assert (
        0.85
        < next(r.probability_admissible for r in ranking.ratings if r.option is Option.OVERLAY_BONDED)
        < 0.95
    )
    assert sum(r.probability_first for r in ranking.ratings) == pytest.approx(1.0)
    texts = [ranking.sentence, *(r.sentence for r in ranking.reasons_for + ranking.reasons_against)]
    assert not [text for text in texts if "probab" in text.lower() or "chance" in text.lower()]


def test_order_of_stations_panels_and_findings_does_not_matter() -> None:
    slab = replace(
        ONE_BAD,
        cracks=tuple(reversed(ONE_BAD.cracks)),
        pieces=dict(reversed(ONE_BAD.pieces.items())),
        settlement_in=dict(reversed(ONE_BAD.settlement_in.items())),
    )
    one, two = ONE_BAD.rank(), slab.rank()
    assert one.sentence == two.sentence
    assert [r.total for r in one.ratings] == pytest.approx([r.total for r in two.ratings])
