"""Where a crack lies on its panels: which it crosses, splits, or robs of a corner; and its name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from analyzer.measure.sides import corners_of, long_axis_deg, sides_of
from analyzer.measure.width import Width
from analyzer.records import CornerCut, Float, PanelLayout
from analyzer.terms import Answer, Distress

ON_EDGE_MM = 50.0
"""A trace that ends this close (about 2 in) to a joint, edge or other crack ends on it (judgement)."""

LEAST_PIECE_MM2 = 10_000.0
"""Smaller pieces are chips along a line, not pieces of a panel: 100 mm square (judgement)."""

LEAST_SHARE = 0.03
LEAST_ON_PANEL_MM = 40.0
"""A crack is on a panel with at least this length, or the share of its own length if that is less."""

CORNER_LEAST_MM = 300.0
"""LTPP manual, corner breaks: side lengths from 0.3 m up (from memory)."""

DIAGONAL_DEG = 30.0
"""Farther than this from both sides of its panel a crack is called diagonal (judgement: LTPP knows
only longitudinal and transverse)."""

OFF_CORNER_DEG = 15.0
"""The same for a crack that takes off a corner too large for a corner break: the 5 ft and 12 ft example
of UFC 3-270-08 app. B lies 23 degrees off the long side and is called diagonal there."""

SQUARE_ASPECT = 1.1
SHRINKAGE_LENGTH_MM = 1200.0
"""UFC 3-270-08 app. B: shrinkage cracks are hairlines 'a few feet long' that do not cross the slab;
four feet is this tool's reading of it."""

HAIRLINE_MM = 1.0
"""ACI 201.1R: fine is under 1 mm (from memory)."""

HAIRLINE_BOUND_MM = 2.0
"""A crack too thin to measure is taken for a hairline only if its bound is under this: ACI 201.1R,
wide is over 2 mm (from memory)."""

_SNAP_MM = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Site:
    """Panels as polygons, ready for many cracks."""

    names: tuple[str, ...]
    polygons: tuple[shapely.Polygon, ...]
    tree: shapely.STRtree
    slab_axis_deg: float


@dataclass(frozen=True, slots=True)
class Place:
    """What the panels say about one crack. ``main`` indexes the panel with most of it, or is None."""

    panels: tuple[str, ...]
    main: int | None
    splits: Answer
    corner: CornerCut | None
    corner_break: bool


def make_site(layout: PanelLayout) -> Site:
    """Turn a layout into polygons."""
    polygons = tuple(shapely.Polygon(panel.outline_mm) for panel in layout.panels)
    slab = shapely.union_all(polygons) if polygons else shapely.Polygon()
    axis = 0.0
    if polygons:
        hull = shapely.convex_hull(slab)
        axis = long_axis_deg(hull) if isinstance(hull, shapely.Polygon) else 0.0
    return Site(tuple(p.panel_id for p in layout.panels), polygons, shapely.STRtree(polygons), axis)


def touched(lines: shapely.MultiLineString, site: Site) -> list[tuple[int, float]]:
    """Panels that a crack lies on with the length on each, the longest first.

    Bits on the far side of a joint that are shorter than the trace is exact do not count.
    """
    least = min(LEAST_ON_PANEL_MM, LEAST_SHARE * lines.length)
    found = []
    for i in site.tree.query(lines, predicate="intersects"):
        length = float(lines.intersection(site.polygons[i]).length)
        if length > least:
            found.append((int(i), length))
    return sorted(found, key=lambda pair: -pair[1])


def place_crack(
    lines: shapely.MultiLineString,
    others: Sequence[shapely.Geometry],
    free_ends_mm: Float,
    ends_seen: Sequence[bool],
    site: Site,
) -> Place:
    """Place one crack.

    Parameters
    ----------
    lines : MultiLineString
        Its branches.
    others : sequence of geometries
        Other cracks near it; a crack that ends on another one may split the panel with it.
    free_ends_mm : (E, 2) array
        Its free ends.
    ends_seen : sequence of bool
        Whether some photo shows the slab beyond each free end. A crack that runs out of what was
        seen may go on: it does not split (no) only if all its ends were seen.
    """
    on = touched(lines, site)
    if not on:
        return Place((), None, Answer.UNKNOWN, None, False)
    splits, corner, is_break = False, None, False
    for i, _ in on:
        panel = site.polygons[i]
        alone = cut_panel(panel, [lines])
        if len(alone) >= 2:
            splits = True
            if corner is None or not is_break:
                found, fits = _corner(panel, alone)
                corner, is_break = (found, fits) if found is not None else (corner, is_break)
        elif not splits and others:
            splits = len(cut_panel(panel, [lines, *others])) > len(cut_panel(panel, list(others)))
    answer = Answer.YES if splits else Answer.NO
    if not splits and len(free_ends_mm):
        hidden = ~np.asarray(ends_seen, dtype=bool)
        inside = shapely.contains_xy(site.polygons[on[0][0]], free_ends_mm[:, 0], free_ends_mm[:, 1])
        if (hidden & inside).any():
            answer = Answer.UNKNOWN
    names = tuple(site.names[i] for i in sorted(i for i, _ in on))
    return Place(names, on[0][0], answer, corner, is_break)


def cut_panel(panel: shapely.Polygon, cracks: Sequence[shapely.Geometry]) -> list[shapely.Polygon]:
    """Pieces of a panel between cracks; loose ends near the boundary or another crack are tied to it."""
    near = panel.buffer(ON_EDGE_MM)
    parts = [
        part
        for crack in cracks
        for part in shapely.get_parts(crack.intersection(near))
        if isinstance(part, shapely.LineString) and part.length > 0
    ]
    if not parts:
        return [panel]
    ties = []
    tree = shapely.STRtree(parts)
    tips = shapely.points(np.array([part.coords[k] for part in parts for k in (0, -1)]))
    for number, tip in enumerate(tips):
        own = number // 2
        if panel.boundary.distance(tip) <= ON_EDGE_MM:
            ties.append(shapely.shortest_line(tip, panel.boundary))
        for k in tree.query(tip.buffer(ON_EDGE_MM)):
            if k != own and 0 < parts[k].distance(tip) <= ON_EDGE_MM:
                ties.append(shapely.shortest_line(tip, parts[k]))
    ties = [_stretched(tie) for tie in ties if tie.length > 1e-6]
    network = shapely.union_all([panel.boundary, *parts, *ties])
    pieces = [
        piece
        for piece in shapely.get_parts(shapely.polygonize([network]))
        if piece.area >= LEAST_PIECE_MM2 and panel.contains(piece.representative_point())
    ]
    return pieces or [panel]


def name_crack(place: Place, site: Site, direction: float, length_mm: float, width: Width) -> Distress:
    """The LTPP word for a crack.

    Convention: longitudinal is along the long side of the panel that holds most of the crack,
    transverse across it; on a panel nearly square the long side of the whole slab decides. The
    manual means the direction of traffic, which flatwork does not have. On no panel at all the
    slab's long side is used.
    """
    if place.corner_break:
        return Distress.CORNER_BREAK
    if place.splits is not Answer.YES and length_mm <= SHRINKAGE_LENGTH_MM and is_hairline(width):
        return Distress.SHRINKAGE_CRACK
    axis = site.slab_axis_deg
    if place.main is not None:
        panel = site.polygons[place.main]
        long, short = sides_of(panel)
        if long >= SQUARE_ASPECT * short:
            axis = long_axis_deg(panel)
    turn = abs((direction - axis + 90.0) % 180.0 - 90.0)
    limit = DIAGONAL_DEG if place.corner is None else OFF_CORNER_DEG
    if turn <= limit:
        return Distress.LONGITUDINAL_CRACKING
    return Distress.TRANSVERSE_CRACKING if turn >= 90.0 - limit else Distress.DIAGONAL_CRACKING


def is_hairline(width: Width) -> bool:
    """Whether the width, or its bound where it is too thin to measure, is that of a hairline."""
    if width.max_mm is not None:
        return width.max_mm < HAIRLINE_MM
    return width.upper_mm is not None and width.upper_mm <= HAIRLINE_BOUND_MM


def _corner(panel: shapely.Polygon, pieces: Sequence[shapely.Polygon]) -> tuple[CornerCut | None, bool]:
    """The corner that a piece consists of, and whether the cut is a corner break.

    A break meets both sides at no more than half of each (UFC 3-270-08 app. B: on a slab of 12 by
    20 ft, 5 ft and 12 ft is a diagonal crack, 4 ft and 8 ft a corner break) and no less than 0.3 m
    along each (LTPP).
    """
    corners = corners_of(panel)
    for piece in sorted(pieces, key=lambda p: p.area)[:-1]:
        near = piece.buffer(_SNAP_MM)
        mine = [c for c in corners if near.contains(shapely.Point(c.at))]
        if len(mine) != 1:
            continue
        corner = mine[0]
        leg_a, leg_b = (
            float(shapely.LineString(side).intersection(near).length) - _SNAP_MM
            for side in (corner.side_a, corner.side_b)
        )
        side_a, side_b = corner.lengths_mm
        if not (0.0 < leg_a < side_a - _SNAP_MM and 0.0 < leg_b < side_b - _SNAP_MM):
            continue
        at = (float(corner.at[0]), float(corner.at[1]))
        fits = leg_a <= side_a / 2.0 + _SNAP_MM and leg_b <= side_b / 2.0 + _SNAP_MM
        fits = fits and min(leg_a, leg_b) >= CORNER_LEAST_MM
        return CornerCut(at, leg_a, leg_b, side_a, side_b), fits
    return None, False


def _stretched(tie: shapely.LineString) -> shapely.LineString:
    """The tie, a millimetre longer at its far end, so that it surely crosses what it is tied to."""
    a, b = np.asarray(tie.coords)
    return shapely.LineString([a, b + (b - a) / max(float(np.hypot(*(b - a))), 1e-9) * _SNAP_MM])
