"""The report says what the record says: the homeowner's page first, then the estimator's part."""

from __future__ import annotations

import dataclasses

import pytest

from analyzer.records import JobRecord
from analyzer.terms import Headline
from analyzer.transmit.content import Figure, Line, ReportContent, text_of
from analyzer.transmit.report import build_report

LEAD = Figure("plan.svg", "image/svg+xml", b"<svg/>", "alt", "caption")


def _lines(content: ReportContent) -> list[Line]:
    """Every sentence and every cell that can carry a reference."""
    found = [content.sentence]
    for section in (*content.homeowner, *content.estimator):
        found += [*section.paragraphs, *section.lines]
        found += [c for t in section.tables for row in t.rows for c in row if isinstance(c, Line)]
    return found


def test_every_reference_leads_to_a_row(full: JobRecord) -> None:
    content = build_report(full, LEAD)
    refs = [r for line in _lines(content) for r in line.refs]
    assert len(refs) > 10
    assert {r.anchor for r in refs} <= content.anchors


@pytest.mark.parametrize("title", ["Why", "What speaks against it"])
def test_from_a_reason_to_reading_limit_and_source_in_two_steps(full: JobRecord, title: str) -> None:
    content = build_report(full, LEAD)
    (section,) = [s for s in content.homeowner if s.title == title]
    ref = section.lines[0].refs[0]  # first step: the number beside the sentence
    rows = {
        anchor: [text_of(c) for c in row]
        for s in content.estimator
        for t in s.tables
        for anchor, row in zip(t.anchors, t.rows, strict=False)
    }
    row = rows[ref.anchor]  # second step: its row
    assert row[0] == ref.label
    reading, limit, source = row[2], row[3], row[5]
    assert reading[0].isdigit()
    assert any(word in limit for word in ("over", "under"))
    assert "LTPP" in source or "Town code" in source


def test_prices_stand_in_the_estimators_part_alone(full: JobRecord) -> None:
    content = build_report(full, LEAD)
    first = " ".join(
        line.text for s in content.homeowner for line in (*s.paragraphs, *s.lines)
    )  # the homeowner's page has no tables at all
    assert not any(s.tables for s in content.homeowner)
    assert "money" not in first
    assert any(s.title == "Prices" for s in content.estimator)


def test_invented_jobs_are_marked(record: JobRecord) -> None:
    assert build_report(record, LEAD).invented
    job = dataclasses.replace(record.field.job, invented=False)
    real = dataclasses.replace(record, field=dataclasses.replace(record.field, job=job))
    assert not build_report(real, LEAD).invented


def test_every_headline_has_words(record: JobRecord) -> None:
    for headline in Headline:
        ranking = dataclasses.replace(record.ranking, headline=headline)
        content = build_report(dataclasses.replace(record, ranking=ranking), LEAD)
        assert content.headline
        assert (content.firmness == "") == (headline is Headline.NONE_YET)


def test_says_what_it_is_not(record: JobRecord) -> None:
    text = " ".join(line.text for line in _lines(build_report(record, LEAD)))
    for words in (
        "not a code approval, not a warranty and not a structural opinion",
        "Cracks in the old slab that still move will come through",
        "unknown, not sound",
    ):
        assert words in text
