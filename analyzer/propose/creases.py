"""Bending the finished surface: where a crease may lie, and which ones are worth it."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from analyzer.propose.site import Edge, Site
from analyzer.propose.surface import Line
from analyzer.records import Float
from analyzer.terms import Abuts, HeightKind

_SAME_MM = 150.0
_SAME_COS = math.cos(math.radians(2.0))


def candidate_creases(site: Site) -> tuple[tuple[Line, ...], ...]:
    """Lines along which the surface may bend, each once, in groups that belong together.

    At the end of a landing, 10 ft from the house, halfway between house edges that face each
    other, from the corner of two house edges, through a drain (both ways at once), and over the
    old joints, which will be joints again.
    """
    found: list[tuple[Line, ...]] = []
    for group in (*_beside_the_house(site), *_through_drains(site), *_over_joints(site)):
        known = [line for other in found for line in other]
        kept = tuple(ln for ln in group if _crosses(site, ln) and not any(_same(ln, f) for f in known))
        if kept:
            found.append(kept)
    return tuple(found)


def edge_strips(site: Site) -> tuple[tuple[Edge, Line], ...]:
    """Strips along edges where a wheel or a foot goes over: bent down toward the edge."""
    out = []
    for edge in site.edges:
        if edge.abuts in {Abuts.WALK, Abuts.STREET, Abuts.FREE}:
            line = _parallel(edge, site.rules["edge_strip_width"], -1.0, f"sloped strip along {edge.name}")
            if _crosses(site, line):
                out.append((edge, line))
    return tuple(out)


def _crosses(site: Site, line: Line) -> bool:
    distance = line.distance(site.old.xy)
    return bool(min(distance.max(), -distance.min()) > _SAME_MM)


def _beside_the_house(site: Site) -> Iterator[tuple[Line, ...]]:
    for door in site.clearances:
        if door.kind is HeightKind.DOOR_SILL:
            at = np.array([door.at_mm])
            edge = min(site.edges, key=lambda e: float(e.distance(at)[0]))
            yield (_parallel(edge, site.rules["landing_depth"], 1.0, f"end of the landing at {door.name}"),)
    for edge in site.house:
        yield (_parallel(edge, site.rules["house_band"], 1.0, f"10 ft from the house at {edge.name}"),)
        for other in site.house:
            if float(other.inward @ edge.inward) < -_SAME_COS:
                apart = float((other.start - edge.start) @ edge.inward)
                yield (_parallel(edge, apart / 2.0, 1.0, f"halfway between {edge.name} and {other.name}"),)
            elif np.allclose(edge.end, other.start) and abs(float(other.inward @ edge.inward)) < _SAME_COS:
                across = other.inward - edge.inward
                normal = across / np.linalg.norm(across)
                why = f"from the corner between {edge.name} and {other.name}"
                yield (_line(normal, float(edge.end @ normal), why),)


def _through_drains(site: Site) -> Iterator[tuple[Line, ...]]:
    longest = max(site.edges, key=lambda e: e.length_mm)
    for drain in site.clearances:
        if drain.kind is HeightKind.DRAIN:
            at = np.array(drain.at_mm)
            normals = (longest.inward, np.array([-longest.inward[1], longest.inward[0]]))
            yield tuple(_line(n, float(at @ n), f"through drain {drain.name}") for n in normals)


def _over_joints(site: Site) -> Iterator[tuple[Line, ...]]:
    for joint in site.layout.joints:
        start, end = np.array(joint.start_mm), np.array(joint.end_mm)
        length = float(np.linalg.norm(end - start))
        if length > _SAME_MM:
            along = (end - start) / length
            normal = np.array([-along[1], along[0]])
            yield (_line(normal, float(start @ normal), f"over joint {joint.joint_id}"),)


def _parallel(edge: Edge, distance_mm: float, side: float, why: str) -> Line:
    """Parallel to an edge at a distance inside; bent beyond it (side 1) or toward the edge (side -1)."""
    offset = float(edge.start @ edge.inward) + distance_mm
    return _line(side * edge.inward, side * offset, why)


def _line(normal: Float, offset: float, why: str) -> Line:
    return Line((float(normal[0]), float(normal[1])), offset, why)


def _same(first: Line, second: Line) -> bool:
    cosine = float(np.dot(first.normal, second.normal))
    if abs(cosine) < _SAME_COS:
        return False
    return abs(first.offset - math.copysign(1.0, cosine) * second.offset) < _SAME_MM
