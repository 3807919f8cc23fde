"""Joints of the new concrete: over the old joints where it is bonded, by the spacing rule where it is not."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from analyzer.propose.site import Site
from analyzer.records import Float, GradePlan, PlannedJoint, PointMm
from analyzer.terms import Abuts, JointKind, Option, Support
from analyzer.units import format_length

_ISOLATED = {Abuts.HOUSE, Abuts.WALL, Abuts.STEP, Abuts.WALK, Abuts.POOL}
_LEAST_APART_MM = 600.0
_TOLERATED = 1.2
_LEAST_AREA_MM2 = 100.0
_ROUNDS = 40
_SAMPLES = 25
_OVER_MM = 150.0

Thickness = Callable[[Float], Float]


def plan_joints(site: Site, plan: GradePlan, thickness_at: Thickness) -> tuple[PlannedJoint, ...]:
    """Contraction and isolation joints of one option.

    Bonded overlay: one joint straight over each old one; base joints and composite thickness
    rule, so that the spacing rule does not apply. Unbonded overlay and new slab: panels by 24 to
    36 times their own least thickness, at most 15 ft, long side at most 1.5 times the short one,
    a joint at each inside corner, lines running from edge to edge.

    Parameters
    ----------
    thickness_at : callable
        Thickness in mm (Q,) at points (Q, 2).
    """
    contraction = (
        _over_old_joints(site, thickness_at)
        if plan.option is Option.OVERLAY_BONDED
        else _by_spacing(site, plan, thickness_at)
    )
    return (*contraction, *_isolation(site, thickness_at))


def spacing_limit(site: Site, thickness_mm: float) -> float:
    """Greatest joint spacing in mm for an own thickness."""
    return min(site.rules["joint_spacing_high"] * thickness_mm, site.rules["joint_spacing_max"])


def support_notes(site: Site, plan: GradePlan) -> tuple[str, ...]:
    """Where the support changes under one new panel, and edges that have lost theirs."""
    notes = []
    if plan.option is not Option.REMOVAL:
        lines = [shapely.LineString([j.start_mm, j.end_mm]) for j in plan.joints]
        bridged = []
        for joint in site.layout.joints:
            old = shapely.LineString([joint.start_mm, joint.end_mm])
            if old.length > 0 and not any(line.buffer(_OVER_MM).covers(old) for line in lines):
                bridged.append(joint.joint_id)
        if bridged:
            notes.append(
                f"New panels span the old joint {', '.join(bridged)}: the support changes under them. "
                "Run the bond breaker through there without a break and grind off steps first."
            )
    sunk = [p.panel_id for p in site.levels.panels if not p.sound]
    if sunk:
        notes.append(
            f"Panel {', '.join(sunk)} does not lie on one plane with the others: find out why and stop it "
            "before concrete goes over it."
        )
    lost = [e.name for e in site.field.edges if e.support in {Support.PARTLY_WASHED, Support.UNDERMINED}]
    if lost:
        notes.append(f"Ground is missing under edge {', '.join(lost)}: fill and compact it first.")
    return tuple(notes)


def _over_old_joints(site: Site, thickness_at: Thickness) -> Iterator[PlannedJoint]:
    extra = site.rules["saw_extra_bonded"]
    for joint in site.layout.joints:
        deepest = _deepest(joint.start_mm, joint.end_mm, thickness_at)
        if joint.kind is JointKind.ISOLATION:
            rule = "isolation joint through the full overlay over the isolation joint below"
            depth, source = deepest, "UFGS-OVERLAY-JOINT: UFGS concrete rehabilitation 3.10.3 (read)"
        else:
            rule = (
                "saw over the old joint, within 1/4 in of it, through the overlay and "
                f"{site.rules.written('saw_extra_bonded')} deeper; at least as wide as the gap below"
            )
            depth, source = deepest + extra, site.rules.source("saw_extra_bonded")
        yield PlannedJoint(
            f"over {joint.joint_id}", joint.kind, joint.start_mm, joint.end_mm, joint.length_mm, depth, None,
            joint.joint_id, rule, source,
        )  # fmt: skip


def _by_spacing(site: Site, plan: GradePlan, thickness_at: Thickness) -> Iterator[PlannedJoint]:
    least = plan.thickness_min_mm
    limit = spacing_limit(site, least)
    polygon = shapely.Polygon([(c.x_mm, c.y_mm) for c in site.field.outline])
    deep = site.rules.written("saw_depth_min")
    rule = (
        f"panels no more than {format_length(limit, site.units, 1)} a side, 24 to 36 times the least "
        f"thickness of {site.length(least)}; a quarter of it deep, at least {deep}"
    )
    number = 0
    for line in grid_lines(polygon, limit, site.rules["joint_aspect"]):
        for part in shapely.get_parts(line):
            number += 1
            start, end = ((float(x), float(y)) for x, y in (part.coords[0], part.coords[-1]))
            depth = max(
                site.rules["saw_part_contraction"] * _deepest(start, end, thickness_at),
                site.rules["saw_depth_min"],
            )
            yield PlannedJoint(
                f"N{number}", JointKind.CONTRACTION, start, end, float(part.length), depth, None, None, rule,
                site.rules.source("joint_spacing_high"),
            )  # fmt: skip


def grid_lines(polygon: BaseGeometry, limit_mm: float, aspect: float) -> tuple[BaseGeometry, ...]:
    """Joint lines that cut a slab into panels of a greatest side and aspect.

    Lines run along and square to the longest edge: first through each inside corner, the shorter
    way, then through panels that are still too long, at equal parts. A line runs on into the next
    panel as long as that one is not made too slender by it. A panel up to a fifth over the
    aspect is left alone where its line would have to end against another joint.
    """
    ring = np.asarray(polygon.exterior.coords)[:-1]
    if not polygon.exterior.is_ccw:
        ring = ring[::-1]
    sides = np.roll(ring, -1, axis=0) - ring
    longest = sides[int(np.linalg.norm(sides, axis=1).argmax())]
    u = longest / np.linalg.norm(longest)
    axes = np.array([u, [-u[1], u[0]]])
    turn = np.roll(sides, 1, axis=0)
    inside = ring[turn[:, 0] * sides[:, 1] - turn[:, 1] * sides[:, 0] < 0]
    lines: list[BaseGeometry] = []
    for corner in inside:
        if any(line.distance(shapely.Point(corner)) < 1.0 for line in lines):
            continue
        chords = [c for a in axes if (c := _chord(polygon, corner, a)) is not None]
        if chords:
            lines.append(min(chords, key=lambda c: _cost_of_cut(polygon, c, inside, axes)))
    done: set[tuple[int, int]] = set()
    for _ in range(_ROUNDS):
        cells = list(panels_between(polygon, lines))
        added = False
        for cell in cells:
            key = (round(cell.centroid.x), round(cell.centroid.y))
            if key in done:
                continue
            done.add(key)
            new = _splits(polygon, cell, cells, axes, limit_mm, aspect)
            if new:
                lines += new
                added = True
                break
        if not added:
            break
    return tuple(lines)


def panels_between(polygon: BaseGeometry, lines: Sequence[BaseGeometry]) -> tuple[BaseGeometry, ...]:
    """The parts into which joint lines cut a slab."""
    longer = [_longer(part) for line in lines for part in shapely.get_parts(line)]
    network = shapely.union_all([polygon.exterior, *longer])
    parts = shapely.get_parts(shapely.polygonize([network]))
    return tuple(p for p in parts if p.area > _LEAST_AREA_MM2 and polygon.contains(p.representative_point()))


def _longer(line: BaseGeometry) -> BaseGeometry:
    """A line 2 mm longer at both ends, so that it surely crosses what it runs up to."""
    (x0, y0), (x1, y1) = line.coords[0], line.coords[-1]
    dx, dy = 2.0 * (x1 - x0) / line.length, 2.0 * (y1 - y0) / line.length
    return shapely.LineString([(x0 - dx, y0 - dy), (x1 + dx, y1 + dy)])


def _cost_of_cut(
    polygon: BaseGeometry, chord: BaseGeometry, inside: Float, axes: Float
) -> tuple[int, float, float]:
    """Smaller is better: serves many inside corners, leaves no slender part, is short."""
    served = int((shapely.distance(chord, shapely.points(inside)) < 1.0).sum())
    sizes = [_size(part, axes)[1] for part in panels_between(polygon, [chord])]
    slender = max(float(size.max() / max(size.min(), 1.0)) for size in sizes)
    return -served, slender, float(chord.length)


def _size(cell: BaseGeometry, axes: Float) -> tuple[Float, Float]:
    """Least coordinates (2,) along the axes and extent (2,) of a panel."""
    across = np.asarray(cell.exterior.coords) @ axes.T
    return across.min(axis=0), np.ptp(across, axis=0)


def _splits(
    polygon: BaseGeometry,
    cell: BaseGeometry,
    cells: list[BaseGeometry],
    axes: Float,
    limit_mm: float,
    aspect: float,
) -> list[BaseGeometry]:
    """Lines that cut one panel into parts that are short and stout enough, none if it is."""
    low, size = _size(cell, axes)
    axis = int(size.argmax())
    most = min(limit_mm, max(aspect * size[1 - axis], _LEAST_APART_MM))
    pieces = math.ceil(size[axis] / most - 1e-6)
    out = []
    for k in range(1, pieces):
        at = low + size / 2.0
        at[axis] = low[axis] + size[axis] * k / pieces
        chord = _chord(polygon, at @ axes, axes[1 - axis])
        if chord is None:
            continue
        kept = [cell]
        for other in cells:
            if other is not cell and chord.intersection(other).length > 1.0:
                o_low, o_size = _size(other, axes)
                parts = (at[axis] - o_low[axis], o_low[axis] + o_size[axis] - at[axis])
                if min(parts) > 1.0 and max(o_size[1 - axis] / p for p in parts) <= aspect:
                    kept.append(other)
        run = chord.intersection(shapely.union_all(kept, grid_size=1e-3).buffer(1.0))
        own = min(shapely.get_parts(run), key=lambda p: float(p.distance(shapely.Point(at @ axes))))
        ends = [shapely.Point(own.coords[0]), shapely.Point(own.coords[-1])]
        edge_to_edge = all(polygon.exterior.distance(e) < 2.0 for e in ends)
        slender_only = size[axis] <= limit_mm and size[axis] <= _TOLERATED * aspect * size[1 - axis]
        if edge_to_edge or not slender_only:
            out.append(own)
    return out


def _chord(polygon: BaseGeometry, at: Float, along: Float) -> BaseGeometry | None:
    """The part of a line through a point inside the slab, None where it only follows the rim."""
    reach = 2.0 * float(np.ptp(np.asarray(polygon.exterior.coords), axis=0).sum())
    line = shapely.LineString([at - along * reach, at + along * reach])
    parts = [
        p
        for p in shapely.get_parts(polygon.intersection(line))
        if p.geom_type == "LineString"
        and polygon.exterior.distance(p.interpolate(0.5, normalized=True)) > 1.0
    ]
    return shapely.MultiLineString(parts) if parts else None


def _isolation(site: Site, thickness_at: Thickness) -> Iterator[PlannedJoint]:
    for edge in site.edges:
        if edge.abuts in _ISOLATED:
            start: PointMm = (float(edge.start[0]), float(edge.start[1]))
            end: PointMm = (float(edge.end[0]), float(edge.end[1]))
            width = site.rules.written("isolation_width")
            yield PlannedJoint(
                f"isolation at {edge.name}", JointKind.ISOLATION, start, end, edge.length_mm,
                _deepest(start, end, thickness_at), site.rules["isolation_width"], None,
                f"filler {width} wide, full depth, against the {edge.abuts.value}",
                site.rules.source("isolation_width"),
            )  # fmt: skip


def _deepest(start: PointMm, end: PointMm, thickness_at: Thickness) -> float:
    t = np.linspace(0.0, 1.0, _SAMPLES)[:, None]
    points: Float = np.array(start) * (1 - t) + np.array(end) * t
    return float(thickness_at(points).max())
