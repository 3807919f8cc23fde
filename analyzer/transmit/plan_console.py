"""Grades, set-out, order and prices of every option as lines on a terminal, and as plain data."""

from __future__ import annotations

import json
from collections.abc import Sequence

from analyzer.records import GradePlan, JobRecord
from analyzer.transmit import order_tables, plan_tables, writing
from analyzer.transmit.content import Table, text_of
from analyzer.transmit.grade_figure import warning_of
from analyzer.transmit.record_json import RECORD_SCHEMA, plain
from analyzer.units import format_length, format_slope

_WIDEST = 44


def plan_lines(record: JobRecord, files: Sequence[str] = (), folder: str = "") -> list[str]:
    """Every option's grades, set-out, limits, joints, quantities, order and price.

    ``files`` were written into ``folder``, if any.
    """
    system = str(record.field.job.units)
    lines = [f"{record.field.job.title} ({record.field.job.job_id})"]
    if record.field.job.invented:
        lines.append("This job is invented.")
    blocked = any(s.blocks for s in record.ranking.stops)
    if blocked:
        lines.append(
            "Questions that come before any work are open; these grades are no advice to pour or remove:"
        )
        lines += [f"  - {s.question} {s.answer}." for s in record.ranking.stops if s.blocks]
    if not record.plans:
        lines.append("No grades can be planned: no thickness, level or height was given.")
    for plan in record.plans:
        lines += ["", *_plan_block(record, plan, system)]
    lines += [f"Note: {note}" for note in record.bill.notes]
    for table in (
        *order_tables.quantities(record)[:1],
        *order_tables.orders(record),
        *order_tables.prices(record)[:1],
    ):
        lines += ["", *table_lines(table)]
    lines += [line.text for line in order_tables.invented_prices(record)]
    for plan in () if blocked else record.plans:
        for table in order_tables.slip(record, plan.option):
            lines += ["", *table_lines(table)]
    lines += ["", "Not a code approval, warranty or structural opinion."]
    if files:
        lines += ["", f"Written to {folder}:", *(f"  {name}" for name in files)]
    return lines


def plans_json(record: JobRecord, files: Sequence[str] = ()) -> str:
    """Plans, quantities, orders, slips and prices as one line of JSON, with the stops that are open."""
    data = {
        "schema": RECORD_SCHEMA,
        "job_id": record.field.job.job_id,
        "invented": record.field.job.invented,
        "open_stops": [s.stop_id for s in record.ranking.stops if s.blocks],
        "plans": plain(record.plans),
        "warnings": {str(p.option): warning_of(record, p) for p in record.plans},
        **plain(record.bill),
        "files": list(files),
    }
    return json.dumps(data, ensure_ascii=False, allow_nan=False)


def table_lines(table: Table) -> list[str]:
    """A table as text: its caption, then columns as wide as their cells.

    Nothing is cut: a cell wider than 44 characters runs over its column.
    """
    cells = [[text_of(c).replace("\u00a0", " ") for c in row] for row in (table.columns, *table.rows)]
    widths = [min(_WIDEST, max(len(row[k]) for row in cells)) for k in range(len(table.columns))]
    out = [f"{table.caption}:"]
    if table.note:
        out.append(f"  ({table.note})")
    for row in cells:
        padded = [
            cell.rjust(w) if right else cell.ljust(w)
            for cell, w, right in zip(row, widths, table.numeric, strict=True)
        ]
        out.append(("  " + "  ".join(padded)).rstrip())
    return out


def _plan_block(record: JobRecord, plan: GradePlan, system: str) -> list[str]:
    """Lines of one plan."""
    lines = [f"{str(plan.option).upper()}:"]
    warning = warning_of(record, plan)
    if warning:
        lines.append(f"  {warning}")
    if plan.fall is not None:
        lines.append(f"  fall {format_slope(plan.fall, system)}")
    thin = writing.length(plan.thickness_min_mm, plan.thickness_min_u_mm, system)
    thick = writing.length(plan.thickness_max_mm, plan.thickness_max_u_mm, system)
    mean = format_length(plan.thickness_mean_mm, system)
    lines.append(f"  thickness {thin} to {thick}, mean {mean}")
    for after in plan.heights_after:
        before, left = (writing.length(v, None, system) for v in (after.before_mm, after.after_mm))
        lines.append(f"  {after.kind} {after.name}: {before} now, {left} after")
    for title, items in (
        ("cannot be met", plan.conflicts),
        ("would help", plan.relaxations),
        ("assumed", plan.assumptions),
        ("follows", (*plan.notes, *(plan.setout.notes if plan.setout else ()))),
    ):
        lines += [f"  {title}: {item}" for item in items]
    tables = (
        *plan_tables.set_out(plan, system),
        *plan_tables.requirements(plan, system),
        *plan_tables.joints(plan, system),
        *plan_tables.breaks_and_grinding(plan, system),
    )
    for table in tables:
        lines += [f"  {line}" for line in table_lines(table)]
    return lines
