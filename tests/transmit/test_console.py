"""What the terminal says of a job, and what a program gets."""

from __future__ import annotations

import json
from pathlib import Path

from analyzer.records import JobRecord
from analyzer.transmit import JobFolder, job_json, job_lines, plan_lines, plans_json


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


def test_plans_say_that_stops_are_open(record: JobRecord) -> None:
    text = "\n".join(plan_lines(record))
    assert "no advice to pour or remove" in text
    assert 'thickness 2-3/8" to 3-1/8"' in text
    assert "cannot be met: The sill keeps less than 25 mm." in text
    assert "concrete: 0.26 yd³" in text


def test_json_for_programs(record: JobRecord) -> None:
    data = json.loads(job_json(record, _folder()))
    assert data["report"] == "job/data/report.html"
    assert data["ranking"]["headline"] == "overlay"
    plans = json.loads(plans_json(record))
    assert plans["open_stops"] == ["post_tension"]
    assert plans["plans"][0]["thickness_min_mm"] == 60.0
    assert plans["plans"][0]["thickness_min_u_mm"] == 2.0
