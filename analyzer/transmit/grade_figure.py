"""Drawings of a grade plan as SVG: set-out heights with joints, thickness contours, a section."""

from __future__ import annotations

from html import escape

import numpy as np

from analyzer.records import GradePlan, JobRecord
from analyzer.terms import JointKind, Option
from analyzer.transmit import ink
from analyzer.transmit.plan_sheet import PlanSheet
from analyzer.transmit.plan_tables import signed
from analyzer.transmit.surface_lines import cut, falls
from analyzer.units import format_length, format_slope

_MOST_LABELS = 70
_SECTION_WIDE = 1000.0
_SECTION_HIGH = 190.0
_SECTION_WITH_SILL = 330.0
_EXAGGERATIONS = (1, 2, 5, 10, 20, 50)
_FONT = "'Libertinus Serif', Georgia, serif"


def set_out_svg(record: JobRecord, plan: GradePlan) -> str:
    """SVG of the heights to set, the joints to make, the fall, grade breaks and the section line."""
    sheet = _sheet(record, plan)
    sheet.joints(2)
    sheet.legend.append((ink.JOINT, "14 8", "joints of the old slab"))
    kinds = {j.kind for j in plan.joints}
    for joint in plan.joints:
        dash = "3 5" if joint.kind is JointKind.ISOLATION else "10 4 2 4"
        sheet.polyline((joint.start_mm, joint.end_mm), ink.NEW_JOINT, 3.2, dash)
    if kinds - {JointKind.ISOLATION}:
        sheet.legend.append((ink.NEW_JOINT, "10 4 2 4", "joints of the new concrete"))
    if JointKind.ISOLATION in kinds:
        sheet.legend.append((ink.NEW_JOINT, "3 5", "isolation joints"))
    for crease in plan.creases:
        word = "valley" if crease.bend > 0 else "ridge"
        sheet.polyline((crease.start_mm, crease.end_mm), ink.OUTLINE, 2.5, "20 6 4 6")
        middle = tuple((a + b) / 2 for a, b in zip(crease.start_mm, crease.end_mm, strict=True))
        sheet.label((middle[0], middle[1]), word, ink.OUTLINE)
    profile = cut(record.field, plan)
    if profile is not None:
        sheet.polyline((profile.start_mm, profile.end_mm), ink.UNSEEN, 1.5, "24 5 5 5")
        sheet.legend.append((ink.UNSEEN, "24 5 5 5", "line of the section"))
    for fall in falls(plan):
        sheet.arrow(fall.start_mm, fall.end_mm, ink.JOINT)
        sheet.label(fall.start_mm, format_slope(fall.slope, sheet.system).split(" (")[0], ink.JOINT)
    points = plan.setout.points if plan.setout else ()
    for number, point in enumerate(points, 1):
        sheet.dot((point.x_mm, point.y_mm), ink.SET_OUT)
        if len(points) > _MOST_LABELS and point.kind == "station":
            continue
        at = (point.x_mm, point.y_mm)
        text = f"{number}: {signed(point.rounded_mm, sheet.system)}"
        sheet.label(at, text, ink.SET_OUT, prefer=sheet.outward(at), size=17)
    return sheet.finish(f"Heights to set out and joints to make, {plan.option}")


def thickness_svg(record: JobRecord, plan: GradePlan) -> str:
    """SVG of the thickness of the new concrete: contours, thinnest and thickest spot, spots to grind."""
    sheet = _sheet(record, plan)
    for contour in plan.contours:
        text = format_length(contour.thickness_mm, sheet.system)
        for line in contour.lines_mm:
            sheet.polyline(line, ink.CONTOUR, 2)
        longest = max(contour.lines_mm, key=len, default=())
        if longest:
            sheet.label(_halfway(longest), text, ink.CONTOUR, leader=False, size=17)
    if plan.contours:
        sheet.legend.append((ink.CONTOUR, "", "lines of equal thickness"))
    for spot in plan.grinding:
        sheet.circle(spot.at_mm, float(np.sqrt(spot.area_mm2 / np.pi)), ink.GRIND)
        depth = format_length(spot.depth_mm, sheet.system)
        sheet.label(spot.at_mm, f"{spot.name}: grind {depth}", ink.GRIND)
    thinnest = min(plan.grades, key=lambda g: g.thickness_mm, default=None)
    thickest = max(plan.grades, key=lambda g: g.thickness_mm, default=None)
    for grade in plan.grades:
        at = (grade.x_mm, grade.y_mm)
        sheet.dot(at, ink.STATION)
        word = "thinnest " if grade is thinnest else "thickest " if grade is thickest else ""
        if word or len(plan.grades) <= _MOST_LABELS:
            text = word + format_length(grade.thickness_mm, sheet.system)
            sheet.label(at, text, ink.STATION, prefer=sheet.outward(at), size=17)
    return sheet.finish(f"Thickness of the new concrete, {plan.option}")


def section_svg(record: JobRecord, plan: GradePlan) -> str | None:
    """SVG of a cut along the fall: old slab, new concrete, thicknesses. None without levels.

    Heights are drawn larger than lengths where the slab is long; the drawing says how much.
    """
    profile = cut(record.field, plan)
    if profile is None:
        return None
    system = str(record.field.job.units)
    new_bottom = profile.old_mm
    if plan.option is Option.REMOVAL:
        new_bottom = profile.finished_mm - plan.thickness_mean_mm
    sill = next((h for h in plan.heights_after if h.name == profile.name and h.after_mm is not None), None)
    at_door = 0 if profile.from_start else -1
    sill_mm = None if sill is None else float(profile.finished_mm[at_door]) + (sill.after_mm or 0.0)
    surface = float(max(profile.finished_mm.max(), profile.old_mm.max()))
    top = surface if sill_mm is None else max(surface, sill_mm)
    low = float(min(new_bottom.min(), profile.old_mm.min()))
    wide = float(profile.along_mm[-1])
    per_mm = _SECTION_WIDE / wide
    fits = [
        n
        for n in _EXAGGERATIONS
        if n * (surface - low) * per_mm <= _SECTION_HIGH and n * (top - low) * per_mm <= _SECTION_WITH_SILL
    ]
    times = max(fits, default=1)
    left, roof = 70.0, 66.0

    def at(k: int, z_mm: float) -> tuple[float, float]:
        return left + float(profile.along_mm[k]) * per_mm, roof + (top - z_mm) * per_mm * times

    def line(z: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> list[str]:
        return [f"{x:.1f},{y:.1f}" for x, y in (at(k, float(v)) for k, v in enumerate(z))]

    floor = roof + (top - low) * per_mm * times
    new = " ".join(line(profile.finished_mm) + line(new_bottom)[::-1])
    old = " ".join(line(profile.old_mm))
    parts = [
        f'<polygon points="{new}" fill="{ink.NEW_CONCRETE}" stroke="{ink.OUTLINE}" stroke-width="1.5"/>',
        f'<polyline points="{old}" fill="none" stroke="{ink.JOINT}" stroke-width="2.5" '
        'stroke-dasharray="14 8"/>',
    ]
    last = len(profile.along_mm) - 1
    thickness = profile.finished_mm - new_bottom
    for k in dict.fromkeys((0, int(thickness.argmin()), last // 2, last)):
        x, y = at(k, float(profile.finished_mm[k]))
        _, bottom = at(k, float(new_bottom[k]))
        _, over = at(k, float(max(profile.finished_mm[k], profile.old_mm[k])))
        if k not in (0, last // 2, last) and any(abs(x - at(j, 0.0)[0]) < 120 for j in (0, last // 2, last)):
            continue
        parts.append(f'<path d="M{x:.1f} {y:.1f}V{bottom:.1f}" stroke="{ink.SET_OUT}" stroke-width="2"/>')
        # The ends are labelled a little inwards, clear of the sill and of the edge.
        inward, lift = {0: (42, 10), last: (-42, 18)}.get(k, (0, 10))
        told = format_length(float(thickness[k]), system)
        parts.append(_text(x + inward, over - lift, told, ink.SET_OUT))
    if sill is not None and sill_mm is not None:
        x, y = at(at_door % (last + 1), sill_mm)
        _, under = at(at_door % (last + 1), float(profile.finished_mm[at_door]))
        side, anchor = (-1, "start") if profile.from_start else (1, "end")
        parts.append(
            f'<path d="M{x + 30 * side:.1f} {y:.1f}h{-60 * side}M{x + 18 * side:.1f} {y:.1f}V{under:.1f}" '
            f'fill="none" stroke="{ink.HOUSE}" stroke-width="2.5"/>'
        )
        told = f"{sill.kind}, {format_length(sill.after_mm or 0.0, system)} over the surface"
        parts.append(_text(x - 40 * side, y + 6, told, ink.HOUSE, anchor))
    start = f"at {profile.name}" if profile.name and profile.from_start else "high end"
    end = f"at {profile.name}" if profile.name and not profile.from_start else "low end"
    run = format_length(wide, system)
    scale = f"heights drawn {times} times larger than lengths" if times > 1 else "heights and lengths alike"
    parts.append(_text(left - 50, 26, start, ink.HOUSE, "start"))
    parts.append(_text(left + _SECTION_WIDE + 50, 26, end, ink.HOUSE, "end"))
    parts.append(_text(left, floor + 34, f"grey: new concrete; dashed: old surface; {run} long; {scale}",
                       ink.OUTLINE, "start"))  # fmt: skip
    title = f"Section along the fall, {plan.option}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_SECTION_WIDE + 2 * left:.0f} '
        f'{floor + 54:.0f}" role="img" aria-label="{escape(title)}"><title>{escape(title)}</title>'
        f'<rect width="100%" height="100%" fill="{ink.PAPER}"/>' + "".join(parts) + "</svg>"
    )


def warning_of(record: JobRecord, plan: GradePlan) -> str | None:
    """What must stand on a drawing that nobody may build from yet."""
    if any(s.blocks for s in record.ranking.stops):
        return "NOT FOR WORK: questions that come first are open"
    if plan.conflicts:
        return "NOT FOR WORK: not every limit can be kept"
    refused = any(r.option is plan.option and r.admissible is False for r in record.ranking.ratings)
    return "NOT FOR WORK: this option is refused" if refused else None


def _sheet(record: JobRecord, plan: GradePlan) -> PlanSheet:
    """A sheet with panels, neighbours, outline and the warning where one is due."""
    sheet = PlanSheet(record)
    sheet.panels()
    sheet.neighbours()
    sheet.outline()
    warning = warning_of(record, plan)
    if warning:
        sheet.notes.append(warning)
    return sheet


def _halfway(line: tuple[tuple[float, float], ...]) -> tuple[float, float]:
    """The point halfway along a polyline."""
    points = np.array(line)
    steps = np.r_[0.0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
    half = steps[-1] / 2
    return float(np.interp(half, steps, points[:, 0])), float(np.interp(half, steps, points[:, 1]))


def _text(x: float, y: float, text: str, colour: str, anchor: str = "middle") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-family="{_FONT}" font-size="19" fill="{colour}" '
        f'text-anchor="{anchor}">{escape(text)}</text>'
    )
