"""Plan drawings as SVG 1.1: the slab from above with what was found, and the thicknesses of a plan.

SVG user units are plan millimetres divided by a scale that makes the long side 1000 units; y is
turned over, since SVG counts downwards. Fonts are named with fallbacks that a PDF engine carries.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from analyzer.records import Clearance, GradePlan, JobRecord, PointMm
from analyzer.terms import Abuts
from analyzer.transmit import ink
from analyzer.units import MM_PER_FT, MM_PER_M, format_length

_LONG = 1000.0
_MARGIN = 90.0
_FONT = "'Libertinus Serif', Georgia, serif"
_ABUTS_WORD = {
    Abuts.HOUSE: "house",
    Abuts.WALL: "wall",
    Abuts.WALK: "walk",
    Abuts.STREET: "street",
    Abuts.STEP: "step",
    Abuts.POOL: "pool",
    Abuts.FREE: "free edge",
    Abuts.UNKNOWN: "",
}


def plan_svg(record: JobRecord) -> str:
    """SVG of the slab: panels, joints (dashed), cracks (solid), neighbours, stations, scale bar."""
    sheet = _PlanSheet(record)
    marked = {a.panel_id for a in record.ranking.panel_actions if a.action not in {"keep", "leave"}}
    for panel in record.layout.panels:
        sheet.polygon(panel.outline_mm, ink.PANEL_MARKED if panel.panel_id in marked else ink.PANEL_FILL)
    sheet.neighbours()
    sheet.polygon([(c.x_mm, c.y_mm) for c in record.field.outline], "none", ink.OUTLINE, 3)
    for joint in record.layout.joints:
        sheet.polyline((joint.start_mm, joint.end_mm), ink.JOINT, 3, "14 8")
    for crack in record.distress.cracks:
        for branch in crack.branches:
            sheet.polyline(branch.points_mm, ink.CRACK, 2.4 * ink.crack_weight(crack))
    for area in record.survey.map_areas:
        sheet.polygon(area.outline_mm, "none", ink.CRACK, 1.5, "3 5")
    for corner in record.field.outline:
        sheet.text((corner.x_mm, corner.y_mm), corner.name, ink.OUTLINE, 22, bold=True, outward=True)
    many = {name for area in record.survey.map_areas for name in area.crack_ids}
    for panel in record.layout.panels:
        x = sum(p[0] for p in panel.outline_mm) / len(panel.outline_mm)
        y = sum(p[1] for p in panel.outline_mm) / len(panel.outline_mm)
        sheet.label((x, y), panel.panel_id, ink.OUTLINE, leader=False)
    for crack in record.distress.cracks:
        middle = ink.longest_branch_middle(b.points_mm for b in crack.branches)
        if middle and crack.crack_id not in many:
            sheet.label(middle, ink.crack_label(crack, sheet.system), ink.CRACK)
    for clearance in record.clearances:
        sheet.height_mark(clearance)
    if record.levels:
        for station in record.levels.stations:
            sheet.dot((station.x_mm, station.y_mm), ink.STATION)
    return sheet.finish("Plan of the slab with panels, joints, cracks and level stations")


def grade_svg(record: JobRecord, plan: GradePlan) -> str:
    """SVG of one option's thickness at every station, with the direction of fall."""
    sheet = _PlanSheet(record)
    for panel in record.layout.panels:
        sheet.polygon(panel.outline_mm, ink.PANEL_FILL)
    sheet.neighbours()
    sheet.polygon([(c.x_mm, c.y_mm) for c in record.field.outline], "none", ink.OUTLINE, 3)
    for joint in record.layout.joints:
        sheet.polyline((joint.start_mm, joint.end_mm), ink.JOINT, 2, "14 8")
    sheet.fall_arrow(plan)
    for grade in plan.grades:
        at = (grade.x_mm, grade.y_mm)
        sheet.dot(at, ink.STATION)
        sheet.label(at, format_length(grade.thickness_mm, sheet.system, 8), ink.STATION, leader=False)
    return sheet.finish(f"Thickness of the new concrete at each station, {plan.option}")


class _PlanSheet:
    """Collects SVG elements in sheet units and places labels at the end."""

    def __init__(self, record: JobRecord) -> None:
        self.record = record
        self.system = str(record.field.job.units)
        xs = [c.x_mm for c in record.field.outline]
        ys = [c.y_mm for c in record.field.outline]
        self.x0, self.y1 = min(xs), max(ys)
        span = max(max(xs) - self.x0, self.y1 - min(ys))
        self.per_mm = _LONG / span
        self.width = (max(xs) - self.x0) * self.per_mm + 2 * _MARGIN
        self.height = (self.y1 - min(ys)) * self.per_mm + 2 * _MARGIN + 46
        self.centre = (sum(xs) / len(xs), sum(ys) / len(ys))
        self.parts: list[str] = []
        self.labels: list[tuple[tuple[float, float], str, str, bool]] = []
        self.taken: list[ink.Box] = []

    def at(self, point: PointMm) -> tuple[float, float]:
        """Sheet position of a plan point."""
        return (point[0] - self.x0) * self.per_mm + _MARGIN, (self.y1 - point[1]) * self.per_mm + _MARGIN

    def polygon(
        self, points: Sequence[PointMm], fill: str, stroke: str = "none", width: float = 0, dash: str = ""
    ) -> None:
        """A closed shape in plan millimetres."""
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(self.at, points))
        self.parts.append(
            f'<polygon points="{path}" fill="{fill}" stroke="{stroke}" stroke-width="{width:g}"'
            + (f' stroke-dasharray="{dash}"' if dash else "")
            + ' stroke-linejoin="round"/>'
        )

    def polyline(self, points: Sequence[PointMm], colour: str, width: float, dash: str = "") -> None:
        """A line in plan millimetres."""
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(self.at, points))
        self.parts.append(
            f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="{width:g}"'
            + (f' stroke-dasharray="{dash}"' if dash else ' stroke-linecap="round"')
            + ' stroke-linejoin="round"/>'
        )

    def dot(self, point: PointMm, colour: str) -> None:
        """A station: a small ring with a cross hair, told from a pore by its cross."""
        x, y = self.at(point)
        self.parts.append(
            f'<path d="M{x - 6:.1f} {y:.1f}h12M{x:.1f} {y - 6:.1f}v12" stroke="{colour}" stroke-width="1.6"/>'
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="none" stroke="{colour}" stroke-width="1.6"/>'
        )

    def text(
        self, point: PointMm, text: str, colour: str, size: float, bold: bool = False, outward: bool = False
    ) -> None:
        """Text at a plan point, pushed away from the middle of the slab if ``outward``."""
        x, y = self.at(point)
        if outward:
            cx, cy = self.at(self.centre)
            x += 22 * (1 if x >= cx else -1)
            y += 22 * (1 if y >= cy else -1)
        self._write(x, y + size / 3, text, colour, size, bold)

    def label(self, point: PointMm, text: str, colour: str, leader: bool = True) -> None:
        """A boxed label near a plan point; all are placed together at the end."""
        self.labels.append((self.at(point), text, colour, leader))

    def neighbours(self) -> None:
        """Bands along the edges that lie against something, with its name."""
        corners = {c.name: (c.x_mm, c.y_mm) for c in self.record.field.outline}
        for edge in self.record.field.edges:
            word = _ABUTS_WORD[edge.abuts]
            if not word:
                continue
            (xa, ya), (xb, yb) = self.at(corners[edge.start]), self.at(corners[edge.end])
            length = max(1.0, ((xb - xa) ** 2 + (yb - ya) ** 2) ** 0.5)
            # The outline runs anticlockwise in plan, so outside lies to the right of its travel;
            # on the sheet y is turned over, which makes it the left normal of the drawn edge.
            nx, ny = -(yb - ya) / length, (xb - xa) / length
            if edge.abuts in {Abuts.HOUSE, Abuts.WALL}:
                self.parts.append(
                    f'<polygon points="{xa:.1f},{ya:.1f} {xb:.1f},{yb:.1f} {xb + 16 * nx:.1f},{yb + 16 * ny:.1f} '
                    f'{xa + 16 * nx:.1f},{ya + 16 * ny:.1f}" fill="{ink.HOUSE}"/>'
                )
            x, y = (xa + xb) / 2 + 38 * nx, (ya + yb) / 2 + 38 * ny
            turn = 0 if abs(xb - xa) >= abs(yb - ya) else -90
            self.parts.append(
                f'<text x="{x:.1f}" y="{y + 6:.1f}" font-family="{_FONT}" font-size="19" fill="{ink.HOUSE}" '
                f'text-anchor="middle" transform="rotate({turn} {x:.1f} {y:.1f})">{escape(word)}</text>'
            )

    def height_mark(self, clearance: Clearance) -> None:
        """A small triangle where a sill, riser or siding height was taken."""
        x, y = self.at(clearance.at_mm)
        self.parts.append(
            f'<path d="M{x:.1f} {y:.1f}l-7 -12h14z" fill="{ink.PAPER}" stroke="{ink.HOUSE}" stroke-width="2"/>'
        )

    def fall_arrow(self, plan: GradePlan) -> None:
        """An arrow down the finished fall through the middle of the slab."""
        if plan.plane is None:
            return
        a, b, _ = plan.plane
        steep = (a * a + b * b) ** 0.5
        if steep == 0:
            return
        reach = 0.18 * _LONG / self.per_mm
        cx, cy = self.centre
        start = self.at((cx + a / steep * reach, cy + b / steep * reach))
        end = self.at((cx - a / steep * reach, cy - b / steep * reach))
        dx, dy = end[0] - start[0], end[1] - start[1]
        size = (dx * dx + dy * dy) ** 0.5
        ux, uy = dx / size, dy / size
        self.parts.append(
            f'<path d="M{start[0]:.1f} {start[1]:.1f}L{end[0]:.1f} {end[1]:.1f}'
            f"m{-18 * ux - 9 * uy:.1f} {-18 * uy + 9 * ux:.1f}L{end[0]:.1f} {end[1]:.1f}"
            f'l{-18 * ux + 9 * uy:.1f} {-18 * uy - 9 * ux:.1f}" fill="none" stroke="{ink.JOINT}" stroke-width="5" '
            'stroke-linecap="round" stroke-opacity="0.45"/>'
        )

    def finish(self, title: str) -> str:
        """Place labels, add the scale bar and close the document."""
        frame = ink.Box(4, 4, self.width - 8, self.height - 50)
        for anchor, text, colour, leader in self.labels:
            size = 19.0
            width = 0.52 * size * len(text) + 12
            box = (
                ink.place_label(anchor, (width, size + 8), self.taken, frame)
                if leader or any(self._centred(anchor, width, size).overlaps(t) for t in self.taken)
                else self._centred(anchor, width, size)
            )
            self.taken.append(box)
            if leader:
                near_x = min(max(anchor[0], box.x), box.x + box.width)
                near_y = min(max(anchor[1], box.y), box.y + box.height)
                self.parts.append(
                    f'<path d="M{anchor[0]:.1f} {anchor[1]:.1f}L{near_x:.1f} {near_y:.1f}" stroke="{colour}" stroke-width="1.5"/>'
                )
            self.parts.append(
                f'<rect x="{box.x:.1f}" y="{box.y:.1f}" width="{box.width:.1f}" height="{box.height:.1f}" rx="4" '
                f'fill="{ink.PAPER}" fill-opacity="0.92" stroke="{colour}" stroke-width="1"/>'
            )
            self._write(box.x + box.width / 2, box.y + box.height / 2 + size / 3, text, colour, size)
        self._scale_bar()
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width:.0f} {self.height:.0f}" role="img" '
            f'aria-label="{escape(title)}"><title>{escape(title)}</title>'
            f'<rect width="100%" height="100%" fill="{ink.PAPER}"/>' + "".join(self.parts) + "</svg>"
        )

    @staticmethod
    def _centred(anchor: tuple[float, float], width: float, size: float) -> ink.Box:
        return ink.Box(anchor[0] - width / 2, anchor[1] + 6, width, size + 8)

    def _scale_bar(self) -> None:
        """A bar of a round length with the unit of the job."""
        metric = self.system == "metric"
        unit_mm = MM_PER_M if metric else MM_PER_FT
        count = next(n for n in (1, 2, 5, 10, 20, 50, 100, 200) if n * unit_mm * self.per_mm > 90)
        length = count * unit_mm * self.per_mm
        y = self.height - 26
        self.parts.append(
            f'<path d="M{_MARGIN:.1f} {y - 6:.1f}v12M{_MARGIN:.1f} {y:.1f}h{length:.1f}m0 -6v12" fill="none" '
            f'stroke="{ink.OUTLINE}" stroke-width="2"/>'
        )
        unit = "m" if metric else "ft"
        self._write(_MARGIN + length + 34, y + 6, f"{count} {unit}", ink.OUTLINE, 18)

    def _write(self, x: float, y: float, text: str, colour: str, size: float, bold: bool = False) -> None:
        """Centred text in sheet units."""
        weight = ' font-weight="bold"' if bold else ""
        self.parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" font-family="{_FONT}" font-size="{size:g}" fill="{colour}" '
            f'text-anchor="middle"{weight}>{escape(text)}</text>'
        )
