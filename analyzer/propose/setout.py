"""Heights to set out, rounded to what a rule reads, with every requirement judged on the rounded heights."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.optimize import Bounds, LinearConstraint, milp

from analyzer.propose.plan import line_on_slab
from analyzer.propose.requirements import Requirement
from analyzer.propose.site import Edge, Site
from analyzer.propose.surface import Basis
from analyzer.records import Float, GradePlan, HeldRequirement, SetOut, SetOutPoint
from analyzer.terms import Abuts, HeightKind, Option, UnitSystem

_SAME_MM = 10.0
_NEAR_RIM_MM = 150.0
_FITTED_OVER_MM = 600.0
_WALLS = {Abuts.HOUSE, Abuts.WALL, Abuts.STEP}


@dataclass(frozen=True, slots=True)
class _Place:
    name: str
    kind: str
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two points, the first at the house: their rise per mm is at least ``least``, at most ``most``."""

    high: int
    low: int
    distance_mm: float
    least: float
    most: float
    fall_name: str
    landing_name: str | None


def set_out(
    site: Site,
    plan: GradePlan,
    basis: Basis,
    coefficients: Float,
    requirements: Sequence[Requirement],
) -> tuple[SetOut, tuple[HeldRequirement, ...]]:
    """Round the finished heights at walls, forms, creases and stations, and judge them again.

    Of the two steps around each exact height the nearer one is taken unless a thickness, a
    height or a fall between a wall point and the point opposite it asks for the other; where
    points hang together the choice is made for all at once by a mixed-integer programme, so that
    a solution is found if there is one.

    Thickness and heights are judged at the points, falls away from the house and landings
    between a wall point and the point square to it, all other slopes on the surface fitted to
    the rounded heights, within one step over 2 ft.

    Returns
    -------
    SetOut
    tuple of HeldRequirement
        Those of the plan with ``room_rounded`` filled in.
    """
    metric = site.field.job.units is UnitSystem.METRIC
    step = site.rules["setout_step_metric" if metric else "setout_step"]
    places, pairs = _places(site, basis)
    xy = np.array([(p.x_mm, p.y_mm) for p in places])
    exact = basis.heights(xy) @ coefficients
    old, least, most, owners = _bounds(site, places, xy, requirements)
    rounded, found = _round(exact, least, most, pairs, step)
    rooms = _judge(requirements, basis, xy, rounded, old, owners, pairs)
    paired = {p.fall_name for p in pairs} | {p.landing_name for p in pairs}
    slack = step / _FITTED_OVER_MM
    held, short = [], []
    for h, r in zip(plan.requirements, requirements, strict=True):
        room = rooms[h.name]
        held.append(HeldRequirement(h.name, h.sentence, h.room, h.unit, h.source, room))
        # A slope judged on the fitted surface may be off by one step over 2 ft.
        if room < (-slack if h.name not in paired and h.unit == "slope" else -1e-9) and not r.wish:
            small = f"{-room:.1f} mm" if -room < step else site.length(-room)
            amount = site.slope(-room) if h.unit == "slope" else small
            remedy = f" On site: {r.remedy}." if r.remedy and h.room < 0 else ""
            short.append(f"On the rounded heights this falls short by {amount}: {h.sentence}.{remedy}")
    unit = "1 mm" if metric else "1/16 in"
    if short and not found:
        short.insert(0, f"No choice of whole steps of {unit} keeps every limit at once.")
    points = tuple(
        SetOutPoint(p.name, p.kind, p.x_mm, p.y_mm, float(o), float(e), float(r), _thickness(plan, r, o))
        for p, o, e, r in zip(places, old, exact, rounded, strict=True)
    )
    most_moved = float(np.abs(rounded - exact).max())
    notes = (
        f"Heights are rounded to {unit}; the rounding moves none by more than {most_moved:.1f} mm.",
        *short,
    )
    return SetOut(step, site.levels.datum, points, not short, notes), tuple(held)


def _thickness(plan: GradePlan, rounded: float, old: float) -> float:
    return plan.thickness_mean_mm if plan.option is Option.REMOVAL else float(rounded - old)


class _Points:
    """Set-out places collected one after the other; one within 10 mm of another is the same."""

    def __init__(self, site: Site) -> None:
        self.places: list[_Place] = []
        self.site = site
        self.outline = shapely.Polygon([(c.x_mm, c.y_mm) for c in site.field.outline])

    def add(self, name: str, kind: str, at: Float, rename: bool = False) -> int:
        """Index of the place, new or known; a known one takes the new name if asked to."""
        x, y = float(at[0]), float(at[1])
        for k, p in enumerate(self.places):
            if math.hypot(p.x_mm - x, p.y_mm - y) < _SAME_MM:
                if rename:
                    self.places[k] = replace(p, name=name)
                return k
        self.places.append(_Place(name, kind, x, y))
        return len(self.places) - 1

    def reach(self, at: Float, inward: Float, most_mm: float) -> float:
        """How far one can go straight into the slab from a rim point, up to ``most_mm``."""
        ray = shapely.LineString([at + inward, at + inward * most_mm])
        parts = shapely.get_parts(self.outline.intersection(ray))
        start = shapely.Point(at)
        first = min(parts, key=lambda g: float(g.distance(start)), default=None)
        if first is None or first.is_empty or first.distance(start) > 2.0:
            return 0.0
        return float(max(math.dist(at, c) for c in first.coords))


def _places(site: Site, basis: Basis) -> tuple[list[_Place], list[_Pair]]:
    """Corners, points along walls and forms, heights near the rim, crease points, stations."""
    points = _Points(site)
    walls: dict[tuple[int, str], Edge] = {}
    names = {(c.x_mm, c.y_mm): c.name for c in site.field.outline}
    count = {"wall": 0, "form": 0}
    for edge in sorted(site.edges, key=lambda e: e.abuts not in _WALLS):
        kind = "wall" if edge.abuts in _WALLS else "form"
        pieces = max(1, math.ceil(edge.length_mm / site.rules["form_spacing"] - 1e-9))
        for k in range(pieces + 1):
            at = edge.start + (edge.end - edge.start) * (k / pieces)
            count[kind] += 1
            name = names.get((float(at[0]), float(at[1])), f"{kind[0].upper()}{count[kind]}")
            index = points.add(name, kind, at)
            if edge.abuts is Abuts.HOUSE:
                walls[index, edge.name] = edge
    pairs: list[_Pair] = []
    for item in site.clearances:
        place = np.array(item.at_mm)
        edge = min(site.edges, key=lambda e: float(e.distance(place.reshape(1, 2))[0]))
        if float(edge.distance(place.reshape(1, 2))[0]) > _NEAR_RIM_MM:
            continue
        along = edge.end - edge.start
        at = edge.start + float(np.clip((place - edge.start) @ along / (along @ along), 0.0, 1.0)) * along
        index = points.add(item.name, "wall" if edge.abuts in _WALLS else "form", at, rename=True)
        if item.kind is HeightKind.DOOR_SILL:
            pairs += _landing_pair(points, index, edge, item.name)
        elif edge.abuts is Abuts.HOUSE:
            walls[index, edge.name] = edge
    for (index, _), edge in walls.items():
        pairs += _opposite_pair(points, index, edge, basis)
    for k, line in enumerate(basis.lines):
        for start, end in line_on_slab(site, line):
            pieces = max(1, math.ceil(math.dist(start, end) / site.rules["form_spacing"] - 1e-9))
            for j in range(pieces + 1):
                at = np.array(start) + (np.array(end) - np.array(start)) * (j / pieces)
                points.add(f"K{k + 1}.{j + 1}", "crease", at)
    taken = np.array([(p.x_mm, p.y_mm) for p in points.places])
    for s in site.levels.stations:
        if np.hypot(taken[:, 0] - s.x_mm, taken[:, 1] - s.y_mm).min() >= _SAME_MM:
            points.places.append(_Place(s.station_id, "station", s.x_mm, s.y_mm))
    return points.places, pairs


def _landing_pair(points: _Points, index: int, edge: Edge, name: str) -> list[_Pair]:
    """A door and the end of its landing square to it."""
    site, place = points.site, points.places[index]
    start = np.array([place.x_mm, place.y_mm])
    distance = points.reach(start, edge.inward, site.rules["landing_depth"])
    if distance < _NEAR_RIM_MM:
        return []
    low = points.add(f"landing end at {name}", "form", start + edge.inward * distance)
    least = site.fall if edge.abuts is Abuts.HOUSE else -np.inf
    fall_name = f"fall away from the house at {edge.name}"
    return [_Pair(index, low, distance, least, site.rules["landing_slope"], fall_name, f"landing at {name}")]


def _opposite_pair(points: _Points, index: int, edge: Edge, basis: Basis) -> list[_Pair]:
    """A wall point and the first crease or rim point square to it, at most 10 ft out."""
    site, place = points.site, points.places[index]
    start = np.array([place.x_mm, place.y_mm])
    distance = points.reach(start, edge.inward, site.rules["house_band"])
    for line in basis.lines:
        speed = float(np.dot(line.normal, edge.inward))
        if abs(speed) > 1e-9:
            t = -float(line.distance(start.reshape(1, 2))[0]) / speed
            if _NEAR_RIM_MM < t < distance:
                distance = t
    if distance < _NEAR_RIM_MM:
        return []
    low = points.add(f"opposite {place.name}", "form", start + edge.inward * distance)
    return [_Pair(index, low, distance, site.fall, np.inf, f"fall away from the house at {edge.name}", None)]


def _bounds(
    site: Site, places: list[_Place], xy: Float, requirements: Sequence[Requirement]
) -> tuple[Float, Float, Float, dict[str, int]]:
    """Old height, lowest and highest finished height at each point; the point of each height."""
    known = {s.station_id: s.z_mm for s in site.levels.stations}
    rim = np.array([p.kind != "station" for p in places])
    old = np.array([known.get(p.name, 0.0) for p in places])
    old[rim] = site.old.at(xy[rim])[0]
    least, most = np.full(len(places), -np.inf), np.full(len(places), np.inf)
    owners: dict[str, int] = {}
    by_name = {r.name: r for r in requirements}
    if "thickness" in by_name:
        least = old + by_name["thickness"].value
    for r in requirements:
        if r.unit == "mm" and r.name != "thickness" and not r.wish:
            item = next(c for c in site.clearances if c.name == r.places[0])
            k = int(np.hypot(xy[:, 0] - item.at_mm[0], xy[:, 1] - item.at_mm[1]).argmin())
            if math.hypot(xy[k, 0] - item.at_mm[0], xy[k, 1] - item.at_mm[1]) > _NEAR_RIM_MM:
                continue
            owners[r.name] = k
            # rows are +-heights at the place itself: rhs turns into a bound on the height there.
            if _holds_up(r):
                least[k] = max(least[k], float(r.rhs[0]))
            else:
                most[k] = min(most[k], -float(r.rhs[0]))
    return old, least, most, owners


def _holds_up(r: Requirement) -> bool:
    """Whether a bound on one height keeps the finished surface from lying lower (not higher)."""
    return bool(r.rows[0, 2] > 0)


def _round(exact: Float, least: Float, most: Float, pairs: list[_Pair], step: float) -> tuple[Float, bool]:
    """Whole steps: the nearer one where it may be, by mixed-integer programming where points are tied."""
    base = np.floor(exact / step + 1e-9)
    part = exact / step - base
    low = np.where(base * step >= least - 1e-9, 0, 1)
    high = np.where((base + 1) * step <= most + 1e-9, 1, 0)
    loose = np.clip((part > 0.5).astype(int), np.minimum(low, high), np.maximum(low, high))
    if not pairs:
        return (base + loose) * step, bool((low <= high).all())
    used = sorted({k for p in pairs for k in (p.high, p.low)})
    column = {k: c for c, k in enumerate(used)}
    rows, lower, upper = [], [], []
    for p in pairs:
        row = np.zeros(len(used))
        row[column[p.high]] += step
        row[column[p.low]] -= step
        offset = (base[p.high] - base[p.low]) * step
        rows.append(row)
        lower.append(p.least * p.distance_mm - offset - 1e-9)
        upper.append(p.most * p.distance_mm - offset + 1e-9)
    feasible = bool((low <= high).all())
    result = milp(
        (1.0 - 2.0 * part)[used],
        constraints=LinearConstraint(np.array(rows), lower, upper),
        integrality=np.ones(len(used)),
        bounds=Bounds(np.minimum(low, high)[used], np.maximum(low, high)[used]),
    )
    if result.success and feasible:
        loose[used] = np.round(result.x).astype(int)
        return (base + loose) * step, True
    return (base + np.maximum(loose, low)) * step, False


def _judge(
    requirements: Sequence[Requirement],
    basis: Basis,
    xy: Float,
    rounded: Float,
    old: Float,
    owners: dict[str, int],
    pairs: list[_Pair],
) -> dict[str, float]:
    """Room of each requirement on the rounded heights."""
    rows = basis.heights(xy)
    fitted = np.linalg.lstsq(rows, rounded, rcond=None)[0]
    rooms: dict[str, float] = {}
    for r in requirements:
        own = [p for p in pairs if r.name in (p.fall_name, p.landing_name)]
        if r.name == "thickness":
            rooms[r.name] = float((rounded - old).min() - r.value)
        elif r.name in owners:
            k = owners[r.name]
            rooms[r.name] = float(rounded[k] - r.rhs[0] if _holds_up(r) else -r.rhs[0] - rounded[k])
        elif own:
            slopes = np.array([(rounded[p.high] - rounded[p.low]) / p.distance_mm for p in own])
            if own[0].landing_name == r.name:
                rooms[r.name] = float(min(p.most - abs(s) for p, s in zip(own, slopes, strict=True)))
            else:
                rooms[r.name] = float(min(s - p.least for p, s in zip(own, slopes, strict=True)))
        else:
            rooms[r.name] = float((r.rows @ fitted - r.rhs).min())
    return rooms
