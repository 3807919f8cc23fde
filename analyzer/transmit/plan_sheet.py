"""The drawing board of every plan: SVG 1.1 elements in sheet units, labels that keep off each other.

Sheet units are plan millimetres divided by a scale that makes the long side 1000 units; y is
turned over, since SVG counts downwards. Fonts are named with fallbacks that a PDF engine carries.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from analyzer.records import Clearance, JobRecord, PointMm
from analyzer.terms import Abuts
from analyzer.transmit import ink
from analyzer.units import MM_PER_FT, MM_PER_M

LONG = 1000.0
MARGIN = 110.0
TEXT = 19.0
_FOOT = 46.0
_BAND = 16.0
_DOT = 7.0
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

Pair = tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Label:
    anchor: Pair
    text: str
    colour: str
    leader: bool
    prefer: Pair | None
    size: float


class PlanSheet:
    """Collects SVG elements in sheet units and places labels at the end.

    ``legend`` holds (colour, dashes, words) of the lines to explain, ``notes`` warnings under it.
    """

    def __init__(self, record: JobRecord, margin: float = MARGIN, scale_bar: bool = True) -> None:
        self.record = record
        self.margin = margin
        self.foot = _FOOT if scale_bar else 0.0
        self.system = str(record.field.job.units)
        xs = [c.x_mm for c in record.field.outline]
        ys = [c.y_mm for c in record.field.outline]
        self.x0, self.y1 = min(xs), max(ys)
        self.span_mm = max(max(xs) - self.x0, self.y1 - min(ys))
        self.per_mm = LONG / self.span_mm
        self.width = (max(xs) - self.x0) * self.per_mm + 2 * margin
        self.height = (self.y1 - min(ys)) * self.per_mm + 2 * margin + self.foot
        self.centre = (sum(xs) / len(xs), sum(ys) / len(ys))
        self.parts: list[str] = []
        self.notes: list[str] = []
        self.legend: list[tuple[str, str, str]] = []
        self._labels: list[_Label] = []
        self.taken: list[ink.Box] = []

    def at(self, point: PointMm) -> Pair:
        """Sheet position of a plan point."""
        return (point[0] - self.x0) * self.per_mm + self.margin, (
            self.y1 - point[1]
        ) * self.per_mm + self.margin

    def polygon(
        self, points: Sequence[PointMm], fill: str, stroke: str = "none", width: float = 0, dash: str = ""
    ) -> None:
        """A closed shape in plan millimetres."""
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(
            f'<polygon points="{self._path(points)}" fill="{fill}" stroke="{stroke}" '
            f'stroke-width="{width:g}"{dashes} stroke-linejoin="round"/>'
        )

    def polyline(self, points: Sequence[PointMm], colour: str, width: float, dash: str = "") -> None:
        """A line in plan millimetres."""
        dashes = f' stroke-dasharray="{dash}"' if dash else ' stroke-linecap="round"'
        self.parts.append(
            f'<polyline points="{self._path(points)}" fill="none" stroke="{colour}" '
            f'stroke-width="{width:g}"{dashes} stroke-linejoin="round"/>'
        )

    def outline(self) -> None:
        """The edge of the slab."""
        self.polygon([(c.x_mm, c.y_mm) for c in self.record.field.outline], "none", ink.OUTLINE, 3)

    def panels(self, marked: frozenset[str] = frozenset()) -> None:
        """The panels as areas, some of them marked."""
        for panel in self.record.layout.panels:
            self.polygon(panel.outline_mm, ink.PANEL_MARKED if panel.panel_id in marked else ink.PANEL_FILL)

    def joints(self, width: float = 3, colour: str = ink.JOINT) -> None:
        """The joints of the old slab, dashed."""
        for joint in self.record.layout.joints:
            self.polyline((joint.start_mm, joint.end_mm), colour, width, "14 8")

    def dot(self, point: PointMm, colour: str) -> None:
        """A station: a small ring with a cross hair, told from a pore by its cross."""
        x, y = self.at(point)
        self.parts.append(
            f'<path d="M{x - 6:.1f} {y:.1f}h12M{x:.1f} {y - 6:.1f}v12" stroke="{colour}" stroke-width="1.6"/>'
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="none" stroke="{colour}" stroke-width="1.6"/>'
        )
        self.taken.append(ink.Box(x - _DOT, y - _DOT, 2 * _DOT, 2 * _DOT))

    def circle(self, point: PointMm, radius_mm: float, colour: str, width: float = 2.5) -> None:
        """A ring of a true size, never too small to see."""
        x, y = self.at(point)
        radius = max(radius_mm * self.per_mm, 10.0)
        self.parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" fill="{colour}" fill-opacity="0.15" '
            f'stroke="{colour}" stroke-width="{width:g}"/>'
        )

    def corner_names(self) -> None:
        """The names of the corners, outside the slab."""
        corners = self.record.field.outline
        for k, corner in enumerate(corners):
            x, y = self.at((corner.x_mm, corner.y_mm))
            before = self.at((corners[k - 1].x_mm, corners[k - 1].y_mm))
            after = corners[(k + 1) % len(corners)]
            nx, ny = _outside(before, (x, y), self.at((after.x_mm, after.y_mm)))
            x, y = x + 30 * nx, y + 30 * ny
            self.write(x, y + 7, corner.name, ink.OUTLINE, 22, bold=True)
            self.taken.append(ink.Box(x - 11, y - 12, 22, 24))

    def label(
        self,
        point: PointMm,
        text: str,
        colour: str,
        leader: bool = True,
        prefer: Pair | None = None,
        size: float = TEXT,
    ) -> None:
        """A boxed label near a plan point; all are placed together at the end.

        ``prefer`` is the plan direction in which the label should stand; without a leader the
        label sits on its point as long as the place is free.
        """
        turned = None if prefer is None else (prefer[0], -prefer[1])
        self._labels.append(_Label(self.at(point), text, colour, leader, turned, size))

    def outward(self, point: PointMm) -> Pair:
        """Plan direction from the middle of the slab through a point."""
        dx, dy = point[0] - self.centre[0], point[1] - self.centre[1]
        size = math.hypot(dx, dy) or 1.0
        return dx / size, dy / size

    def neighbours(self) -> None:
        """Bands along the edges that lie against something, with its name."""
        corners = {c.name: (c.x_mm, c.y_mm) for c in self.record.field.outline}
        for edge in self.record.field.edges:
            word = _ABUTS_WORD[edge.abuts]
            if not word:
                continue
            (xa, ya), (xb, yb) = self.at(corners[edge.start]), self.at(corners[edge.end])
            length = max(1.0, math.hypot(xb - xa, yb - ya))
            # The outline runs anticlockwise in plan, so outside lies to the right of its travel;
            # on the sheet y is turned over, which makes it the left normal of the drawn edge.
            nx, ny = -(yb - ya) / length, (xb - xa) / length
            if edge.abuts in {Abuts.HOUSE, Abuts.WALL}:
                band = (
                    (xa, ya),
                    (xb, yb),
                    (xb + _BAND * nx, yb + _BAND * ny),
                    (xa + _BAND * nx, ya + _BAND * ny),
                )
                points = " ".join(f"{x:.1f},{y:.1f}" for x, y in band)
                self.parts.append(f'<polygon points="{points}" fill="{ink.HOUSE}"/>')
            x, y = (xa + xb) / 2 + 38 * nx, (ya + yb) / 2 + 38 * ny
            upright = abs(xb - xa) < abs(yb - ya)
            turn = -90 if upright else 0
            self.parts.append(
                f'<text x="{x:.1f}" y="{y + 6:.1f}" font-family="{_FONT}" font-size="{TEXT:g}" '
                f'fill="{ink.HOUSE}" text-anchor="middle" transform="rotate({turn} {x:.1f} {y:.1f})">'
                f"{escape(word)}</text>"
            )
            half = 0.27 * TEXT * len(word)
            wide, high = (14.0, half) if upright else (half, 14.0)
            self.taken.append(ink.Box(x - wide, y - high, 2 * wide, 2 * high))

    def height_mark(self, clearance: Clearance) -> None:
        """A small triangle where a sill, riser or siding height was taken."""
        x, y = self.at(clearance.at_mm)
        self.parts.append(
            f'<path d="M{x:.1f} {y:.1f}l-7 -12h14z" fill="{ink.PAPER}" stroke="{ink.HOUSE}" '
            'stroke-width="2"/>'
        )

    def arrow(self, start: PointMm, end: PointMm, colour: str, width: float = 5) -> None:
        """An arrow in plan millimetres, pale enough to read what lies under it."""
        (xa, ya), (xb, yb) = self.at(start), self.at(end)
        size = math.hypot(xb - xa, yb - ya) or 1.0
        ux, uy = (xb - xa) / size, (yb - ya) / size
        head = 3.6 * width
        self.parts.append(
            f'<path d="M{xa:.1f} {ya:.1f}L{xb:.1f} {yb:.1f}'
            f"m{-head * ux - head / 2 * uy:.1f} {-head * uy + head / 2 * ux:.1f}L{xb:.1f} {yb:.1f}"
            f'l{-head * ux + head / 2 * uy:.1f} {-head * uy - head / 2 * ux:.1f}" fill="none" '
            f'stroke="{colour}" stroke-width="{width:g}" stroke-linecap="round" stroke-opacity="0.45"/>'
        )

    def finish(self, title: str) -> str:
        """Place labels, add notes and the scale bar, and close the document."""
        frame = ink.Box(4, 4, self.width - 8, self.height - self.foot - 4)
        for label in self._labels:
            self._place(label, frame)
        if self.foot:
            self._scale_bar()
        for colour, dash, text in self.legend:
            self.height += 26
            y = self.height - 16
            self.parts.append(
                f'<path d="M20 {y:.1f}h56" stroke="{colour}" stroke-width="3" stroke-dasharray="{dash}"/>'
            )
            self.write(86, y + 6, text, ink.OUTLINE, 17, start=True)
        for note in self.notes:
            self.height += 30
            size = min(20.0, self.width / (0.5 * len(note)))
            self.write(self.width / 2, self.height - 16, note, ink.CRACK, size, bold=True)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width:.0f} {self.height:.0f}" '
            f'role="img" aria-label="{escape(title)}"><title>{escape(title)}</title>'
            f'<rect width="100%" height="100%" fill="{ink.PAPER}"/>' + "".join(self.parts) + "</svg>"
        )

    def write(
        self,
        x: float,
        y: float,
        text: str,
        colour: str,
        size: float,
        bold: bool = False,
        start: bool = False,
    ) -> None:
        """Text in sheet units, centred on x or starting there."""
        weight = ' font-weight="bold"' if bold else ""
        anchor = "start" if start else "middle"
        self.parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" font-family="{_FONT}" font-size="{size:g}" fill="{colour}" '
            f'text-anchor="{anchor}"{weight}>{escape(text)}</text>'
        )

    def _path(self, points: Sequence[PointMm]) -> str:
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in map(self.at, points))

    def _place(self, label: _Label, frame: ink.Box) -> None:
        x, y = label.anchor
        width, height = 0.5 * label.size * len(label.text) + 10, label.size + 7
        box = ink.Box(x - width / 2, y - height / 2, width, height)
        moved = label.leader or any(box.overlaps(t) for t in self.taken) or not box.inside(frame)
        if moved:
            box = ink.place_label(label.anchor, (width, height), self.taken, frame, label.prefer)
        self.taken.append(box)
        near_x = min(max(x, box.x), box.x + box.width)
        near_y = min(max(y, box.y), box.y + box.height)
        if moved and math.hypot(near_x - x, near_y - y) > 4:
            self.parts.append(
                f'<path d="M{x:.1f} {y:.1f}L{near_x:.1f} {near_y:.1f}" stroke="{label.colour}" '
                'stroke-width="1.5"/>'
            )
        self.parts.append(
            f'<rect x="{box.x:.1f}" y="{box.y:.1f}" width="{box.width:.1f}" height="{box.height:.1f}" '
            f'rx="4" fill="{ink.PAPER}" fill-opacity="0.92" stroke="{label.colour}" stroke-width="1"/>'
        )
        middle = box.x + box.width / 2, box.y + box.height / 2 + label.size / 3
        self.write(*middle, label.text, label.colour, label.size)

    def _scale_bar(self) -> None:
        """A bar of a round length with the unit of the job."""
        metric = self.system == "metric"
        unit_mm = MM_PER_M if metric else MM_PER_FT
        count = next(n for n in (1, 2, 5, 10, 20, 50, 100, 200, 500) if n * unit_mm * self.per_mm > 90)
        length = count * unit_mm * self.per_mm
        y = self.height - 26
        self.parts.append(
            f'<path d="M{self.margin:.1f} {y - 6:.1f}v12M{self.margin:.1f} {y:.1f}h{length:.1f}m0 -6v12" '
            f'fill="none" stroke="{ink.OUTLINE}" stroke-width="2"/>'
        )
        self.write(self.margin + length + 34, y + 6, f"{count} {'m' if metric else 'ft'}", ink.OUTLINE, 18)


def _outside(before: Pair, at: Pair, after: Pair) -> Pair:
    """Unit direction out of the slab at a corner of an outline that runs anticlockwise in plan."""
    nx, ny = 0.0, 0.0
    for (xa, ya), (xb, yb) in ((before, at), (at, after)):
        length = math.hypot(xb - xa, yb - ya) or 1.0
        nx, ny = nx - (yb - ya) / length, ny + (xb - xa) / length
    size = math.hypot(nx, ny)
    return (nx / size, ny / size) if size > 0.1 else (0.0, -1.0)
