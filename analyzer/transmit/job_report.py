"""All files of a job's report from its record: figures, HTML, PDF, tables of lines."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path

from analyzer.errors import OutputError
from analyzer.records import Calibration, JobRecord, Photo, PlanImage
from analyzer.terms import Headline, Option, UnitSystem
from analyzer.transmit.lines import cracks_csv, joints_csv, lines_geojson
from analyzer.transmit.photo_figure import annotated_photo, annotated_plan
from analyzer.transmit.plan_figure import grade_svg, plan_svg
from analyzer.transmit.report import Figure, build_report
from analyzer.transmit.report_html import render_html
from analyzer.transmit.report_pdf import render_pdf

_PLANS_SHOWN = {
    Headline.OVERLAY: (Option.OVERLAY_BONDED, Option.OVERLAY_UNBONDED),
    Headline.REMOVAL: (Option.REMOVAL,),
    Headline.PATCH: (),
    Headline.NONE_YET: (),
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
    drawing = plan_svg(record).encode()
    plan_figure = Figure(
        "plan.svg",
        "image/svg+xml",
        drawing,
        "Plan of the slab with panels, joints, cracks and level stations",
        "The slab from above. Solid lines are cracks, thicker where they are wider; dashed lines are joints; "
        "ringed crosses are level stations; triangles are heights at doors, steps and walls.",
    )
    lead = plan_figure
    photo_figures: list[Figure] = []
    out: dict[str, bytes] = {"pictures/plan.svg": drawing}
    if plan is not None and plan.views:
        picture = annotated_plan(plan, record)
        out["pictures/slab_from_above.jpg"] = picture
        lead = Figure(
            "slab_from_above.jpg",
            "image/jpeg",
            picture,
            "The slab from above, put together from the photos, with cracks and joints drawn on it",
            "The slab from above, put together from the photos. Solid lines are cracks, dashed lines are joints. "
            "White parts were not seen.",
        )
        photo_figures.append(plan_figure)
    for photo, calibration in zip(photos, calibrations, strict=True):
        picture = annotated_photo(photo, calibration, record)
        name = f"photo_{_safe(photo.photo_id)}.jpg"
        out[f"pictures/{name}"] = picture
        what = "" if calibration.has_plan_position else " (close-up)"
        photo_figures.append(
            Figure(
                name,
                "image/jpeg",
                picture,
                f"Photo {photo.photo_id} with what was found drawn on it",
                f"Photo {photo.photo_id}{what}, scaled by {calibration.method}.",
            )
        )
    grade_figures = []
    for index, grades in enumerate(record.plans):
        if grades.option in _PLANS_SHOWN[record.ranking.headline] and grades.option == record.ranking.option:
            name = f"grades_{index}.svg"
            svg = grade_svg(record, grades).encode()
            out[f"pictures/{name}"] = svg
            grade_figures.append(
                Figure(
                    name,
                    "image/svg+xml",
                    svg,
                    f"Thickness at each station, {grades.option}",
                    f"Thickness of the new concrete at each station ({grades.option}); the arrow points downhill.",
                )
            )
    content = build_report(record, lead, tuple(photo_figures), tuple(grade_figures))
    paper = "a4" if record.field.job.units is UnitSystem.METRIC else "us-letter"
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


def _safe(name: str) -> str:
    """A file name from an identifier that a person typed."""
    return "".join(c if c.isalnum() or c in "-_" else "_" for c in name)
