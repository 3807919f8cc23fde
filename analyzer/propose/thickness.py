"""Thickness over the slab: contours, the part where a bar has its cover, high spots worth grinding."""

from __future__ import annotations

import numpy as np
import shapely

from analyzer.propose.requirements import Requirement
from analyzer.propose.site import Site
from analyzer.propose.solve import Slack, solve
from analyzer.propose.surface import OldSurface
from analyzer.records import Contour, Float, GradePlan, GrindSpot
from analyzer.records.tin import Int, triangle_areas
from analyzer.units import MM2_PER_M2, MM_PER_M

_MOST_SPOTS = 40
_LEAST_GRIND_MM = 1.0


def contours(xy: Float, thickness: Float, triangles: Int, step_mm: float) -> tuple[Contour, ...]:
    """Lines of equal thickness at whole multiples of ``step_mm``, exact on plane triangles."""
    out = []
    first = int(np.floor(thickness.min() / step_mm)) + 1
    last = int(np.ceil(thickness.max() / step_mm)) - 1
    for k in range(first, last + 1):
        # A level that runs exactly through vertices is shifted by a hair.
        level = k * step_mm + 1e-7
        over = thickness > level
        corner = over[triangles]
        cut = triangles[corner.any(axis=1) & ~corner.all(axis=1)]
        segments = []
        for i, j in ((0, 1), (1, 2), (2, 0)):
            # The same edge is cut at the same place, bit for bit, from both of its triangles.
            a, b = np.minimum(cut[:, i], cut[:, j]), np.maximum(cut[:, i], cut[:, j])
            crosses = over[a] != over[b]
            with np.errstate(divide="ignore", invalid="ignore"):
                t = np.where(crosses, (level - thickness[a]) / (thickness[b] - thickness[a]), np.nan)
            segments.append(xy[a] + t[:, None] * (xy[b] - xy[a]))
        ends = np.stack(segments, axis=1)
        pairs = ends[~np.isnan(ends[..., 0])].reshape(-1, 2, 2)
        merged = shapely.line_merge(shapely.multilinestrings([shapely.linestrings(pairs)]))
        lines = tuple(
            tuple((float(x), float(y)) for x, y in part.coords)
            for whole in np.atleast_1d(merged)
            for part in shapely.get_parts(whole)
            if part.length > 0
        )
        if lines:
            out.append(Contour(k * step_mm, lines))
    return tuple(out)


def area_at_least(xy: Float, thickness: Float, triangles: Int, least_mm: float) -> float:
    """Area in mm2 where a surface that is linear over each triangle is at least ``least_mm`` thick."""
    t = np.sort(thickness[triangles], axis=1)
    low, mid, high = t[:, 0], t[:, 1], t[:, 2]
    with np.errstate(divide="ignore", invalid="ignore"):
        tip = (high - least_mm) ** 2 / ((high - low) * (high - mid))
        foot = 1.0 - (least_mm - low) ** 2 / ((high - low) * (mid - low))
    part = np.select([low >= least_mm, high < least_mm, mid < least_mm], [1.0, 0.0, tip], foot)
    return float(triangle_areas(xy, triangles) @ part)


def high_spots(
    site: Site,
    plan: GradePlan,
    surface: OldSurface,
    requirements: tuple[Requirement, ...],
    cost: Float,
    coefficients: Float,
    margin: float,
) -> tuple[GrindSpot, ...]:
    """Spots of the old slab whose grinding would save concrete, by letting the thickness rows there give.

    Grinding a vertex by g takes away g times a third of the triangles around it (a low tent). It
    is priced at ``grind_gain`` times concrete, so that only spots that hold the whole surface up
    are named; the saving is that of all named spots together, shared out by their depth.
    """
    whole = next((r for r in requirements if r.name == "thickness"), None)
    if whole is None:
        return ()
    limit = whole.rhs + margin * whole.margin
    room = whole.rows @ coefficients - limit
    near = np.flatnonzero(room < site.rules["grind_max"])
    near = near[np.argsort(room[near])[:_MOST_SPOTS]]
    rest = np.ones(len(room), dtype=bool)
    rest[near] = False
    split = [r for r in requirements if r is not whole]
    if rest.any():
        split.append(_rows(whole, "thickness elsewhere", rest))
    slack = {}
    for k in near.tolist():
        one = np.zeros(len(room), dtype=bool)
        one[k] = True
        split.append(_rows(whole, f"spot {k}", one))
        price = site.rules["grind_gain"] * float(surface.weights[k]) / MM2_PER_M2
        slack[f"spot {k}"] = Slack(price, site.rules["grind_max"])
    ground = solve(split, cost, margin, slack)
    if ground is None:
        return ()
    saved_m3 = float(cost @ (coefficients - ground.coefficients)) / MM_PER_M
    spots = [(k, d) for k in near.tolist() if (d := ground.slack_mm[f"spot {k}"]) > _LEAST_GRIND_MM]
    total = sum(d for _, d in spots)
    return tuple(
        GrindSpot(
            surface.names[k],
            (float(surface.xy[k, 0]), float(surface.xy[k, 1])),
            d,
            float(3.0 * surface.weights[k]),
            saved_m3 * d / total,
        )
        for k, d in sorted(spots, key=lambda s: -s[1])
    )


def _rows(whole: Requirement, name: str, chosen: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Requirement:
    rows, rhs, margin = whole.rows[chosen], whole.rhs[chosen], whole.margin[chosen]
    return Requirement(name, whole.sentence, whole.source, whole.unit, rows, rhs, margin)
