"""The same rules in Spanish: every text there, nothing that decides touched, plain enough to read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
import textstat
from invented_slab import Slab, area, crack

from analyzer import rate
from analyzer.errors import RuleError
from analyzer.records import Ranking
from analyzer.score import load_options, rank_options
from analyzer.score.options import DEFAULT_WORDS
from analyzer.score.rules_told import rules_in, texts_of
from analyzer.terms import Answer, Distress

RULES = load_options()
SPANISH = rules_in(RULES, "es")
WORN = replace(Slab(), areas=(*Slab().areas, area(Distress.SCALING, 0.35)), fall=0.004)
MIXED = replace(
    Slab(),
    cracks=(crack("C1", "P5", 8.0), crack("C2", "P1", 1.0)),
    areas=(*Slab().areas, area(Distress.CORNER_BREAK, 0.004, "P3")),
    settlement_in={**Slab().settlement_in, "P4": 0.625},
)
OPEN = replace(WORN, levelled=False, areas=()).told(sounded=Answer.UNKNOWN, rocking_panels=None)
SLABS = {"worn": WORN, "mixed": MIXED, "open": OPEN, "sound": Slab()}


def ranked(slab: Slab, language: str) -> Ranking:
    parts = slab.distress(), slab.layout(), slab.levels()
    findings = rate.compare(*parts, slab.clearances, slab.plans(), slab.field(), rate.load_limits(), language)
    return rank_options(findings, slab.field(), *parts, slab.plans(), rules_in(RULES, language))


@pytest.mark.parametrize("name", SLABS)
def test_the_decision_is_the_same_in_both_languages(name: str) -> None:
    english, spanish = (ranked(SLABS[name], language) for language in ("en", "es"))
    assert (english.headline, english.option, english.firmness) == (
        spanish.headline,
        spanish.option,
        spanish.firmness,
    )
    assert [r.total for r in english.ratings] == [r.total for r in spanish.ratings]
    assert [f.after for f in english.flips] == [f.after for f in spanish.flips]
    for one, two in ((english.reasons_for, spanish.reasons_for), (english.unknowns, spanish.unknowns)):
        assert len(one) == len(two)
    assert english.sentence != spanish.sentence


@pytest.mark.parametrize("name", SLABS)
def test_spanish_is_plain(name: str) -> None:
    # Fernandez-Huerta by textstat; 60 and above is plain Spanish.
    ranking = ranked(SLABS[name], "es")
    texts = [ranking.sentence, *(r.sentence for r in ranking.reasons_for + ranking.reasons_against)]
    texts += [f"{m.what}. {m.why.capitalize()}." for m in ranking.next_measurements]
    textstat.set_lang("es")
    try:
        assert textstat.fernandez_huerta(" ".join(texts)) >= 60.0
    finally:
        textstat.set_lang("en")


def test_every_text_of_the_rules_is_translated() -> None:
    english, spanish = texts_of(RULES), texts_of(SPANISH)
    assert english.keys() == spanish.keys()
    # A text that stands alike in both was forgotten; numbers of minutes are alike.
    assert not [
        key for key in english if english[key] == spanish[key] and " " in english[key].strip("0123456789 ")
    ]
    assert rules_in(RULES, "en") is RULES


def test_a_table_with_a_text_missing_is_refused(tmp_path: Path) -> None:
    short = tmp_path / "words.es.toml"
    table = DEFAULT_WORDS.with_suffix(".es.toml").read_text(encoding="utf-8")
    short.write_text(table.replace('reason = "', 'grund = "', 1), encoding="utf-8")
    with pytest.raises(RuleError, match=r"stop\.suspended\.reason"):
        rules_in(RULES, "es", short)
