"""A grade plan as DXF R2010: what was found and what is to be built, on layers by trade term.

Drawing units are inches in imperial jobs and millimetres in metric ones; the file says which
($INSUNITS). Set-out points are points with their height as z, so that an instrument can load them.
"""

from __future__ import annotations

import io
import math
from collections.abc import Sequence

from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from analyzer.records import GradePlan, JobRecord, PointMm
from analyzer.terms import JointKind, UnitSystem
from analyzer.transmit import ink
from analyzer.transmit.grade_figure import warning_of
from analyzer.transmit.plan_tables import signed
from analyzer.transmit.surface_lines import cut, falls
from analyzer.units import format_length, format_slope, from_mm

# Layer: colour index of the drawing program (AutoCAD colour index), line type, what lies on it.
LAYERS: dict[str, tuple[int, str, str]] = {
    "SLAB-OUTLINE": (7, "Continuous", "edge of the slab"),
    "ADJOINING": (8, "Continuous", "what the edges lie against"),
    "JOINTS-OLD": (5, "DASHED", "joints of the old slab"),
    "CRACKS-OLD": (1, "Continuous", "cracks of the old slab"),
    "LEVEL-STATIONS": (3, "Continuous", "stations where the old surface was read, z = old height"),
    "FIXED-HEIGHTS": (30, "Continuous", "doors, steps, cladding, drains, posts"),
    "SETOUT-HEIGHTS": (3, "Continuous", "heights to set, z = rounded height"),
    "THICKNESS-CONTOURS": (4, "Continuous", "lines of equal thickness of the new concrete"),
    "JOINTS-CONTRACTION": (30, "DASHDOT", "contraction joints of the new concrete"),
    "JOINTS-CONSTRUCTION": (32, "DASHDOT", "construction joints of the new concrete"),
    "JOINTS-ISOLATION": (34, "DOT", "isolation joints of the new concrete"),
    "GRADE-BREAKS": (6, "CENTER", "valleys and ridges of the finished surface"),
    "GRADE-FALL": (5, "Continuous", "arrows down the finished surface"),
    "HIGH-SPOTS-GRIND": (1, "Continuous", "high spots of the old slab to grind"),
    "SECTION-LINE": (8, "PHANTOM", "line of the section"),
    "NOTES": (7, "Continuous", "title, units, datum, warnings"),
}
_JOINT_LAYER = {
    JointKind.CONTRACTION: "JOINTS-CONTRACTION",
    JointKind.CONSTRUCTION: "JOINTS-CONSTRUCTION",
    JointKind.ISOLATION: "JOINTS-ISOLATION",
    JointKind.UNKNOWN: "JOINTS-CONTRACTION",
}
_INCHES, _MILLIMETRES = 1, 4
_TEXT_PART = 1.0 / 110.0
# Width of a character over its height, a little generous: drawing programs bring their own font.
_CHARACTER = 0.8


def plan_dxf(record: JobRecord, plan: GradePlan) -> bytes:
    """The drawing as bytes of a DXF file (R2010, text, UTF-8)."""
    metric = record.field.job.units is UnitSystem.METRIC
    document = new("R2010", setup=["linetypes"], units=_MILLIMETRES if metric else _INCHES)
    document.header["$MEASUREMENT"] = int(metric)
    for name, (colour, line, about) in LAYERS.items():
        layer = document.layers.add(name, color=colour, linetype=line)
        layer.description = about
    sheet = _Sheet(document, record)
    sheet.found()
    sheet.planned(plan)
    sheet.notes(plan)
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode(document.output_encoding, "dxfreplace")


class _Sheet:
    """Writes entities in drawing units."""

    def __init__(self, document: Drawing, record: JobRecord) -> None:
        self.record = record
        self.system = str(record.field.job.units)
        self.unit = "mm" if self.system == "metric" else "in"
        self.space: Modelspace = document.modelspace()
        corners = record.field.outline
        xs, ys = [c.x_mm for c in corners], [c.y_mm for c in corners]
        self.low: PointMm = (min(xs), min(ys))
        self.span_mm = max(max(xs) - min(xs), max(ys) - min(ys))
        self.text_mm = self.span_mm * _TEXT_PART
        self.centre = ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)
        # Labels are placed with y downwards, as on every other sheet.
        self.taken: list[ink.Box] = []
        reach = 2.0 * self.span_mm
        self.frame = ink.Box(self.centre[0] - reach, -self.centre[1] - reach, 2 * reach, 2 * reach)
        document.header["$LTSCALE"] = from_mm(self.span_mm, self.unit) / 40.0

    def found(self) -> None:
        """The old slab: outline, neighbours, joints, cracks, stations, fixed heights."""
        record = self.record
        corners = {c.name: (c.x_mm, c.y_mm) for c in record.field.outline}
        self._line(list(corners.values()), "SLAB-OUTLINE", close=True)
        for name, at in corners.items():
            self._near(at, name, "SLAB-OUTLINE", 1.4)
        for edge in record.field.edges:
            (xa, ya), (xb, yb) = corners[edge.start], corners[edge.end]
            length = math.hypot(xb - xa, yb - ya) or 1.0
            # The outline runs anticlockwise: outside lies to the right of its travel.
            off = 3.0 * self.text_mm / length
            middle = ((xa + xb) / 2 + (yb - ya) * off, (ya + yb) / 2 - (xb - xa) * off)
            self._text(middle, str(edge.abuts), "ADJOINING")
        for joint in record.layout.joints:
            self._line((joint.start_mm, joint.end_mm), "JOINTS-OLD")
        for crack in record.distress.cracks:
            for branch in crack.branches:
                self._line(branch.points_mm, "CRACKS-OLD")
        for station in record.levels.stations if record.levels else ():
            self._point((station.x_mm, station.y_mm), station.z_mm, "LEVEL-STATIONS")
            self._near((station.x_mm, station.y_mm), station.station_id, "LEVEL-STATIONS", 0.8)
        for clearance in record.clearances:
            self._point(clearance.at_mm, 0.0, "FIXED-HEIGHTS")
            self._near(clearance.at_mm, f"{clearance.kind} {clearance.name}", "FIXED-HEIGHTS", 0.8)

    def planned(self, plan: GradePlan) -> None:
        """The new concrete: heights, contours, joints, grade breaks, fall, grinding, section line."""
        points = plan.setout.points if plan.setout else ()
        for number, point in enumerate(points, 1):
            at = (point.x_mm, point.y_mm)
            self._point(at, point.rounded_mm, "SETOUT-HEIGHTS")
            self._near(at, f"{number}: {signed(point.rounded_mm, self.system)}", "SETOUT-HEIGHTS", 0.9)
        for contour in plan.contours:
            for line in contour.lines_mm:
                self._line(line, "THICKNESS-CONTOURS")
                text = format_length(contour.thickness_mm, self.system)
                self._near(line[len(line) // 2], text, "THICKNESS-CONTOURS", 0.8)
        for joint in plan.joints:
            self._line((joint.start_mm, joint.end_mm), _JOINT_LAYER[joint.kind])
        for crease in plan.creases:
            self._line((crease.start_mm, crease.end_mm), "GRADE-BREAKS")
        for fall in falls(plan):
            self._arrow(fall.start_mm, fall.end_mm)
            self._near(fall.start_mm, format_slope(fall.slope, self.system), "GRADE-FALL")
        for spot in plan.grinding:
            radius = from_mm(math.sqrt(spot.area_mm2 / math.pi), self.unit)
            attributes = {"layer": "HIGH-SPOTS-GRIND"}
            self.space.add_circle(self._at(spot.at_mm), radius, dxfattribs=attributes)
            depth = format_length(spot.depth_mm, self.system)
            self._near(spot.at_mm, f"{spot.name}: grind {depth}", "HIGH-SPOTS-GRIND")
        profile = cut(self.record.field, plan)
        if profile is not None:
            self._line((profile.start_mm, profile.end_mm), "SECTION-LINE")

    def notes(self, plan: GradePlan) -> None:
        """Title, units, datum and warnings under the drawing."""
        record = self.record
        units = "millimetres" if self.unit == "mm" else "inches"
        lines = [
            f"{record.field.job.title} ({record.field.job.job_id}): {plan.option}",
            f"Drawing units: {units}. {record.provenance.software} {record.provenance.version}.",
        ]
        if plan.setout is not None and plan.setout.datum:
            lines.append(f"Heights are over the datum: {plan.setout.datum}.")
        lines.append("Not a code approval, warranty or structural opinion.")
        warning = warning_of(record, plan)
        if warning:
            lines.append(warning)
        if record.field.job.invented:
            lines.append("This job is invented.")
        for k, line in enumerate(lines):
            at = (self.low[0], self.low[1] - (5.0 + 1.8 * k) * self.text_mm)
            self._text(at, line, "NOTES", 1.1, TextEntityAlignment.LEFT)

    def _at(self, point: PointMm) -> tuple[float, float]:
        return from_mm(point[0], self.unit), from_mm(point[1], self.unit)

    def _line(self, points: Sequence[PointMm], layer: str, close: bool = False) -> None:
        attributes = {"layer": layer}
        self.space.add_lwpolyline([self._at(p) for p in points], close=close, dxfattribs=attributes)

    def _point(self, point: PointMm, z_mm: float, layer: str) -> None:
        x, y = self._at(point)
        self.space.add_point((x, y, from_mm(z_mm, self.unit)), dxfattribs={"layer": layer})

    def _text(
        self,
        point: PointMm,
        text: str,
        layer: str,
        size: float = 1.0,
        align: TextEntityAlignment = TextEntityAlignment.BOTTOM_LEFT,
    ) -> None:
        height = from_mm(size * self.text_mm, self.unit)
        one_line = " ".join(text.split())
        entity = self.space.add_text(one_line, height=height, dxfattribs={"layer": layer})
        entity.set_placement(self._at(point), align=align)

    def _near(self, point: PointMm, text: str, layer: str, size: float = 1.0) -> None:
        """Text beside a point, outside the slab where the point lies on its rim, off other such texts."""
        high = size * self.text_mm
        wide = _CHARACTER * high * len(text)
        x, y = point[0], -point[1]
        out = (x - self.centre[0], y + self.centre[1])
        box = ink.place_label((x, y), (wide, 1.2 * high), self.taken, self.frame, out if any(out) else None)
        self.taken.append(box)
        self._text((box.x, -box.y - 1.1 * high), text, layer, size)

    def _arrow(self, start: PointMm, end: PointMm) -> None:
        dx, dy = end[0] - start[0], end[1] - start[1]
        size = math.hypot(dx, dy) or 1.0
        ux, uy, head = dx / size, dy / size, 2.0 * self.text_mm
        left = (end[0] - head * ux - head / 2 * uy, end[1] - head * uy + head / 2 * ux)
        right = (end[0] - head * ux + head / 2 * uy, end[1] - head * uy - head / 2 * ux)
        self._line((start, end), "GRADE-FALL")
        self._line((left, end, right), "GRADE-FALL")
