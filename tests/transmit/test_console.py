"""What the terminal says of a job, and what a program gets."""

from __future__ import annotations

import json
from pathlib import Path

from analyzer.records import JobRecord
from analyzer.transmit import JobFolder, job_json, job_lines


def _folder() -> JobFolder:
    inside = Path("job/data")
    return JobFolder(Path("job"), inside / "record.json", inside / "report.html", inside / "report.pdf")


def test_ends_by_naming_the_report(record: JobRecord) -> None:
    lines = job_lines(record, _folder())
    assert lines[-2] == "Report: job/data/report.html"
    assert any(line.startswith("OVERLAY (leaning): Pour a bonded overlay") for line in lines)
    assert "This job is invented." in lines


def test_stops_stand_before_reasons(record: JobRecord) -> None:
    lines = job_lines(record)
    assert lines.index("Open questions that come first:") < lines.index("Why:")


def test_causes_carry_both_sides(full: JobRecord) -> None:
    text = "\n".join(job_lines(full))
    assert "ground that settles (possible): A panel lies low. Against it: No step moves." in text


def test_a_looser_local_rule_is_told(full: JobRecord, record: JobRecord) -> None:
    assert "Local rules looser than the usual limit:" in job_lines(full)
    assert not any("looser" in line for line in job_lines(record))


def test_json_for_programs(record: JobRecord) -> None:
    data = json.loads(job_json(record, _folder()))
    assert data["report"] == "job/data/report.html"
    assert data["ranking"]["headline"] == "overlay"
