"""The record as lines on a terminal, and as plain data for a program."""

from __future__ import annotations

import json

from analyzer.records import GradePlan, JobRecord
from analyzer.transmit.job_folder import JobFolder
from analyzer.transmit.record_json import RECORD_SCHEMA, plain
from analyzer.units import format_length, format_slope, format_volume


def job_lines(record: JobRecord, folder: JobFolder | None = None) -> list[str]:
    """Recommendation, reasons, open questions and next steps; the report's path comes last."""
    ranking = record.ranking
    lines = [f"{record.field.job.title} ({record.field.job.job_id})"]
    if record.field.job.invented:
        lines.append("This job is invented.")
    lines += ["", f"{str(ranking.headline).upper()} ({ranking.firmness}): {ranking.sentence}"]
    for title, items in (
        ("Open questions that come first", [f"{s.question} {s.answer}." for s in ranking.stops if s.blocks]),
        ("Why", [r.sentence for r in ranking.reasons_for]),
        ("Against it", [r.sentence for r in ranking.reasons_against]),
        ("By panel", [f"{a.panel_id}: {a.action}. {a.reason}" for a in ranking.panel_actions]),
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


def plan_lines(record: JobRecord) -> list[str]:
    """Every option's grades, thickness range, heights after and quantities."""
    system = str(record.field.job.units)
    lines = [f"{record.field.job.title} ({record.field.job.job_id})"]
    if any(s.blocks for s in record.ranking.stops):
        lines.append(
            "Questions that come before any work are open; these grades are no advice to pour or remove:"
        )
        lines += [f"  - {s.question} {s.answer}." for s in record.ranking.stops if s.blocks]
    if not record.plans:
        lines.append("No grades can be planned: no thickness, level or height was given.")
    for plan in record.plans:
        lines += ["", *_plan_block(plan, system)]
        for q in record.bill.quantities:
            if q.option is plan.option:
                lines.append(f"  {q.item}: {_amount(q.value, q.unit, system)} ({q.basis})")
    return lines


def _plan_block(plan: GradePlan, system: str) -> list[str]:
    """Lines of one plan."""
    lines = [f"{plan.option}:"]
    if plan.fall is not None:
        lines.append(f"  fall {format_slope(plan.fall, system)}")
    lines.append(
        f"  thickness {format_length(plan.thickness_min_mm, system)} to {format_length(plan.thickness_max_mm, system)}, "
        f"mean {format_length(plan.thickness_mean_mm, system)}"
    )
    for grade in plan.grades:
        lines.append(
            f"  {grade.name}: old {format_length(grade.old_mm, system)}, new {format_length(grade.finished_mm, system)}, "
            f"thickness {format_length(grade.thickness_mm, system)}"
        )
    for after in plan.heights_after:
        before, left = (
            "unknown" if v is None else format_length(v, system) for v in (after.before_mm, after.after_mm)
        )
        lines.append(f"  {after.kind} {after.name}: {before} now, {left} after")
    for title, items in (
        ("cannot be met", plan.conflicts),
        ("would help", plan.relaxations),
        ("assumed", plan.assumptions),
    ):
        lines += [f"  {title}: {item}" for item in items]
    return lines


def _amount(value: float, unit: str, system: str) -> str:
    if unit == "m3":
        return format_volume(value, system)
    if unit == "mm":
        return format_length(value, system)
    return f"{value:.6g} {unit}"


def job_json(record: JobRecord, folder: JobFolder | None) -> str:
    """The whole record as one line of JSON, with where its folder lies."""
    paths = {} if folder is None else {"folder": str(folder.folder), "report": str(folder.report_html)}
    return json.dumps(
        {"schema": RECORD_SCHEMA, **paths, **plain(record)}, ensure_ascii=False, allow_nan=False
    )


def plans_json(record: JobRecord) -> str:
    """Plans and quantities alone as one line of JSON, with the stops that are open."""
    data = {
        "schema": RECORD_SCHEMA,
        "job_id": record.field.job.job_id,
        "open_stops": [s.stop_id for s in record.ranking.stops if s.blocks],
        "plans": plain(record.plans),
        "quantities": plain(record.bill.quantities),
    }
    return json.dumps(data, ensure_ascii=False, allow_nan=False)
