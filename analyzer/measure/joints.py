"""Joints made into lines that cut the slab, and the distances between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from analyzer.frames import apply, grid_from_plan
from analyzer.records import FieldBook, Float, JointTrace, PlanImage

REACH_MM = 450.0
"""A joint's end is lengthened by up to this much (about 18 in), or by ``REACH_SHARE`` of its length
where that is more, to meet the edge or the next joint (judgement)."""

REACH_SHARE = 0.25
PARALLEL_DEG = 10.0
SAME_LINE_MM = 60.0
"""Joints that run closer together than this, or closer to an edge, are one line."""

_PAST_MM = 1.0
_OVERLAP_SHARE = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """A joint as a line within the outline; ``divides`` is False for one along an edge."""

    trace: JointTrace
    line: shapely.LineString
    divides: bool


def lay_cuts(
    joints: Sequence[JointTrace],
    field: FieldBook,
    outline: shapely.Polygon,
    plan: PlanImage | None = None,
) -> tuple[Cut, ...]:
    """Typed joints if there are any, else those of the photos, lengthened and clipped to the slab.

    Of two joints that lie on one line the surer is kept. What ``plan`` says no photo shows does not
    count as a gap: a joint goes on under it.
    """
    typed = [
        JointTrace(entry.name, np.array([entry.start_mm, entry.end_mm], dtype=float), entry.kind, 1.0, True)
        for entry in field.joints
    ]
    names = {trace.joint_id for trace in typed}
    typed += [trace for trace in joints if trace.typed and trace.joint_id not in names]
    traces = typed or list(joints)
    straight = [(i, _straightened(trace)) for i, trace in enumerate(traces)]
    lines = {i: line for i, line in straight if line is not None and line.length > 1.0}
    order = sorted(lines, key=lambda i: (-traces[i].probability, -lines[i].length))
    kept: list[int] = []
    for i in order:
        if not any(_same_line(lines[i], lines[k]) for k in kept):
            kept.append(i)
    kept.sort()
    chosen = {i: lines[i] for i in kept}
    # Twice, so that a joint may end on one that was itself lengthened to get there.
    for _ in range(2):
        chosen = {
            i: _lengthen(line, lines[i].length, outline, [chosen[k] for k in kept if k != i], plan)
            for i, line in chosen.items()
        }
    cuts = []
    for i in kept:
        inside = longest_part(chosen[i].intersection(outline.buffer(_PAST_MM)))
        if inside is None:
            continue
        along_edge = inside.distance(outline.boundary) < SAME_LINE_MM and _runs_along(inside, outline)
        cuts.append(Cut(traces[i], inside, not along_edge))
    return tuple(cuts)


def neighbour_spacings(cuts: Sequence[Cut], outline: shapely.Polygon) -> tuple[float, ...]:
    """Distances in mm between each dividing joint and the next parallel joint or edge on both sides.

    Every pair counts once. Lines are neighbours where they lie beside each other over at least a
    third of the shorter one. Without joints: the sides of the slab between parallel edges.
    """
    ring = np.asarray(outline.exterior.coords)
    lines = [np.asarray(cut.line.coords)[[0, -1]] for cut in cuts if cut.divides]
    n_joints = len(lines)
    lines += [ring[i : i + 2] for i in range(len(ring) - 1)]
    pairs: dict[tuple[int, int], float] = {}
    for i in range(n_joints or len(lines)):
        a, b = lines[i]
        size = float(np.hypot(*(b - a)))
        if size < 1.0:
            continue
        along = (b - a) / size
        square = np.array([-along[1], along[0]])
        nearest: dict[bool, tuple[float, int]] = {}
        for k, other in enumerate(lines):
            span = other - a
            reach = span @ along
            turn = abs(float((other[1] - other[0]) @ square))
            length = float(np.hypot(*(other[1] - other[0])))
            if k == i or length < 1.0 or turn > np.sin(np.radians(PARALLEL_DEG)) * length:
                continue
            overlap = min(size, float(reach.max())) - max(0.0, float(reach.min()))
            away = float((span @ square).mean())
            if overlap < _OVERLAP_SHARE * min(size, length) or abs(away) < SAME_LINE_MM:
                continue
            side = away > 0
            if side not in nearest or abs(away) < nearest[side][0]:
                nearest[side] = (abs(away), k)
        for distance, k in nearest.values():
            pairs.setdefault((min(i, k), max(i, k)), distance)
    return tuple(pairs[key] for key in sorted(pairs))


def _straightened(trace: JointTrace) -> shapely.LineString | None:
    """A joint with few points; joints are straight or gently bent, their pixels are not."""
    points = np.asarray(trace.points_mm, dtype=float)
    if len(points) < 2 or not np.isfinite(points).all():
        return None
    line = shapely.LineString(points)
    middle = points.mean(axis=0)
    _, _, axes = np.linalg.svd(points - middle, full_matrices=False)
    along, off = (points - middle) @ axes[0], (points - middle) @ axes[1]
    if np.abs(off).max() <= max(SAME_LINE_MM / 2.0, 0.01 * line.length):
        ends = np.array([along.min(), along.max()])
        if along[0] > along[-1]:
            ends = ends[::-1]
        fitted: Float = middle + ends[:, None] * axes[0]
        return shapely.LineString(fitted)
    return line.simplify(SAME_LINE_MM / 4.0)


def _same_line(one: shapely.LineString, other: shapely.LineString) -> bool:
    """Whether the shorter of two lines lies along the longer one over most of its length."""
    short, long = sorted((one, other), key=lambda line: line.length)
    return bool(short.intersection(long.buffer(SAME_LINE_MM)).length > 0.6 * short.length)


def _runs_along(line: shapely.LineString, outline: shapely.Polygon) -> bool:
    near = outline.boundary.buffer(SAME_LINE_MM)
    return bool(line.intersection(near).length > 0.8 * line.length)


def _lengthen(
    line: shapely.LineString,
    own_mm: float,
    outline: shapely.Polygon,
    others: Sequence[shapely.LineString],
    plan: PlanImage | None,
) -> shapely.LineString:
    """Move each end that hangs free to the first edge or joint ahead of it, if that is near."""
    points = np.asarray(line.coords)
    reach = max(REACH_MM, REACH_SHARE * own_mm)
    target = shapely.union_all([outline.boundary, *others])
    for at, inner in ((0, 1), (-1, -2)):
        end = points[at]
        tip = shapely.Point(end)
        ahead = (end - points[inner]) / max(float(np.hypot(*(end - points[inner]))), 1e-9)
        if target.distance(tip) <= _PAST_MM:
            points[at] = end + ahead * _PAST_MM
            continue
        if not outline.contains(tip):
            continue
        far = reach if plan is None else outline.length
        hits = shapely.LineString([end, end + ahead * far]).intersection(target)
        if hits.is_empty:
            continue
        distance = float(tip.distance(hits))
        if _seen_gap(end, ahead, distance, plan) <= reach:
            points[at] = end + ahead * (distance + _PAST_MM)
    return shapely.LineString(points)


def _seen_gap(start: Float, ahead: Float, distance: float, plan: PlanImage | None) -> float:
    """How much of a straight gap some photo shows, in mm."""
    if plan is None:
        return distance
    step = plan.coarse.mm_per_px / 2.0
    along = np.arange(step / 2.0, max(distance, step), step)
    cell = np.rint(apply(grid_from_plan(plan.coarse), start + along[:, None] * ahead)).astype(np.intp)
    cell = np.clip(cell, 0, np.array(plan.best_photo.shape) - 1)
    return float(np.mean(plan.best_photo[cell[:, 0], cell[:, 1]] != -1)) * distance


def longest_part(shape: shapely.Geometry) -> shapely.LineString | None:
    """The longest line of a geometry, None if it holds no line."""
    parts = [part for part in shapely.get_parts(shape) if isinstance(part, shapely.LineString)]
    return max(parts, key=lambda part: part.length) if parts else None
