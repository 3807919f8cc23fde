"""From any sentence to its findings: every number leads to a row that exists."""

from __future__ import annotations

import dataclasses

from analyzer.records import JobRecord
from analyzer.terms import Verdict
from analyzer.transmit.refs import FindingNumbers, by_verdict


def _many(record: JobRecord, n: int) -> JobRecord:
    one = record.findings[0]
    found = tuple(
        dataclasses.replace(
            one,
            finding_id=f"id {k}",
            statement=f"Reading of place {k:02d}: {k} mm; limit: over 3 mm (SOURCE, read): within.",
            verdict=Verdict.EXCEEDS if k == 7 else Verdict.WITHIN,
        )
        for k in range(1, n + 1)
    )
    return dataclasses.replace(record, findings=found)


def test_exceeded_findings_come_first_and_few_are_kept(record: JobRecord) -> None:
    numbers = FindingNumbers(_many(record, 9))
    refs = numbers.refs([f"id {k}" for k in (1, 2, 7, 9, 1)], most=3)
    assert [r.label for r in refs] == ["F7", "F1", "F2"]
    assert all(r.anchor == r.label for r in refs)


def test_runs_are_written_short_and_lead_to_their_first(record: JobRecord) -> None:
    numbers = FindingNumbers(_many(record, 9))
    refs = numbers.refs([f"id {k}" for k in (1, 3, 4, 5, 8, 9)])
    assert [r.label for r in refs] == ["F1", "F3–F5", "F8", "F9"]
    assert refs[1].anchor == "F3"


def test_a_sentence_leads_to_the_finding_it_quotes(record: JobRecord) -> None:
    numbers = FindingNumbers(_many(record, 9))
    assert [r.label for r in numbers.about("Reading of place 04: 4 mm: too close to call.")] == ["F4"]
    assert numbers.about("Nothing of the kind.") == ()


def test_an_id_that_is_not_there_is_left_out(record: JobRecord) -> None:
    assert FindingNumbers(record).refs(["gone"]) == ()


def test_a_flip_leads_to_its_reading(full: JobRecord) -> None:
    numbers = FindingNumbers(full)
    assert [r.label for r in numbers.behind(full.ranking.flips[0])] == ["F2"]


def test_by_verdict_keeps_the_order(record: JobRecord) -> None:
    found = by_verdict(_many(record, 9).findings, Verdict.WITHIN)
    assert [f.finding_id for f in found] == [f"id {k}" for k in range(1, 10) if k != 7]
