"""All files of a job's report from its record: figures, HTML, PDF, drawings, tables of lines."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path

from analyzer.errors import OutputError
from analyzer.records import Calibration, GradePlan, JobRecord, Photo, PlanImage
from analyzer.terms import Option, UnitSystem
from analyzer.transmit.content import Figure, jpeg_figure, svg_figure
from analyzer.transmit.estimator import shown_plans
from analyzer.transmit.lines import cracks_csv, joints_csv, lines_geojson
from analyzer.transmit.photo_figure import annotated_photo, annotated_plan
from analyzer.transmit.plan_figure import plan_svg
from analyzer.transmit.plan_files import STEM, plan_files
from analyzer.transmit.reason_figure import reason_pictures
from analyzer.transmit.report import build_report
from analyzer.transmit.report_html import render_html
from analyzer.transmit.report_pdf import render_pdf

# Drawing: caption, and how much of the height of a page it may take.
_DRAWINGS = {
    "set_out": ("Heights to set, numbered as in the table; the arrow points downhill.", 0.85),
    "thickness": (
        "Thickness of the new concrete: lines of equal thickness, thinnest and thickest spot.",
        0.75,
    ),
    "section": ("Section along the fall.", 0.4),
}


def report_files(
    record: JobRecord,
    photos: Sequence[Photo] = (),
    calibrations: Sequence[Calibration] = (),
    plan: PlanImage | None = None,
    originals: Mapping[str, tuple[Path, str]] | None = None,
) -> dict[str, bytes]:
    """Payload of the job folder by path, apart from ``record.json``.

    Parameters
    ----------
    record : JobRecord
        The finished job.
    photos, calibrations : sequences of the same length
        For the annotated photos; empty for a job without photos.
    plan : PlanImage, optional
        For the picture of the slab from above.
    originals : mapping of str to (Path, SHA-256), optional
        Field book and photos exactly as they came, by file name, with the sum they had when read.

    Raises
    ------
    OutputError
        An original is no longer the file that was read.
    """
    figures = _pictures(record, photos, calibrations, plan)
    lead, further = figures[0], tuple(figures[1:])
    ranking = record.ranking
    reasons = reason_pictures((*ranking.reasons_for, *ranking.reasons_against), record, photos, calibrations)
    drawings = plan_files(record)
    shown = {p.option: _drawings(p, drawings) for p in shown_plans(record)}
    content = build_report(record, lead, further, shown, reasons)
    paper = "a4" if record.field.job.units is UnitSystem.METRIC else "us-letter"
    out = {f"pictures/{f.name}": f.data for f in (*figures, *reasons.values())}
    out |= {f"drawings/{name}": data for name, data in drawings.items()}
    out["report.html"] = render_html(content).encode()
    out["report.pdf"] = render_pdf(content, record.field.job.date, record.field.job.by, paper)
    out["lines/cracks.csv"] = cracks_csv(record).encode()
    out["lines/joints.csv"] = joints_csv(record).encode()
    out["lines/lines.geojson"] = lines_geojson(record).encode()
    for name, (path, sha256) in (originals or {}).items():
        data = path.read_bytes()
        if hashlib.sha256(data).hexdigest() != sha256:
            raise OutputError(str(path), "changed while it was being worked on", "run again")
        out[f"originals/{name}"] = data
    return out


def _pictures(
    record: JobRecord,
    photos: Sequence[Photo],
    calibrations: Sequence[Calibration],
    plan: PlanImage | None,
) -> list[Figure]:
    """The slab from above first: put together from photos if there are any, else drawn."""
    drawn = svg_figure(
        "plan.svg",
        plan_svg(record),
        "Plan of the slab with panels, joints, cracks and level stations",
        "The slab from above. Solid lines are cracks, thicker where they are wider; dashed lines are joints; "
        "ringed crosses are level stations; triangles are heights at doors, steps and walls.",
    )
    out = [drawn]
    if plan is not None and plan.views:
        seen = jpeg_figure(
            "slab_from_above.jpg",
            annotated_plan(plan, record),
            "The slab from above, put together from the photos, with cracks and joints drawn on it",
            "The slab from above, put together from the photos. Solid lines are cracks, dashed lines are "
            "joints. White parts were not seen.",
        )
        out.insert(0, seen)
    for photo, calibration in zip(photos, calibrations, strict=True):
        what = "" if calibration.has_plan_position else " (close-up)"
        out.append(
            jpeg_figure(
                f"photo_{_safe(photo.photo_id)}.jpg",
                annotated_photo(photo, calibration, record),
                f"Photo {photo.photo_id} with what was found drawn on it",
                f"Photo {photo.photo_id}{what}, scaled by {calibration.method}.",
            )
        )
    return out


def _drawings(plan: GradePlan, files: Mapping[str, bytes]) -> tuple[Figure, ...]:
    """The drawings of one plan as figures."""
    out = []
    for what, (caption, part) in _DRAWINGS.items():
        name = f"{STEM[plan.option]}_{what}.svg"
        if name in files:
            alt = f"Drawing of the {what.replace('_', ' ')}, {_new(plan.option)}"
            out.append(svg_figure(name, files[name].decode(), alt, caption, part))
    return tuple(out)


def _new(option: Option) -> str:
    return "new slab" if option is Option.REMOVAL else str(option)


def _safe(name: str) -> str:
    """A file name from an identifier that a person typed."""
    return "".join(c if c.isalnum() or c in "-_" else "_" for c in name)
