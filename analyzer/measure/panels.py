"""Panels: the slab's outline cut along its joints.

A joint seen on a photo often stops short of the edge (dirt, leaves, the end of the picture), so its
ends are lengthened to the edge or the next joint where that is near. A joint that ends far from
both is kept in the list and cuts nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from analyzer.errors import FieldBookError
from analyzer.frames import apply, plan_from_grid
from analyzer.measure.joints import Cut, lay_cuts, longest_part, neighbour_spacings
from analyzer.measure.sides import sides_of
from analyzer.records import FieldBook, JointSize, JointTrace, Panel, PanelLayout, PlanImage
from analyzer.terms import Abuts

EDGE_U_MM = 6.0
"""Standard uncertainty of where an edge or joint lies, from tape and sketch: about 1/4 in
(judgement: a slab's edge is no sharper)."""

SLIVER_MM = 100.0
"""Strips narrower than this are no panels; they join the neighbour with the longest common side."""

_ROW_SHARE = 0.35


def lay_out_panels(
    joints: Sequence[JointTrace], field: FieldBook, plan: PlanImage | None, scale_u_rel: float
) -> PanelLayout:
    """Cut the slab into panels and measure them.

    Panels are named P1, P2, ... in rows from the house edge outwards and, within a row, from left
    to right in plan (top to bottom where the house edge runs up and down). Without a house edge
    the first edge of the outline takes its place.

    Parameters
    ----------
    joints : sequence of JointTrace
        Joints found on photos, plan mm. Joints drawn in the field book replace them all: who
        draws the joints draws every one.
    field : FieldBook
        Outline, edges and typed joints.
    plan : PlanImage or None
        For the part of each panel that some photo shows.
    scale_u_rel : float
        Relative standard uncertainty of lengths on the photos, 0 if there are none.

    Returns
    -------
    PanelLayout
        Areas in mm2, sides by the smallest enclosing rectangle, joints with the panels on both
        sides, distances between neighbouring parallel joints and edges.

    Raises
    ------
    FieldBookError
        The outline crosses itself or encloses no area.
    """
    outline = shapely.Polygon([(corner.x_mm, corner.y_mm) for corner in field.outline])
    if len(field.outline) < 3 or not outline.is_valid or outline.area <= 0:
        raise FieldBookError(
            f"{field.source}, outline", "it crosses itself or encloses no area", "give the corners in order"
        )
    outline = shapely.orient_polygons(outline)
    cuts = lay_cuts(joints, field, outline, plan)
    pieces = _cut(outline, cuts)
    pieces = [pieces[i] for i in _reading_order(pieces, field)]
    typed = not cuts or all(cut.trace.typed for cut in cuts)
    scale = 0.0 if typed else scale_u_rel
    panels = tuple(_panel(f"P{k}", piece, plan, scale) for k, piece in enumerate(pieces, start=1))
    sizes = tuple(_joint_size(cut, panels, pieces, outline, scale_u_rel) for cut in cuts)
    spacing = neighbour_spacings(cuts, outline)
    longest = max(spacing, default=0.0)
    return PanelLayout(panels, sizes, spacing, math.hypot(math.sqrt(2.0) * EDGE_U_MM, longest * scale))


def _cut(outline: shapely.Polygon, cuts: Sequence[Cut]) -> list[shapely.Polygon]:
    """Pieces of the outline between the cuts, slivers joined to a neighbour."""
    lines = [cut.line for cut in cuts if cut.divides]
    network = shapely.union_all([outline.boundary, *lines])
    parts = [
        part
        for part in shapely.get_parts(shapely.polygonize([network]))
        if outline.contains(part.representative_point())
    ]
    if not parts:
        return [outline]
    while len(parts) > 1:
        breadth = [_breadth(part) for part in parts]
        thin = int(np.argmin(breadth))
        if breadth[thin] >= SLIVER_MM:
            break
        sliver = parts.pop(thin)
        common = [sliver.boundary.intersection(part.boundary).length for part in parts]
        host = int(np.argmax(common))
        parts[host] = shapely.union_all([parts[host], sliver])
    return [_clean(part) for part in parts]


def _breadth(part: shapely.Polygon) -> float:
    """About the width of a strip: twice the area over the half perimeter is too big for a square
    only."""
    return float(2.0 * part.area / part.length)


def _clean(part: shapely.Polygon) -> shapely.Polygon:
    """Without points in the middle of straight sides, anticlockwise."""
    return shapely.orient_polygons(shapely.simplify(part, 1.0))


def _reading_order(pieces: Sequence[shapely.Polygon], field: FieldBook) -> list[int]:
    """Indices of the pieces in rows from the house outwards and along each row."""
    corners = {corner.name: np.array([corner.x_mm, corner.y_mm]) for corner in field.outline}
    houses = [edge for edge in field.edges if edge.abuts is Abuts.HOUSE]
    ends = [(corners[edge.start], corners[edge.end]) for edge in houses]
    if ends:
        start, end = max(ends, key=lambda pair: float(np.hypot(*(pair[1] - pair[0]))))
    else:
        start, end = corners[field.outline[0].name], corners[field.outline[1].name]
    along = (end - start) / max(float(np.hypot(*(end - start))), 1e-9)
    if abs(along[0]) >= abs(along[1]):
        along = along * np.sign(along[0])
    else:
        along = -along * np.sign(along[1])
    square = np.array([-along[1], along[0]])
    near, far, middle = [], [], []
    for piece in pieces:
        points = np.asarray(piece.exterior.coords)
        away = np.abs((points - start) @ square)
        near.append(float(away.min()))
        far.append(float(away.max()))
        middle.append(float(np.asarray(piece.centroid.coords)[0] @ along))
    depth = float(np.median(np.array(far) - np.array(near)))
    rows, last, row = {}, None, 0
    for i in sorted(range(len(pieces)), key=lambda i: near[i]):
        if last is not None and near[i] - last > _ROW_SHARE * depth:
            row += 1
        last = near[i]
        rows[i] = row
    return sorted(range(len(pieces)), key=lambda i: (rows[i], middle[i]))


def _panel(name: str, piece: shapely.Polygon, plan: PlanImage | None, scale_u_rel: float) -> Panel:
    """One panel with its sides and area."""
    length, width = sides_of(piece)
    side_u = math.hypot(math.sqrt(2.0) * EDGE_U_MM, length * scale_u_rel)
    # Each side may lie EDGE_U_MM out: it sweeps its own length (GUM root-sum-of-squares); the scale
    # counts twice, once for each direction.
    swept = EDGE_U_MM * math.sqrt(2.0 * length**2 + 2.0 * width**2)
    return Panel(
        panel_id=name,
        outline_mm=tuple((float(x), float(y)) for x, y in piece.exterior.coords[:-1]),
        area_mm2=float(piece.area),
        area_u_mm2=math.hypot(swept, 2.0 * scale_u_rel * piece.area),
        length_mm=length,
        width_mm=width,
        side_u_mm=side_u,
        seen_fraction=None if plan is None else _seen_fraction(piece, plan),
    )


def _seen_fraction(piece: shapely.Polygon, plan: PlanImage) -> float | None:
    """Share of the coarse cells in the piece that some photo shows; None if no cell lies in it."""
    matrix = plan_from_grid(plan.coarse)
    rows, cols = np.indices(plan.best_photo.shape)
    centres = apply(matrix, np.stack([rows.ravel(), cols.ravel()], axis=1))
    inside = shapely.contains_xy(piece, centres[:, 0], centres[:, 1])
    shown = plan.best_photo.ravel()[inside]
    shown = shown[shown > -2]
    return float(np.mean(shown >= 0)) if len(shown) else None


def _joint_size(
    cut: Cut,
    panels: Sequence[Panel],
    pieces: Sequence[shapely.Polygon],
    outline: shapely.Polygon,
    scale_u_rel: float,
) -> JointSize:
    """Length of a joint as it cuts the slab, and the panels on both sides of it."""
    trace = cut.trace
    band = cut.line.buffer(2.0 * EDGE_U_MM, cap_style="flat")
    beside = tuple(
        panel.panel_id
        for panel, piece in zip(panels, pieces, strict=True)
        if piece.boundary.intersection(band).length > 0.2 * min(cut.line.length, math.sqrt(piece.area))
    )
    inside = longest_part(cut.line.intersection(outline)) or cut.line
    start, end = inside.coords[0], inside.coords[-1]
    scale = 0.0 if trace.typed else scale_u_rel
    return JointSize(
        joint_id=trace.joint_id,
        kind=trace.kind,
        start_mm=(float(start[0]), float(start[1])),
        end_mm=(float(end[0]), float(end[1])),
        length_mm=float(inside.length),
        length_u_mm=math.hypot(math.sqrt(2.0) * EDGE_U_MM, inside.length * scale),
        probability=trace.probability,
        panels=beside,
        typed=trace.typed,
    )
