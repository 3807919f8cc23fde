"""Drawings and set-out of every grade plan as files: SVG, DXF and CSV."""

from __future__ import annotations

from pathlib import Path

from analyzer.records import GradePlan, JobRecord
from analyzer.terms import Option
from analyzer.transmit.grade_figure import section_svg, set_out_svg, thickness_svg
from analyzer.transmit.lines import csv_text
from analyzer.transmit.plan_dxf import plan_dxf
from analyzer.transmit.plan_tables import signed
from analyzer.transmit.safe_folder import whole_folder
from analyzer.units import format_length

STEM = {
    Option.OVERLAY_BONDED: "overlay_bonded",
    Option.OVERLAY_UNBONDED: "overlay_unbonded",
    Option.PATCH: "patch",
    Option.REMOVAL: "replacement",
}
_COLUMNS = (
    "number",
    "name",
    "kind",
    "x_mm",
    "y_mm",
    "old_mm",
    "exact_mm",
    "set_to_mm",
    "thickness_mm",
    "set_to",
    "thickness",
)
_ENDINGS = (".svg", ".dxf", ".csv")


def set_out_csv(record: JobRecord, plan: GradePlan) -> str:
    """The set-out heights as CSV: millimetres, and beside them as a rule in the job's units reads."""
    system = str(record.field.job.units)
    rows = [
        {
            "number": number,
            "name": p.name,
            "kind": p.kind,
            "x_mm": round(p.x_mm, 1),
            "y_mm": round(p.y_mm, 1),
            "old_mm": round(p.old_mm, 2),
            "exact_mm": round(p.exact_mm, 2),
            "set_to_mm": round(p.rounded_mm, 4),
            "thickness_mm": round(p.thickness_mm, 2),
            "set_to": signed(p.rounded_mm, system),
            "thickness": format_length(p.thickness_mm, system),
        }
        for number, p in enumerate(plan.setout.points if plan.setout else (), 1)
    ]
    return csv_text(rows, _COLUMNS)


def plan_files(record: JobRecord) -> dict[str, bytes]:
    """Drawings of every plan by file name: set-out and thickness, section, DXF, set-out CSV.

    A new slab has one thickness and no drawing of it; without levels there is no section, and a
    plan that cannot be set out has no CSV.
    """
    out: dict[str, bytes] = {}
    for plan in record.plans:
        stem = STEM[plan.option]
        out[f"{stem}_set_out.svg"] = set_out_svg(record, plan).encode()
        if plan.option is not Option.REMOVAL:
            out[f"{stem}_thickness.svg"] = thickness_svg(record, plan).encode()
        section = section_svg(record, plan)
        if section is not None:
            out[f"{stem}_section.svg"] = section.encode()
        out[f"{stem}.dxf"] = plan_dxf(record, plan)
        if plan.setout is not None:
            out[f"{stem}_set_out.csv"] = set_out_csv(record, plan).encode()
    return out


def write_plans(record: JobRecord, out: Path, force: bool = False) -> tuple[str, ...]:
    """Write :func:`plan_files` into a folder that appears whole or not at all; returns their names.

    Raises
    ------
    OutputError
        The folder exists, cannot be written, or the disk is full.
    """
    files = plan_files(record)
    with whole_folder(out, force, is_plan_folder) as part:
        for name, data in files.items():
            (part / name).write_bytes(data)
    return tuple(files)


def is_plan_folder(folder: Path) -> bool:
    """Whether a folder holds nothing but what :func:`write_plans` writes."""
    stems = tuple(STEM.values())
    return all(p.is_file() and p.suffix in _ENDINGS and p.name.startswith(stems) for p in folder.iterdir())
