"""The picture of a reason: a piece of the photo that shows it best, or its place on a small plan."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from analyzer.records import Calibration, Finding, Float, JobRecord, Panel, Photo, PointMm, Reason
from analyzer.terms import Distress, Verdict
from analyzer.transmit import ink
from analyzer.transmit.content import Figure, jpeg_figure, svg_figure
from analyzer.transmit.photo_figure import PhotoSheet, draw_record, jpeg, px_from_plan
from analyzer.transmit.plan_sheet import PlanSheet

_LEAST_HALF_MM = 350.0
_MOST_HALF_MM = 1500.0
_ROOM = 1.25
_LONG_SIDE_PX = 760
_SEEN = 0.7
_LOCATOR_MARGIN = 60.0
_FEW = 3
# Criteria about the slab as a whole: a picture of its worst place would say the opposite.
_WHOLE = {"sound panels"}
_WORN = (Distress.SCALING, Distress.MAP_CRACKING, Distress.POPOUTS, Distress.SPALLING)
_KINDS = {"worn_fraction": _WORN, "hollow_fraction": (Distress.HOLLOW_SOUNDING,)}


@dataclass(frozen=True, slots=True)
class Target:
    """What to show: its name and its points in plan (one point, or a shape)."""

    name: str
    points_mm: tuple[PointMm, ...]


def reason_pictures(
    reasons: Iterable[Reason],
    record: JobRecord,
    photos: Sequence[Photo] = (),
    calibrations: Sequence[Calibration] = (),
) -> dict[str, Figure]:
    """A picture for each reason that has a place on the slab, by its sentence; no place twice.

    Parameters
    ----------
    reasons : iterable of Reason
    record : JobRecord
    photos, calibrations : sequences of the same length
        With none, the place is shown on a small plan.
    """
    out: dict[str, Figure] = {}
    shown: set[str] = set()
    for number, reason in enumerate(reasons, 1):
        target = target_of(reason, record)
        if target is None or target.name in shown:
            continue
        shown.add(target.name)
        data = _from_photo(target, record, photos, calibrations)
        if data is not None:
            name = f"reason_{number}.jpg"
            out[reason.sentence] = jpeg_figure(name, data, f"Photo: {target.name}", target.name)
        else:
            svg = locator_svg(record, target)
            name = f"reason_{number}.svg"
            out[reason.sentence] = svg_figure(name, svg, f"Place on the slab: {target.name}", target.name)
    return out


def target_of(reason: Reason, record: JobRecord) -> Target | None:
    """What a reason is about, if that is at one place: the worst of its findings leads.

    A reason that rests on many readings and finds nothing wrong is about the whole slab.
    """
    if any(
        c.criterion in _WHOLE and c.statement in reason.sentence
        for r in record.ranking.ratings
        for c in r.contributions
    ):
        return None
    known = {f.finding_id: f for f in record.findings}
    found = [known[i] for i in reason.finding_ids if i in known]
    worst = [f for f in found if f.verdict is Verdict.EXCEEDS]
    if not worst and len(found) > _FEW:
        return None
    for finding in worst or found:
        target = _target(finding, record)
        if target is not None:
            return target
    return None


def locator_svg(record: JobRecord, target: Target) -> str:
    """SVG of the slab with one place marked on it."""
    sheet = PlanSheet(record, _LOCATOR_MARGIN, scale_bar=False)
    sheet.panels()
    sheet.neighbours()
    if len(target.points_mm) > 2:
        sheet.polygon(target.points_mm, ink.HIGHLIGHT, ink.CRACK, 4)
    sheet.outline()
    sheet.joints(2)
    for crack in record.distress.cracks:
        for branch in crack.branches:
            sheet.polyline(branch.points_mm, ink.CRACK, 2.4 * ink.crack_weight(crack))
    if len(target.points_mm) == 2:
        sheet.polyline(target.points_mm, ink.CRACK, 9)
    elif len(target.points_mm) == 1:
        sheet.circle(target.points_mm[0], 0.05 * sheet.span_mm, ink.CRACK, 6)
    return sheet.finish(f"Place on the slab: {target.name}")


def _target(finding: Finding, record: JobRecord) -> Target | None:
    subject = finding.subject
    for crack in record.distress.cracks:
        if crack.crack_id == subject and crack.branches:
            points = tuple(p for b in crack.branches for p in b.points_mm)
            return Target(f"crack {subject}", _hull_of(points))
    if finding.limit.quantity == "ponding_depth" and record.levels and record.levels.ponds:
        pond = max(record.levels.ponds, key=lambda p: p.depth_mm)
        return Target("where water stands", pond.outline_mm)
    if finding.limit.quantity in _KINDS:
        return _worst_area(record, _KINDS[finding.limit.quantity])
    panel = _panel(record, subject)
    if panel is not None:
        return Target(f"panel {subject}", panel.outline_mm)
    corners = {c.name: (c.x_mm, c.y_mm) for c in record.field.outline}
    for edge in record.field.edges:
        if subject == f"edge {edge.name}":
            return Target(subject, (corners[edge.start], corners[edge.end]))
    for clearance in record.clearances:
        if subject in (f"{clearance.kind} {clearance.name}", f"flight {clearance.flight}"):
            return Target(subject, (clearance.at_mm,))
    return None if finding.place_mm is None else Target(subject, (finding.place_mm,))


def _worst_area(record: JobRecord, kinds: tuple[Distress, ...]) -> Target | None:
    """The panel with the largest area of these kinds, as far as areas were told."""
    areas = [a for a in record.distress.areas if a.kind in kinds and a.panel_id and a.area_mm2]
    if not areas:
        return None
    worst = max(areas, key=lambda a: a.area_mm2 or 0.0)
    panel = _panel(record, worst.panel_id)
    return None if panel is None else Target(f"{worst.kind} in panel {panel.panel_id}", panel.outline_mm)


def _panel(record: JobRecord, panel_id: str | None) -> Panel | None:
    """The panel of this name; none where the slab is one panel, which is no place on it."""
    panels = record.layout.panels
    return next((p for p in panels if p.panel_id == panel_id and len(panels) > 1), None)


def _hull_of(points: tuple[PointMm, ...]) -> tuple[PointMm, ...]:
    """The four corners of the box round the points: enough to aim a picture at them."""
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return ((min(xs), min(ys)), (max(xs), min(ys)), (max(xs), max(ys)), (min(xs), max(ys)))


def _window(target: Target) -> Float:
    """Corners (4, 2) in plan mm of the square to show."""
    points = np.asarray(target.points_mm, float)
    middle = (points.min(axis=0) + points.max(axis=0)) / 2.0
    half = float(np.clip(_ROOM * np.ptp(points, axis=0).max() / 2.0, _LEAST_HALF_MM, _MOST_HALF_MM))
    corners: Float = middle + half * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    return corners


def _from_photo(
    target: Target, record: JobRecord, photos: Sequence[Photo], calibrations: Sequence[Calibration]
) -> bytes | None:
    """The piece of the photo that sees the window whole enough and largest; None if none does."""
    window = _window(target)
    best: tuple[float, Photo, Calibration, tuple[int, int, int, int]] | None = None
    for photo, calibration in zip(photos, calibrations, strict=True):
        if not calibration.has_plan_position:
            continue
        box = _box(window, photo, calibration)
        if box is None:
            continue
        size = float(math.hypot(box[1] - box[0], box[3] - box[2]))
        if best is None or size > best[0]:
            best = size, photo, calibration, box
    if best is None:
        return None
    _, photo, calibration, (row0, row1, col0, col1) = best
    piece = photo.rgb[row0:row1, col0:col1]
    scale = min(_LONG_SIDE_PX / max(piece.shape[:2]), 3.0)
    size_px = (max(1, round(piece.shape[1] * scale)), max(1, round(piece.shape[0] * scale)))
    how = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    canvas = np.ascontiguousarray(cv2.resize(piece, size_px, interpolation=how), np.uint8)
    shift = np.array([[1.0, 0.0, -row0], [0.0, 1.0, -col0], [0.0, 0.0, 1.0]])
    sheet = PhotoSheet(canvas, shift @ px_from_plan(photo, calibration), scale)
    draw_record(sheet, record, labels=False)
    return jpeg(sheet.finish())


def _box(window: Float, photo: Photo, calibration: Calibration) -> tuple[int, int, int, int] | None:
    """Rows and columns that show the window; None where too little of it is on the photo."""
    steps = np.linspace(0.0, 1.0, 7)
    across = window[0] + steps[:, None] * (window[1] - window[0])
    grid = (across[:, None] + steps[None, :, None] * (window[3] - window[0])).reshape(-1, 2)
    homogeneous = np.column_stack([grid, np.ones(len(grid))]) @ px_from_plan(photo, calibration).T
    if not (homogeneous[:, 2] > 0).all():
        return None
    rc = homogeneous[:, :2] / homogeneous[:, 2:]
    rows, cols = photo.rgb.shape[:2]
    inside = (rc >= 0).all(axis=1) & (rc[:, 0] < rows) & (rc[:, 1] < cols)
    if inside.mean() < _SEEN:
        return None
    (low_r, low_c), (high_r, high_c) = rc.min(axis=0), rc.max(axis=0)
    row0, row1 = max(0, math.floor(low_r)), min(rows, math.ceil(high_r) + 1)
    col0, col1 = max(0, math.floor(low_c)), min(cols, math.ceil(high_c) + 1)
    return (row0, row1, col0, col1) if row1 - row0 > 20 and col1 - col0 > 20 else None
