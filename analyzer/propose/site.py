"""What a plan is made for: edges and their neighbours, which way water is to run, heights on site."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analyzer.errors import FieldBookError
from analyzer.propose.design import DesignRules
from analyzer.propose.surface import OldSurface, old_surface
from analyzer.records import Clearance, FieldBook, Float, LevelMap, PanelLayout
from analyzer.terms import Abuts, HeightKind
from analyzer.units import format_length, format_slope

_SAME_WAY = math.cos(math.radians(30.0))


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """An edge of the outline: name, neighbour, ends (2,) and the unit normal into the slab (2,)."""

    name: str
    abuts: Abuts
    start: Float
    end: Float
    inward: Float

    @property
    def length_mm(self) -> float:
        """Length of the edge."""
        return float(np.linalg.norm(self.end - self.start))

    def distance(self, points: Float) -> Float:
        """Distance (Q,) of points (Q, 2) from the edge (not from its line)."""
        along = self.end - self.start
        t = np.clip((points - self.start) @ along / (along @ along), 0.0, 1.0)
        out: Float = np.linalg.norm(points - self.start - t[:, None] * along, axis=1)
        return out


@dataclass(frozen=True, slots=True, eq=False)
class Site:
    """Everything that a plan looks at. ``ways`` are the directions in which water may be sent."""

    field: FieldBook
    levels: LevelMap
    clearances: tuple[Clearance, ...]
    layout: PanelLayout
    rules: DesignRules
    old: OldSurface
    edges: tuple[Edge, ...]
    fall: float
    fall_source: str
    ways: tuple[tuple[str, Float], ...]

    @property
    def units(self) -> str:
        """``imperial`` or ``metric``, for sentences."""
        return self.field.job.units.value

    @property
    def drain(self) -> Clearance | None:
        """The drain that ``design.fall_toward`` names, None if it names none."""
        wanted = self.field.design.fall_toward
        drains = (c for c in self.clearances if c.kind is HeightKind.DRAIN and c.name == wanted)
        return next(drains, None)

    @property
    def house(self) -> tuple[Edge, ...]:
        """Edges against the house."""
        return tuple(e for e in self.edges if e.abuts is Abuts.HOUSE)

    def length(self, mm: float) -> str:
        """A length in the job's units."""
        return format_length(mm, self.units)

    def slope(self, slope: float) -> str:
        """A slope in the job's units."""
        return format_slope(slope, self.units)


def describe_site(
    field: FieldBook,
    levels: LevelMap,
    clearances: tuple[Clearance, ...],
    layout: PanelLayout,
    rules: DesignRules,
) -> Site:
    """Collect edges, the fall to keep and the ways in which water can be sent.

    The fall is the typed one, else the cited 2 % where an edge lies against the house, else 1/8
    in per ft. It runs away from every house edge; without a house edge toward what
    ``design.fall_toward`` names (an edge, a corner or a drain), else toward whichever free,
    street or walk edge takes least concrete, the old fall being tried first.

    Raises
    ------
    FieldBookError
        ``fall_toward`` names nothing on this slab.
    """
    edges = outline_edges(field)
    house = [e for e in edges if e.abuts is Abuts.HOUSE]
    key = "fall_house" if house else "fall_plain"
    fall, source = rules[key], rules.source(key)
    if field.design.fall is not None:
        fall, source = field.design.fall, "chosen in the field book"
    typed = _typed_way(field, edges, clearances)
    ways: list[tuple[str, Float]] = []
    between = next((e for e in house for o in house if float(e.inward @ o.inward) < -_SAME_WAY), None)
    if typed is not None:
        ways = [typed]
    elif between is not None:
        along = np.array([-between.inward[1], between.inward[0]])
        ways = [("one open end between the houses", along), ("the other open end between the houses", -along)]
    elif not house:
        down = math.radians(levels.fall_direction_deg)
        ways = [("the way it falls now", np.array([math.cos(down), math.sin(down)]))]
        for edge in edges:
            if edge.abuts in {Abuts.FREE, Abuts.STREET, Abuts.WALK}:
                ways.append((f"edge {edge.name}", -edge.inward))
    return Site(
        field, levels, clearances, layout, rules, old_surface(levels), edges, fall, source, tuple(ways)
    )


def outline_edges(field: FieldBook) -> tuple[Edge, ...]:
    """All edges of the outline in order, with what the field book says lies beside them."""
    points = [np.array([c.x_mm, c.y_mm]) for c in field.outline]
    names = [c.name for c in field.outline]
    by_ends = {frozenset((e.start, e.end)): e for e in field.edges}
    out = []
    for k, start in enumerate(points):
        n = (k + 1) % len(points)
        along = (points[n] - start) / np.linalg.norm(points[n] - start)
        entry = by_ends.get(frozenset((names[k], names[n])))
        out.append(
            Edge(
                entry.name if entry else f"{names[k]}-{names[n]}",
                entry.abuts if entry else Abuts.UNKNOWN,
                start,
                points[n],
                np.array([-along[1], along[0]]),
            )
        )
    return tuple(out)


def same_way(first: Float, second: Float) -> bool:
    """Whether two unit vectors are within 30 degrees."""
    return float(first @ second) >= _SAME_WAY


def _typed_way(
    field: FieldBook, edges: tuple[Edge, ...], clearances: tuple[Clearance, ...]
) -> tuple[str, Float] | None:
    name = field.design.fall_toward
    if name is None:
        return None
    middle = np.mean([(c.x_mm, c.y_mm) for c in field.outline], axis=0)
    for edge in edges:
        if name == edge.name or set(name.split("-")) == set(edge.name.split("-")):
            return f"edge {edge.name}", -edge.inward
    places = {c.name: np.array([c.x_mm, c.y_mm]) for c in field.outline}
    places |= {c.name: np.array(c.at_mm) for c in clearances if c.kind is HeightKind.DRAIN}
    if name not in places:
        raise FieldBookError(
            f"{field.source}, design.fall_toward",
            f"{name!r} is no edge, corner or drain of this slab",
            f"name one of {', '.join([e.name for e in edges] + list(places))}",
        )
    way = places[name] - middle
    return name, way / max(float(np.linalg.norm(way)), 1e-9)
