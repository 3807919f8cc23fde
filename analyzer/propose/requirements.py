"""What a finished surface must keep, as linear rows on its coefficients, each with its sentence."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from analyzer.propose.site import Edge, Site, same_way
from analyzer.propose.surface import Basis, OldSurface
from analyzer.records import Bool, Clearance, Float
from analyzer.terms import Abuts, Answer, HeightKind, Option, Use

_FACETS = 24
_SLOPE_LEVER_MM = 10_000.0
_AT_DRAIN_MM = 50.0
_OPPOSITE = -math.cos(math.radians(30.0))
# What a contractor would do on site; common practice, no source.
_REMEDIES = {
    HeightKind.DOOR_SILL: "raise the door, or put a drain in front of it",
    HeightKind.RISER: "rebuild the steps of the flight",
    HeightKind.SIDING: "cut the siding back where the code and the wall allow it",
    HeightKind.WEEP_SCREED: "leave the slab back from the wall, or have the screed raised",
    HeightKind.ADJOINING_WALK: "rebuild the end of the walk to meet it",
    HeightKind.GATE: "shorten or rehang the gate",
}


@dataclass(frozen=True, slots=True, eq=False)
class Requirement:
    """rows (k, n) @ coefficients >= rhs (k,), by name.

    ``margin`` (k,) is what is added to ``rhs`` to have the chosen number of standard
    uncertainties to spare. ``lever_mm`` turns a violation into mm for the least relaxation (1
    for heights); ``value`` is the limit itself; ``remedy`` is what on site would lift the
    requirement. A ``wish`` is kept where it can be and never makes a plan infeasible.
    """

    name: str
    sentence: str
    source: str
    unit: str
    rows: Float
    rhs: Float
    margin: Float
    places: tuple[str, ...] = ()
    lever_mm: float = 1.0
    wish: bool = False
    value: float = 0.0
    remedy: str = ""


def requirements_of(
    site: Site,
    option: Option,
    basis: Basis,
    surface: OldSurface,
    thickness: tuple[float, str],
    way: tuple[str, Float] | None,
) -> tuple[Requirement, ...]:
    """All requirements on the surface that an option would leave.

    Parameters
    ----------
    site : Site
    option : Option
        An overlay keeps the thickness over the old surface; a new slab (removal) may lie higher
        or lower and so also has to meet doors, steps and walks from below.
    basis : Basis
    surface : OldSurface
        Cut along the creases of ``basis``.
    thickness : (float, str)
        Least thickness of an overlay in mm and its source.
    way : (name, unit vector) or None
        Where water is sent besides away from the house.
    """
    out: list[Requirement] = []
    if option is not Option.REMOVAL:
        out.append(_thickness(site, basis, surface, *thickness))
    centres = surface.xy[surface.triangles].mean(axis=1)
    out += _falls(site, basis, surface, centres, way)
    out += _slope_limits(site, basis, surface, centres)
    for clearance in site.clearances:
        out += _height(site, basis, clearance, option)
    return tuple(out)


def setout_u_mm(site: Site) -> float:
    """Standard uncertainty of a finished height as struck off."""
    return site.rules["setout_half_width"] / math.sqrt(3.0)


def _thickness(
    site: Site, basis: Basis, surface: OldSurface, thickness_mm: float, source: str
) -> Requirement:
    u = np.hypot(surface.u, setout_u_mm(site))
    return Requirement(
        "thickness",
        f"the overlay is at least {site.length(thickness_mm)} thick everywhere",
        source,
        "mm",
        basis.heights(surface.xy),
        surface.z + thickness_mm,
        site.rules["coverage"] * u,
        surface.names,
        value=thickness_mm,
    )


def _falls(
    site: Site, basis: Basis, surface: OldSurface, centres: Float, way: tuple[str, Float] | None
) -> Iterator[Requirement]:
    for edge in site.house:
        near, own = near_edge(site, edge, surface)
        shared = near & ~own
        near &= own
        yield _fall(
            basis, f"fall away from the house at {edge.name}",
            f"the surface falls at least {site.slope(site.fall)} away from the house at edge {edge.name}",
            site.fall_source, centres[near], edge.inward, site.fall,
        )  # fmt: skip
        if shared.any() and all(float(o.inward @ edge.inward) > _OPPOSITE for o in site.house):
            yield _fall(
                basis, f"no fall toward the house at {edge.name}",
                f"nothing within 10 ft of edge {edge.name} falls toward it",
                site.rules.source("house_band"), centres[shared], edge.inward, 0.0,
            )  # fmt: skip
        far = own & ~near & _in_front(edge, centres)
        if far.any():
            rest = min(site.fall, site.rules["fall_plain"])
            yield _fall(
                basis, f"fall beyond 10 ft of {edge.name}",
                f"beyond 10 ft the surface falls at least {site.slope(rest)} away from edge {edge.name}",
                site.rules.source("fall_plain"), centres[far], edge.inward, rest,
            )  # fmt: skip
    drain = site.drain
    if drain is not None:
        yield _to_drain(site, basis, surface, centres, drain)
    elif way is not None and not any(same_way(way[1], e.inward) for e in site.house):
        least = min(site.fall, site.rules["fall_plain"]) if site.house else site.fall
        yield _fall(
            basis, f"fall toward {way[0]}", f"the surface falls at least {site.slope(least)} toward {way[0]}",
            site.fall_source, centres, way[1], least,
        )  # fmt: skip


def near_edge(site: Site, edge: Edge, surface: OldSurface) -> tuple[Bool, Bool]:
    """Triangles within 10 ft of an edge, and those for which no other house edge is nearer.

    Between two walls of the house each spot falls away from the nearer one.
    """
    centres = surface.xy[surface.triangles].mean(axis=1)
    near = edge.distance(surface.xy)[surface.triangles].min(axis=1) < site.rules["house_band"] - 1.0
    own = np.ones(len(centres), dtype=bool)
    for other in site.house:
        if other is not edge:
            own &= _nearer(edge, other, centres)
    return near, own


def _nearer(edge: Edge, other: Edge, points: Float) -> Bool:
    """Points nearer to an edge than to another; off their common end, those more in front of it."""
    ahead = edge.distance(points) - other.distance(points)
    lines = np.abs((points - edge.start) @ edge.inward) - np.abs((points - other.start) @ other.inward)
    out: Bool = (ahead < -1.0) | ((np.abs(ahead) <= 1.0) & (lines >= -1e-6))
    return out


def _in_front(edge: Edge, points: Float) -> Bool:
    """Points that lie square to an edge, on the slab's side of it."""
    along = edge.end - edge.start
    t = (points - edge.start) @ along / (along @ along)
    out: Bool = (t >= 0.0) & (t <= 1.0) & ((points - edge.start) @ edge.inward > 0.0)
    return out


def _to_drain(site: Site, basis: Basis, surface: OldSurface, centres: Float, drain: Clearance) -> Requirement:
    """Every part of the surface falls toward a drain, as seen from each of its vertices."""
    corners = surface.xy[surface.triangles]
    toward = np.array(drain.at_mm) - corners
    distance = np.linalg.norm(toward, axis=2)
    x_rows, y_rows = (basis.slopes(centres, axis) for axis in np.eye(2))
    pieces = []
    for k in range(3):
        away = distance[:, k] > _AT_DRAIN_MM
        way = toward[away, k] / distance[away, k, None]
        pieces.append(-(way[:, :1] * x_rows[away] + way[:, 1:] * y_rows[away]))
    rows = np.vstack(pieces)
    least = min(site.fall, site.rules["fall_plain"])
    return Requirement(
        f"fall to {drain.name}", f"the surface falls at least {site.slope(least)} toward drain {drain.name}",
        site.rules.source("fall_plain"), "slope", rows, np.full(len(rows), least), np.zeros(len(rows)), (),
        _SLOPE_LEVER_MM,
    )  # fmt: skip


def _fall(
    basis: Basis, name: str, sentence: str, source: str, at: Float, way: Float, least: float
) -> Requirement:
    rows = -basis.slopes(basis.one_per_part(at), way)
    return Requirement(
        name, sentence, source, "slope", rows, np.full(len(rows), least), np.zeros(len(rows)), (),
        _SLOPE_LEVER_MM,
    )  # fmt: skip


def _slope_limits(site: Site, basis: Basis, surface: OldSurface, centres: Float) -> Iterator[Requirement]:
    rules = site.rules
    for door in site.clearances:
        if door.kind is HeightKind.DOOR_SILL:
            at = np.array([door.at_mm])
            edge = min(site.edges, key=lambda e: float(e.distance(at)[0]))
            landing = near_point(surface, at[0], rules["landing_depth"])
            yield _steepest(
                basis, f"landing at {door.name}",
                f"the landing at {door.name} slopes no more than {rules.written('landing_slope')} any way",
                rules.source("landing_slope"), centres[landing], rules["landing_slope"], edge.inward,
            )  # fmt: skip
    # An unknown use is taken for feet, which asks for more.
    if site.field.site.use in {Use.CAR, Use.TRUCK} and site.field.site.public_route is not Answer.YES:
        return
    strip = np.zeros(len(centres), dtype=bool)
    for edge in site.edges:
        if edge.abuts in {Abuts.FREE, Abuts.WALK, Abuts.STREET}:
            deepest = edge.distance(surface.xy)[surface.triangles].max(axis=1)
            strip |= deepest <= rules["edge_strip_width"] + 1.0
    for part, key, where in ((~strip, "walk_slope", "surface"), (strip, "edge_strip_slope", "sloped edge")):
        if part.any() and (key == "walk_slope" or basis.lines):
            yield _steepest(
                basis, f"steepest slope of the {where}",
                f"the {where} is no steeper than {rules.written(key)}", rules.source(key), centres[part],
                rules[key], np.array([1.0, 0.0]),
            )  # fmt: skip
    if site.field.site.public_route is Answer.YES:
        across = _short_way(site)
        slopes = basis.slopes(basis.one_per_part(centres), across)
        rows = np.vstack([slopes, -slopes])
        limit = rules["cross_slope"]
        yield Requirement(
            "cross slope", f"the public walk's cross slope is no more than {rules.written('cross_slope')}",
            rules.source("cross_slope"), "slope", rows, np.full(len(rows), -limit), np.zeros(len(rows)), (),
            _SLOPE_LEVER_MM,
        )  # fmt: skip


def _steepest(
    basis: Basis, name: str, sentence: str, source: str, at: Float, limit: float, vertex: Float
) -> Requirement:
    """Slope in any direction at most ``limit``: a polygon inside the circle, one corner along ``vertex``."""
    turn = math.atan2(vertex[1], vertex[0])
    at = basis.one_per_part(at)
    rows = []
    for k in range(_FACETS):
        angle = turn + (2 * k + 1) * math.pi / _FACETS
        rows.append(-basis.slopes(at, np.array([math.cos(angle), math.sin(angle)])))
    whole = np.vstack(rows)
    rhs = np.full(len(whole), -limit * math.cos(math.pi / _FACETS))
    return Requirement(name, sentence, source, "slope", whole, rhs, np.zeros(len(whole)), (), _SLOPE_LEVER_MM)


def _height(site: Site, basis: Basis, item: Clearance, option: Option) -> Iterator[Requirement]:
    """Bounds on the height of one thing over the finished surface."""
    if item.height_mm is None:
        return
    removal = option is Option.REMOVAL
    public = site.field.site.public_route is Answer.YES
    low: tuple[str, float] | None = None
    high: tuple[str, float] | None = None
    wish = False
    rules = site.rules
    word = item.kind.value
    what = item.name if word in item.name.lower() else f"{word} {item.name}"
    match item.kind:
        case HeightKind.DOOR_SILL:
            low = ("sill_min", rules["sill_min"])
            egress = item.egress_door is Answer.YES and item.swings_over is Answer.YES
            key = "sill_max_egress" if egress else "sill_max"
            high = (key, rules[key])
        case HeightKind.GARAGE_FLOOR:
            low = ("garage_min", rules["garage_min"])
        case HeightKind.SIDING:
            low = ("siding_min", rules["siding_min"])
        case HeightKind.WEEP_SCREED:
            low = ("weep_min", rules["weep_min"])
        case HeightKind.GATE:
            low = ("gate_min", rules["gate_min"])
        case HeightKind.ADJOINING_WALK:
            key = "walk_step_public" if public else "walk_step"
            low, high, wish = (key, -rules[key]), (key, rules[key]), not public
        case HeightKind.RISER:
            bounds = _riser_bounds(site, item)
            if bounds is None:
                return
            low, high = bounds
        case _:
            return
    if item.kind is HeightKind.RISER and item.flight:
        what = f"flight {item.flight}"
    # An overlay only raises the surface: that makes steps down higher and everything else lower.
    if low is not None and (removal or not item.leads_down):
        yield _bound(site, basis, item, what, low, 1.0, wish)
    if high is not None and (removal or item.leads_down or item.kind is HeightKind.ADJOINING_WALK):
        yield _bound(site, basis, item, what, high, -1.0, wish)


def _riser_bounds(
    site: Site, item: Clearance
) -> tuple[tuple[str, float] | None, tuple[str, float] | None] | None:
    """Least and greatest rise of the riser at the slab; None for the risers beyond it."""
    if item.order not in (None, 1):
        return None
    limit = site.rules["riser_max"]
    others = [
        c.height_mm
        for c in site.clearances
        if c.flight is not None and c.flight == item.flight and c is not item and c.height_mm is not None
    ]
    if not others:
        return None, ("riser_max", limit)
    spread = site.rules["riser_spread"]
    highest = min(limit, min(others) + spread)
    return ("riser_spread", max(others) - spread), ("riser_spread", highest)


def _bound(
    site: Site,
    basis: Basis,
    item: Clearance,
    what: str,
    bound: tuple[str, float],
    sign: float,
    wish: bool,
) -> Requirement:
    """Height of the thing over the finished surface at least (sign 1) or at most (sign -1) a value.

    Of a flight that goes down it is the height of the finished surface over its first step.
    """
    key, value = bound
    at = np.array([item.at_mm])
    old, u_old = site.old.at(at)
    way = 1.0 if item.leads_down else -1.0
    row = basis.heights(at) * way * sign
    rhs = np.array([sign * (value - float(item.height_mm or 0.0) + way * float(old[0]))])
    u = math.hypot(float(u_old[0]), item.height_u_mm or 0.0, setout_u_mm(site))
    verb = "at least" if sign > 0 else "at most"
    stays = f"{what} stays {verb} {site.length(value)} above the finished surface"
    if item.kind is HeightKind.RISER:
        stays = f"the riser of {what} at the slab stays {verb} {site.length(value)} high"
    return Requirement(
        f"{what}, {'least' if sign > 0 else 'greatest'} height",
        stays,
        site.rules.source(key),
        "mm",
        row,
        rhs,
        np.array([site.rules["coverage"] * u]),
        (item.name,),
        wish=wish,
        remedy=_REMEDIES.get(item.kind, ""),
    )


def near_point(surface: OldSurface, point: Float, radius_mm: float) -> Bool:
    """Triangles that reach within ``radius_mm`` of a point."""
    corners = surface.xy[surface.triangles]
    distance = np.full(len(corners), np.inf)
    for i in range(3):
        a, b = corners[:, i], corners[:, (i + 1) % 3]
        along = b - a
        t = np.clip(((point - a) * along).sum(axis=1) / (along**2).sum(axis=1), 0.0, 1.0)
        distance = np.minimum(distance, np.linalg.norm(a + t[:, None] * along - point, axis=1))
    near: Bool = distance < radius_mm - 1.0
    return near if near.any() else distance <= distance.min() + 1e-9


def _short_way(site: Site) -> Float:
    """Unit vector across the slab: square to its longest edge."""
    longest = max(site.edges, key=lambda e: e.length_mm)
    return longest.inward
