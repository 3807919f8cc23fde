"""The record as lines on a terminal, and as plain data for a program."""

from __future__ import annotations

import json

from analyzer.records import Cause, JobRecord
from analyzer.transmit.decision_tables import loosened
from analyzer.transmit.job_folder import JobFolder
from analyzer.transmit.record_json import RECORD_SCHEMA, plain


def job_lines(record: JobRecord, folder: JobFolder | None = None) -> list[str]:
    """Recommendation, reasons, open questions and next steps; the report's path comes last."""
    ranking = record.ranking
    causes = [c for c in ranking.causes if c.standing != "unlikely"]
    lines = [f"{record.field.job.title} ({record.field.job.job_id})"]
    if record.field.job.invented:
        lines.append("This job is invented.")
    lines += ["", f"{str(ranking.headline).upper()} ({ranking.firmness}): {ranking.sentence}"]
    for title, items in (
        ("Local rules looser than the usual limit", [line.text for line in loosened(record)]),
        ("Open questions that come first", [f"{s.question} {s.answer}." for s in ranking.stops if s.blocks]),
        ("Why", [r.sentence for r in ranking.reasons_for]),
        ("Against it", [r.sentence for r in ranking.reasons_against]),
        ("By panel", [f"{a.panel_id}: {a.action}. {a.reason}" for a in ranking.panel_actions]),
        ("Possible causes (a laboratory or an engineer confirms)", [_cause(c) for c in causes]),
        (
            "Not known",
            list(ranking.unknowns) + [f"{c.subject}: {c.sentence}" for c in record.distress.contradictions],
        ),
        ("Measure next", [f"{m.what}: {m.why} ({m.effort})" for m in ranking.next_measurements]),
        ("Would change the answer", list(ranking.would_change)),
        ("Take care", list(ranking.cautions)),
    ):
        if items:
            lines += ["", f"{title}:"] + [f"  - {item}" for item in items]
    lines += ["", "Not a code approval, warranty or structural opinion."]
    if folder is not None:
        lines += [
            "",
            f"Job folder: {folder.folder}",
            f"Report: {folder.report_html}",
            f"On paper: {folder.report_pdf}",
        ]
    return lines


def _cause(cause: Cause) -> str:
    """One possible cause with the clues on both sides."""
    told = f"{cause.name} ({cause.standing}): {' '.join(c.sentence for c in cause.clues_for)}"
    against = " ".join(c.sentence for c in cause.clues_against)
    return f"{told} Against it: {against}" if against else told


def job_json(record: JobRecord, folder: JobFolder | None) -> str:
    """The whole record as one line of JSON, with where its folder lies."""
    paths = {} if folder is None else {"folder": str(folder.folder), "report": str(folder.report_html)}
    return json.dumps(
        {"schema": RECORD_SCHEMA, **paths, **plain(record)}, ensure_ascii=False, allow_nan=False
    )
