"""From a solved surface to a grade plan: thicknesses, heights after, what is held, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from analyzer.propose.requirements import Requirement, near_edge, near_point, setout_u_mm
from analyzer.propose.site import Site
from analyzer.propose.surface import Basis, Line, OldSurface
from analyzer.records import (
    ClearanceAfter,
    Crease,
    EdgeSlope,
    Float,
    GradePlan,
    HeldRequirement,
    StationGrade,
)
from analyzer.terms import HeightKind, Option

# A slope solved to sit at its limit is that limit: the last bits of arithmetic do not count.
_DIGITS = 9


def build_plan(
    site: Site,
    option: Option,
    basis: Basis,
    surface: OldSurface,
    coefficients: Float,
    new_thickness_mm: float | None,
) -> GradePlan:
    """Work out thickness, heights and falls of a finished surface.

    ``new_thickness_mm`` is the constant thickness of a new slab; None for an overlay, whose
    thickness is finished less old height.
    """
    finished = basis.heights(surface.xy) @ coefficients
    u_set = setout_u_mm(site)
    if new_thickness_mm is None:
        thickness, u = finished - surface.z, np.hypot(surface.u, u_set)
    else:
        thickness, u = np.full(len(finished), new_thickness_mm), np.full(len(finished), u_set)
    grades = tuple(
        StationGrade(name, float(x), float(y), float(z), float(f), float(t), float(ut))
        for name, (x, y), z, f, t, ut in zip(
            surface.names, surface.xy, surface.z, finished, thickness, u, strict=True
        )
    )
    low, high = int(thickness.argmin()), int(thickness.argmax())
    plane = main_plane(basis, surface, coefficients)
    fall = math.hypot(plane[0], plane[1])
    return GradePlan(
        option=option,
        plane=plane,
        fall=fall,
        fall_direction_deg=math.degrees(math.atan2(-plane[1], -plane[0])) % 360.0 if fall > 0 else 0.0,
        grades=grades,
        triangles=tuple((int(i), int(j), int(k)) for i, j, k in surface.triangles),
        thickness_min_mm=float(thickness[low]),
        thickness_min_u_mm=float(u[low]),
        thickness_min_at_mm=(float(surface.xy[low, 0]), float(surface.xy[low, 1])),
        thickness_max_mm=float(thickness[high]),
        thickness_max_u_mm=float(u[high]),
        thickness_mean_mm=float(thickness @ surface.weights / surface.weights.sum()),
        heights_after=heights_after(site, basis, coefficients),
        creases=creases_of(site, basis, surface, coefficients),
        edges=edge_slopes(site, basis, surface, coefficients),
        landings=landing_slopes(site, basis, surface, coefficients),
    )


def main_plane(basis: Basis, surface: OldSurface, coefficients: Float) -> tuple[float, float, float]:
    """(a, b, c) in plan mm of the plane of the largest part."""
    centres = surface.xy[surface.triangles].mean(axis=1)
    sides = np.array([np.ones(len(centres), dtype=bool), *(ln.distance(centres) > 0 for ln in basis.lines)])
    _, part, inverse = np.unique(sides.T, axis=0, return_index=True, return_inverse=True)
    areas = np.bincount(inverse.ravel(), weights=surface.areas)
    at = centres[part[int(areas.argmax())]]
    a, b = (round(float(v), _DIGITS) + 0.0 for v in basis.gradient(coefficients, at))
    height = float((basis.heights(at.reshape(1, 2)) @ coefficients)[0])
    return a, b, height - a * float(at[0]) - b * float(at[1])


def edge_slopes(site: Site, basis: Basis, surface: OldSurface, coefficients: Float) -> tuple[EdgeSlope, ...]:
    """Finished slope square to each edge, positive away from it: the least within 10 ft in front."""
    centres = surface.xy[surface.triangles].mean(axis=1)
    out = []
    for edge in site.edges:
        near, own = near_edge(site, edge, surface)
        chosen = near & own if (near & own).any() else near
        falls = -basis.slopes(basis.one_per_part(centres[chosen]), edge.inward) @ coefficients
        out.append(EdgeSlope(edge.name, edge.abuts, round(float(falls.min()), _DIGITS), 0.0))
    return tuple(out)


def landing_slopes(
    site: Site, basis: Basis, surface: OldSurface, coefficients: Float
) -> tuple[tuple[str, float], ...]:
    """Steepest finished slope on the landing at each door."""
    centres = surface.xy[surface.triangles].mean(axis=1)
    out = []
    for door in site.clearances:
        if door.kind is HeightKind.DOOR_SILL:
            near = near_point(surface, np.array(door.at_mm), site.rules["landing_depth"])
            parts = basis.one_per_part(centres[near])
            steepest = max(float(np.hypot(*basis.gradient(coefficients, p))) for p in parts)
            out.append((door.name, round(steepest, _DIGITS)))
    return tuple(out)


def heights_after(site: Site, basis: Basis, coefficients: Float) -> tuple[ClearanceAfter, ...]:
    """Every height before and after; risers beyond the first keep their rise."""
    out = []
    for item in site.clearances:
        after = u = None
        if item.height_mm is not None:
            at = np.array([item.at_mm])
            old, u_old = site.old.at(at)
            after = item.height_after_mm(float((basis.heights(at) @ coefficients)[0] - old[0]))
            if item.kind is HeightKind.RISER and item.order not in (None, 1):
                u = item.height_u_mm
            else:
                u = math.hypot(item.height_u_mm or 0.0, float(u_old[0]), setout_u_mm(site))
        out.append(ClearanceAfter(item.kind, item.name, item.height_mm, after, u, item.flight, item.order))
    return tuple(out)


def held(site: Site, requirements: Sequence[Requirement], coefficients: Float) -> tuple[HeldRequirement, ...]:
    """Each requirement with the room that the surface leaves to it."""
    out = []
    for r in requirements:
        room = r.rows @ coefficients - r.rhs
        least = float(room.min())
        out.append(HeldRequirement(r.name, r.sentence, 0.0 if abs(least) < 1e-9 else least, r.unit, r.source))
    return tuple(out)


def creases_of(site: Site, basis: Basis, surface: OldSurface, coefficients: Float) -> tuple[Crease, ...]:
    """Where the surface bends: each crease from edge to edge of the slab."""
    out = []
    for line, bend in zip(basis.lines, coefficients[3:], strict=True):
        slope = float(bend) / basis.scale_mm
        for start, end in line_on_slab(site, line):
            out.append(Crease(start, end, slope))
    return tuple(out)


def line_on_slab(site: Site, line: Line) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """The parts of a line that lie on the slab."""
    polygon = shapely.Polygon([(c.x_mm, c.y_mm) for c in site.field.outline])
    normal = np.array(line.normal)
    along = np.array([-normal[1], normal[0]])
    foot = normal * line.offset
    reach = 2.0 * float(np.abs(site.old.xy).max() + np.linalg.norm(foot)) + 1.0
    whole = shapely.LineString([foot - along * reach, foot + along * reach])
    parts = shapely.get_parts(polygon.intersection(whole))
    out = []
    for part in parts:
        middle = part.interpolate(0.5, normalized=True)
        if part.length > 1.0 and polygon.exterior.distance(middle) > 1.0:
            (x0, y0), (x1, y1) = part.coords[0], part.coords[-1]
            out.append(((float(x0), float(y0)), (float(x1), float(y1))))
    return out
