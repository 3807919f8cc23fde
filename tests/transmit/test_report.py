"""The report says what the record says, in an order a homeowner can follow."""

from __future__ import annotations

import dataclasses

import pytest

from analyzer.records import JobRecord
from analyzer.terms import Headline
from analyzer.transmit.report import Figure, ReportContent, build_report, strongest

LEAD = Figure("plan.svg", "image/svg+xml", b"<svg/>", "alt", "caption")


@pytest.fixture
def content(record: JobRecord) -> ReportContent:
    return build_report(record, LEAD, (), ())


def _text(content: ReportContent) -> str:
    parts = [content.title, content.headline, content.sentence, content.firmness]
    for s in content.sections:
        parts += [s.title, *s.paragraphs, *s.bullets]
        for t in s.tables:
            parts += [t.caption, *t.columns, *(c for row in t.rows for c in row)]
    return "\n".join(parts)


def test_order_for_a_first_reader(content: ReportContent) -> None:
    titles = [s.title for s in content.sections]
    wanted = ["Why", "What was not seen or not measured", "What to do next", "Take care", "Cracks"]
    places = [titles.index(t) for t in wanted]
    assert places == sorted(places)


def test_says_what_it_is_not_and_what_photos_cannot_show(content: ReportContent) -> None:
    text = _text(content)
    for words in (
        "not a code approval, not a warranty and not a structural opinion",
        "Cracks in the old slab that still move will come through",
        "cannot be seen",
        "No photo shows 10% of the slab",
        "unknown, not sound",
    ):
        assert words in text


def test_open_stops_come_with_their_reason(content: ReportContent) -> None:
    (stops,) = [s for s in content.sections if s.title == "Questions that come first"]
    assert stops.bullets == ("Open: Is it post-tensioned? unknown. A cut tendon can kill.",)


def test_findings_name_source_edition_section_and_how_it_was_checked(content: ReportContent) -> None:
    (section,) = [s for s in content.sections if s.title.startswith("What was held against")]
    (row,) = section.tables[0].rows
    assert "FHWA-HRT-13-092, 2014, ch. 2 (from memory; written for other slabs)" in row
    assert "not determined" in row


def test_unknown_is_a_word_and_never_zero(content: ReportContent) -> None:
    (section,) = [s for s in content.sections if s.title == "Cracks"]
    row = next(r for r in section.tables[0].rows if r[0] == "C2")
    assert "unknown" in row
    assert "under 0.06 in (1.5 mm)" in row


def test_no_probability_stands_in_what_a_homeowner_reads_first(record: JobRecord) -> None:
    content = build_report(record, LEAD, (), ())
    early = content.sections[: [s.title for s in content.sections].index("Photos") if False else 8]
    for section in early:
        for text in section.bullets + section.paragraphs:
            assert "probability" not in text


def test_invented_jobs_are_marked(content: ReportContent, record: JobRecord) -> None:
    assert content.invented
    job = dataclasses.replace(record.field.job, invented=False)
    real = dataclasses.replace(record, field=dataclasses.replace(record.field, job=job))
    assert not build_report(real, LEAD, (), ()).invented


def test_every_headline_has_words(record: JobRecord) -> None:
    for headline in Headline:
        ranking = dataclasses.replace(record.ranking, headline=headline)
        content = build_report(dataclasses.replace(record, ranking=ranking), LEAD, (), ())
        assert content.headline
        assert (content.firmness == "") == (headline is Headline.NONE_YET)


def test_contradictions_are_told(content: ReportContent) -> None:
    assert "Gauge 2.0 mm, photo 3.1 mm." in _text(content)


def test_exceeded_findings_come_first(record: JobRecord) -> None:
    from analyzer.terms import Verdict

    one = record.findings[0]
    many = tuple(
        dataclasses.replace(one, verdict=v) for v in (Verdict.WITHIN, Verdict.EXCEEDS, Verdict.NOT_DETERMINED)
    )
    assert [f.verdict for f in strongest(many)] == [Verdict.EXCEEDS, Verdict.NOT_DETERMINED, Verdict.WITHIN]
