"""Level readings to the shape of the old surface: plane, settlement, slopes, ponds, straightedge gap."""

from __future__ import annotations

import math
import re

import numpy as np
import shapely

from analyzer.errors import FieldBookError
from analyzer.observe.mesh import mesh_outline
from analyzer.observe.plane import PlaneFit, fit_plane, sound_stations
from analyzer.observe.ponding import find_basins
from analyzer.observe.readings import ReadingRules, load_readings
from analyzer.observe.straightedge import largest_gap
from analyzer.records import (
    Bool,
    EdgeSlope,
    FieldBook,
    Float,
    LevelMap,
    PanelLayout,
    PanelLevel,
    Pond,
    StationLevel,
    StationReading,
)
from analyzer.records.tin import Int, barycentric
from analyzer.terms import Abuts, HeightKind

_OUTSIDE_MM = 100.0
_CLOSED = {Abuts.HOUSE, Abuts.WALL, Abuts.STEP}


def map_levels(field: FieldBook, layout: PanelLayout, rules: ReadingRules | None = None) -> LevelMap | None:
    """Work out the old surface from the stations of a field book.

    Rod readings grow downwards, heights upwards; both become heights in mm over a datum (for
    rod readings the first station by name is zero). The best plane is that of the panels which
    lie on one plane together; each panel's settlement is how far it lies under the plane of the
    sound panels other than itself. Slopes square to an edge are those of the stations within 10
    ft of it where three or more define a plane, else of all stations.

    Parameters
    ----------
    field : FieldBook
    layout : PanelLayout
        Panels to which stations belong; may be empty.
    rules : ReadingRules, optional
        Default uncertainties and method constants.

    Returns
    -------
    LevelMap or None
        None where fewer than three stations were read or all lie on one line: no plane then.

    Raises
    ------
    FieldBookError
        Rod readings and heights are mixed, or a station lies off the slab.
    """
    rules = rules or load_readings()
    first = [s for s in field.stations if s.check_of is None]
    if len(first) < 3:
        return None
    z, u, datum = _heights(field, first, rules)
    z_again = {s.check_of: _one_height(field, s, rules)[0] for s in field.stations if s.check_of}
    shift = _one_height(field, first[0], rules)[0] - z[0]
    names = {s.station_id: k for k, s in enumerate(first)}
    misclosures = [z_again[n] - shift - z[names[n]] for n in z_again if n in names]
    if misclosures:
        seen = math.sqrt(sum(m * m for m in misclosures) / len(misclosures) / 2.0)
        u = np.maximum(u, seen)
    outline = np.array([(c.x_mm, c.y_mm) for c in field.outline])
    xy = _on_the_slab(field, first, outline)
    panel_of = panels_at(xy, layout, rules.on_joint_mm)
    if fit_plane(xy, z, u) is None:
        return None
    mask, _ = sound_stations(xy, z, u, panel_of, rules.settled_alpha)
    best = fit_plane(xy[mask], z[mask], u[mask])
    if best is None:
        mask = np.ones(len(z), dtype=bool)
        best = fit_plane(xy, z, u)
        assert best is not None
    extra, triangles = mesh_outline(outline, xy)
    z_extra, u_extra = _carry_over(extra, xy, z, u, best, mask)
    everything, heights = np.vstack([xy, extra]), np.concatenate([z, z_extra])
    u_all = np.concatenate([u, u_extra])
    residuals = z - best.at(xy)
    stations = tuple(
        StationLevel(s.station_id, float(xy[k, 0]), float(xy[k, 1]), float(z[k]), float(u[k]),
                     float(residuals[k]), panel_of[k])
        for k, s in enumerate(first)
    )  # fmt: skip
    corners = _corner_levels(
        field, extra, z_extra, u_extra, best, panels_at(extra, layout, rules.on_joint_mm)
    )
    gap = largest_gap(everything, heights, u_all, triangles, rules.straightedge_mm)
    a, b, c = (float(v) for v in best.coefficients)
    fall = math.hypot(a, b)
    gradient = np.array([a, b]) / fall if fall > 0 else np.array([1.0, 0.0])
    return LevelMap(
        stations=stations,
        plane=(a, b, c),
        plane_u=tuple(float(v) for v in np.sqrt(np.diag(best.covariance))),  # type: ignore[arg-type]
        residual_rms_mm=float(np.sqrt(np.mean(residuals[mask] ** 2))),
        triangles=tuple((int(i), int(j), int(k)) for i, j, k in triangles),
        panels=_panel_levels(xy, z, u, panel_of, mask, layout),
        edges=_edge_slopes(field, outline, xy, z, u, rules.edge_band_mm),
        ponds=_ponds(field, outline, everything, heights, u_all, triangles, rules),
        fall=fall,
        fall_u=float(np.sqrt(gradient @ best.covariance[:2, :2] @ gradient)),
        fall_direction_deg=math.degrees(math.atan2(-b, -a)) % 360.0 if fall > 0 else 0.0,
        misclosure_mm=max(misclosures, key=abs) if misclosures else None,
        straightedge_gap_mm=gap.gap_mm if gap else None,
        straightedge_gap_u_mm=gap.u_mm if gap else None,
        straightedge_gap_at_mm=gap.at_mm if gap else None,
        corners=corners,
        datum=datum,
    )


def panels_at(xy: Float, layout: PanelLayout, on_joint_mm: float) -> tuple[str | None, ...]:
    """Panel of each point (N, 2): the one it lies in or, up to ``on_joint_mm``, beside.

    None on a joint between two panels: a reading there cannot tell them apart.
    """
    if not layout.panels:
        return (None,) * len(xy)
    polygons = np.array([shapely.Polygon(p.outline_mm) for p in layout.panels], dtype=object)
    distance = shapely.distance(polygons[None], shapely.points(xy)[:, None])
    order = np.argsort(distance, axis=1, kind="stable")
    rows = np.arange(len(xy))
    nearest = distance[rows, order[:, 0]]
    runner_up = distance[rows, order[:, 1]] if len(polygons) > 1 else np.full(len(xy), np.inf)
    clear = (nearest <= on_joint_mm) & (runner_up > nearest + 1.0)
    return tuple(
        layout.panels[int(k)].panel_id if ok else None for k, ok in zip(order[:, 0], clear, strict=True)
    )


def _heights(
    field: FieldBook, stations: list[StationReading], rules: ReadingRules
) -> tuple[Float, Float, str]:
    """Heights over the datum, uncertainties, and the datum in words."""
    kinds = {s.rod is not None for s in stations}
    if len(kinds) > 1:
        raise FieldBookError(
            f"{field.source}, stations",
            "some are rod readings and some are heights",
            "give all stations as rod readings or all as heights",
        )
    pairs = [_one_height(field, s, rules) for s in stations]
    z = np.array([p[0] for p in pairs])
    u = np.array([p[1] for p in pairs])
    if True not in kinds:
        return z, u, "heights as typed in the field book"
    zero = min(range(len(stations)), key=lambda k: _natural(stations[k].station_id))
    return z - z[zero], u, f"station {stations[zero].station_id} is zero"


def _one_height(field: FieldBook, station: StationReading, rules: ReadingRules) -> tuple[float, float]:
    if station.rod is not None:
        return -station.rod.mm, rules.u_mm(station.rod, "rod")
    if station.height is not None:
        return station.height.mm, rules.u_mm(station.height, "height")
    raise FieldBookError(
        f"{field.source}, station {station.station_id}",
        "has neither a rod reading nor a height",
        "give one of them, or leave the station out",
    )


def _natural(name: str) -> list[tuple[int, int, str]]:
    """Sort key that puts S2 before S10."""
    return [(0, int(t), "") if t.isdigit() else (1, 0, t) for t in re.split(r"(\d+)", name) if t]


def _on_the_slab(field: FieldBook, stations: list[StationReading], outline: Float) -> Float:
    """Station places (N, 2), those a little outside taken to the edge."""
    xy = np.array([(s.x_mm, s.y_mm) for s in stations])
    polygon = shapely.Polygon(outline)
    points = shapely.points(xy)
    distance = shapely.distance(polygon, points)
    for k in np.flatnonzero(distance > 0):
        if distance[k] > _OUTSIDE_MM:
            raise FieldBookError(
                f"{field.source}, station {stations[k].station_id}",
                f"lies {distance[k]:.0f} mm off the slab",
                "correct its place or the outline",
            )
        edge = polygon.exterior.interpolate(polygon.exterior.project(points[k]))
        xy[k] = (edge.x, edge.y)
    return xy


def _carry_over(
    extra: Float, xy: Float, z: Float, u: Float, best: PlaneFit, sound: Bool
) -> tuple[Float, Float]:
    """Heights of outline points without a reading: best plane plus the residual of the nearest station.

    The uncertainty grows with the distance from that station by an exponential variogram whose
    sill is the roughness of the sound panels about their plane and whose range is the typical
    station spacing (judgement of this tool).
    """
    if not len(extra):
        return np.empty(0), np.empty(0)
    distance = np.linalg.norm(extra[:, None] - xy[None], axis=2)
    nearest = distance.argmin(axis=1)
    away = distance[np.arange(len(extra)), nearest]
    between = np.linalg.norm(xy[:, None] - xy[None], axis=2)
    np.fill_diagonal(between, np.inf)
    spacing = float(np.median(between.min(axis=1)))
    residual = z - best.at(xy)
    sill = 2.0 * max(best.scatter_mm**2, float(np.mean(residual[sound] ** 2)) / 2.0)
    slope_u = float(np.sqrt(np.trace(best.covariance[:2, :2]) / 2.0))
    heights = best.at(extra) + residual[nearest]
    variance = u[nearest] ** 2 + (slope_u * away) ** 2 + sill * (1.0 - np.exp(-away / spacing))
    return heights, np.sqrt(variance)


def _corner_levels(
    field: FieldBook, extra: Float, z: Float, u: Float, best: PlaneFit, panel_of: tuple[str | None, ...]
) -> tuple[StationLevel, ...]:
    names = {(c.x_mm, c.y_mm): c.name for c in field.outline}
    flat = best.at(extra) if len(extra) else np.empty(0)
    out = []
    for k, (x, y) in enumerate(extra.tolist()):
        name = names.get((x, y), f"edge point {k + 1}")
        out.append(StationLevel(name, x, y, float(z[k]), float(u[k]), float(z[k] - flat[k]), panel_of[k]))
    return tuple(out)


def _panel_levels(
    xy: Float,
    z: Float,
    u: Float,
    panel_of: tuple[str | None, ...],
    mask: Bool,
    layout: PanelLayout,
) -> tuple[PanelLevel, ...]:
    labels = np.array([p or "" for p in panel_of], dtype=object)
    out = []
    for panel in layout.panels:
        own = labels == panel.panel_id
        rest = mask & ~own
        fit = fit_plane(xy[rest], z[rest], u[rest])
        if not own.any() or fit is None:
            continue
        under = fit.at(xy[own]) - z[own]
        n = int(own.sum())
        middle = np.append(xy[own].mean(axis=0), 1.0)
        variance = middle @ fit.covariance @ middle + float(np.mean(u[own] ** 2) + fit.scatter_mm**2) / n
        lowest = int(under.argmax())
        u_low = np.hypot(fit.u_at(xy[own][lowest : lowest + 1])[0], np.hypot(u[own][lowest], fit.scatter_mm))
        local = fit_plane(xy[own], under, np.hypot(u[own], fit.u_at(xy[own])))
        tilt = tilt_u = None
        if local is not None:
            tilt = float(np.hypot(*local.coefficients[:2]))
            way = local.coefficients[:2] / tilt if tilt > 0 else np.array([1.0, 0.0])
            tilt_u = float(np.sqrt(way @ local.covariance[:2, :2] @ way))
        out.append(
            PanelLevel(panel.panel_id, float(under.mean()), float(np.sqrt(variance)), n, float(under[lowest]),
                       float(u_low), tilt, tilt_u, bool(mask[own].any()))
        )  # fmt: skip
    return tuple(out)


def _edge_slopes(
    field: FieldBook, outline: Float, xy: Float, z: Float, u: Float, band_mm: float
) -> tuple[EdgeSlope, ...]:
    whole = fit_plane(xy, z, u)
    out = []
    for k, (start, end) in enumerate(zip(outline, np.roll(outline, -1, axis=0), strict=True)):
        along = (end - start) / np.linalg.norm(end - start)
        inward = np.array([-along[1], along[0]])
        line = shapely.LineString([start, end])
        near = shapely.distance(line, shapely.points(xy)) <= band_mm
        fit = fit_plane(xy[near], z[near], u[near]) or whole
        assert fit is not None
        name, abuts = edge_of(field, k)
        gradient = fit.coefficients[:2]
        out.append(
            EdgeSlope(name, abuts, float(-gradient @ inward),
                      float(np.sqrt(inward @ fit.covariance[:2, :2] @ inward)))
        )  # fmt: skip
    return tuple(out)


def edge_of(field: FieldBook, k: int) -> tuple[str, Abuts]:
    """Name and neighbour of the outline edge that starts at corner number ``k``."""
    start, end = field.outline[k].name, field.outline[(k + 1) % len(field.outline)].name
    for edge in field.edges:
        if {edge.start, edge.end} == {start, end}:
            return edge.name, edge.abuts
    return f"{start}-{end}", Abuts.UNKNOWN


def _ponds(
    field: FieldBook, outline: Float, xy: Float, z: Float, u: Float, index: Int, rules: ReadingRules
) -> tuple[Pond, ...]:
    """Basins with house, wall and step edges closed and every other edge open; drains let water out."""
    outlet = np.full(len(z), np.inf)
    points = shapely.points(xy)
    for k, (start, end) in enumerate(zip(outline, np.roll(outline, -1, axis=0), strict=True)):
        if edge_of(field, k)[1] not in _CLOSED:
            on = shapely.distance(shapely.LineString([start, end]), points) <= 1.0
            outlet[on] = z[on]
    drains = np.array([h.at_mm for h in field.heights if h.kind is HeightKind.DRAIN]).reshape(-1, 2)
    if len(drains):
        weights, owner = barycentric(xy, index, drains)
        for w, t in zip(weights, owner, strict=True):
            at = float(w @ z[index[t]])
            outlet[index[t]] = np.minimum(outlet[index[t]], np.maximum(at, z[index[t]]))
    return tuple(
        Pond(b.outline_mm, b.area_mm2, b.depth_mm, float(np.hypot(u[b.lowest], u[b.spill])), b.volume_mm3)
        for b in find_basins(xy, z, index, outlet, rules.pond_least_depth_mm)
    )
