"""Cracks of a job measured: length, width, direction, panel, what they split or cut off."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from analyzer import frames
from analyzer.measure.branches import Reading, Traced, draw_lines, pixel_of, read_lines, size_branches
from analyzer.measure.centerline import direction_deg
from analyzer.measure.length import total_length
from analyzer.measure.maps import MapPatch, find_maps
from analyzer.measure.placing import ON_EDGE_MM, Place, Site, make_site, name_crack, place_crack, touched
from analyzer.measure.profiles import Int, Source, choose_source, make_sources
from analyzer.measure.width import Width
from analyzer.records import (
    Calibration,
    CrackSize,
    CrackSurvey,
    CrackTrace,
    Detection,
    FieldBook,
    Float,
    JointSize,
    JointTrace,
    MapCracking,
    PanelLayout,
    Photo,
    PlanImage,
)
from analyzer.terms import Answer, Distress, Grade

ALONG_JOINT_MM = 40.0
"""A crack that stays this close to a joint over most of its length is that joint's crack."""

_ALONG_SHARE = 0.7
_BEYOND_MM = 60.0
_PLACE_MM = 3.0
_LEFT_OVER = 0.2
_JOINT_MM = 10.0
_JOINT_EDGE_PX = 4.0


def size_cracks(
    detection: Detection,
    layout: PanelLayout,
    photos: Sequence[Photo],
    calibrations: Sequence[Calibration],
    plan: PlanImage | None,
    field: FieldBook,
) -> CrackSurvey:
    """Measure every crack of a job.

    Each spot is read on the one photo that resolves it best, so a crack across the seam of two
    photos is read once. A crack that goes on over a joint is one crack with two panels.

    Parameters
    ----------
    detection : Detection
        Crack graphs in plan, mm.
    layout : PanelLayout
        Panels and joints.
    photos, calibrations : sequences
        Matched by photo id; photos without a place in plan are not used here.
    plan : PlanImage or None
        Its coarse map says which photo is best where; its pixel size is that of the traces.
    field : FieldBook
        Crack names typed on site are not given to other cracks.

    Returns
    -------
    CrackSurvey
        Cracks under the ids of their traces. Members of an area of map cracking carry that word
        and stand in ``map_areas`` too: totals of crack length leave them out. A crack of which
        only a part lies in such an area keeps the rest.

    Raises
    ------
    RecordError
        A trace holds points that are not numbers.
    """
    sources = make_sources(photos, calibrations)
    if plan is not None:
        pixel_mm = plan.grid.mm_per_px
    else:
        pixel_mm = pixel_of([b.points_mm for crack in detection.cracks for b in crack.branches])
    lines = draw_lines(detection.cracks, pixel_mm)
    if not lines:
        return CrackSurvey((), ())
    reading = read_lines(lines, sources, plan, pixel_mm, _joint_bands(detection.joints, pixel_mm))
    traced = size_branches(lines, reading, pixel_mm)
    maps = find_maps(
        [np.array(t.size.points_mm) for t in traced],
        np.array([t.length.mm for t in traced]),
        np.array([np.nan if t.size.width_mean_mm is None else t.size.width_mean_mm for t in traced]),
        [((t.line.crack, t.line.trace.start_node), (t.line.crack, t.line.trace.end_node)) for t in traced],
    )
    ids = _names(detection.cracks, field)
    site = make_site(layout)
    members, swallowed = _share_out(traced, maps, len(detection.cracks))
    geometry = {k: _geometry([traced[i] for i in own]) for k, own in members.items()}
    tree_keys = [k for k in geometry if k not in swallowed]
    tree = shapely.STRtree([geometry[k] for k in tree_keys])
    cracks = []
    for k, own in members.items():
        x0, y0, x1, y1 = geometry[k].bounds
        window = shapely.box(x0 - ON_EDGE_MM, y0 - ON_EDGE_MM, x1 + ON_EDGE_MM, y1 + ON_EDGE_MM)
        near = [tree_keys[int(i)] for i in tree.query(window)]
        others = [geometry[j] for j in near if j != k] if k not in swallowed else []
        cracks.append(
            _crack(
                ids[k],
                detection.cracks[k],
                [traced[i] for i in own],
                np.array(own),
                k in swallowed,
                geometry[k],
                others,
                reading,
                site,
                layout,
                plan,
            )
        )
    return CrackSurvey(tuple(cracks), _map_areas(maps, traced, ids, site))


def _joint_bands(joints: Sequence[JointTrace], pixel_mm: float) -> shapely.Geometry | None:
    """Joints with their blurred edges as one area."""
    bands = [
        shapely.LineString(joint.points_mm).buffer(
            (joint.width_mm or _JOINT_MM) / 2.0 + _JOINT_EDGE_PX * pixel_mm, quad_segs=2
        )
        for joint in joints
        if len(joint.points_mm) >= 2
    ]
    return shapely.union_all(bands) if bands else None


def _names(cracks: Sequence[CrackTrace], field: FieldBook) -> list[str]:
    """Ids of the traces; one that a typed crack already has becomes the next free number.

    A person who writes C2 on site does not know what the detector will call C2.
    """
    taken = {entry.name for entry in field.cracks} | {crack.crack_id for crack in cracks}
    typed = {entry.name for entry in field.cracks}
    names, number = [], len(cracks)
    for crack in cracks:
        name = crack.crack_id
        while name in typed or (name != crack.crack_id and name in taken):
            number += 1
            name = f"C{number}"
        taken.add(name)
        names.append(name)
    return names


def _share_out(
    traced: Sequence[Traced], maps: Sequence[MapPatch], n_cracks: int
) -> tuple[dict[int, list[int]], set[int]]:
    """Branches that stay with each crack, and the cracks that belong to map areas as a whole."""
    in_map = {i for patch in maps for i in patch.branches}
    own: dict[int, list[int]] = {}
    for i, item in enumerate(traced):
        own.setdefault(item.line.crack, []).append(i)
    swallowed = set()
    for k, every in own.items():
        rest = [i for i in every if i not in in_map]
        if len(rest) == len(every):
            continue
        total = sum(traced[i].length.mm for i in every)
        if sum(traced[i].length.mm for i in rest) <= _LEFT_OVER * total:
            swallowed.add(k)
        else:
            own[k] = rest
    return dict(sorted(own.items())), swallowed


def _geometry(items: Sequence[Traced]) -> shapely.MultiLineString:
    """The crack with as many points as its place on the panels needs."""
    lines = shapely.MultiLineString([item.size.points_mm for item in items])
    return lines.simplify(_PLACE_MM, preserve_topology=False)


def _crack(
    crack_id: str,
    trace: CrackTrace,
    items: Sequence[Traced],
    branch_numbers: Int,
    is_map: bool,
    geometry: shapely.MultiLineString,
    others: Sequence[shapely.Geometry],
    reading: Reading,
    site: Site,
    layout: PanelLayout,
    plan: PlanImage | None,
) -> CrackSize:
    """One crack from its branches."""
    rows = np.concatenate([reading.rows_of(int(number)) for number in branch_numbers])
    width = items[0].width if len(items) == 1 else reading.width_of(rows)
    length = total_length([item.length for item in items])
    direction = direction_deg([item.line.center.points_mm for item in items])
    if is_map:
        names = sorted(i for i, _ in touched(geometry, site))
        place = Place(tuple(site.names[i] for i in names), None, Answer.NO, None, False)
    else:
        tips, beyond = _free_ends(items)
        place = place_crack(geometry, others, tips, _seen(beyond, reading.sources, plan), site)
    source = reading.source_of(rows)
    weights = [item.length.mm for item in items]
    return CrackSize(
        crack_id=crack_id,
        panels=place.panels,
        distress=Distress.MAP_CRACKING if is_map else name_crack(place, site, direction, length.mm, width),
        length_mm=length.mm,
        length_u_mm=length.u_mm,
        width_mean_mm=width.mean_mm,
        width_mean_u_mm=width.mean_u_mm,
        width_max_mm=width.max_mm,
        width_max_u_mm=width.max_u_mm,
        width_upper_mm=width.upper_mm,
        direction_deg=direction,
        splits_panel=place.splits,
        corner_cut=place.corner,
        branches=tuple(item.size for item in items),
        probability=float(np.average([item.size.probability for item in items], weights=weights))
        if trace.branches
        else trace.probability,
        grade=Grade.MEASURED,
        width_source=None if source is None or width == Width() else f"photo {source.photo_id}",
        along_joint=_along_joint(geometry, layout.joints),
    )


def _free_ends(items: Sequence[Traced]) -> tuple[Float, Float]:
    """Free ends (E, 2) of a crack and points a little beyond them (E, 2)."""
    tips, beyond = [], []
    for item in items:
        points = item.line.center.points_mm
        for free, at, inner in ((item.line.free[0], 0, 3), (item.line.free[1], -1, -4)):
            if free:
                inner = max(min(inner, len(points) - 1), -len(points))
                step = points[at] - points[inner]
                tips.append(points[at])
                beyond.append(points[at] + step / max(float(np.hypot(*step)), 1e-9) * _BEYOND_MM)
    shape = (len(tips), 2)
    return np.array(tips).reshape(shape), np.array(beyond).reshape(shape)


def _seen(points_mm: Float, sources: tuple[Source, ...], plan: PlanImage | None) -> list[bool]:
    """Whether some photo shows each place (N, 2); off the slab counts as seen."""
    if not len(points_mm):
        return []
    seen = choose_source(points_mm, sources, None) >= 0
    if plan is not None:
        cell = np.rint(frames.apply(frames.grid_from_plan(plan.coarse), points_mm)).astype(np.intp)
        inside = (cell >= 0).all(axis=1)
        inside &= (cell[:, 0] < plan.coarse.n_rows) & (cell[:, 1] < plan.coarse.n_cols)
        seen = np.ones(len(points_mm), dtype=bool)
        seen[inside] = plan.best_photo[cell[inside, 0], cell[inside, 1]] != -1
    return [bool(s) for s in seen]


def _along_joint(geometry: shapely.MultiLineString, joints: Sequence[JointSize]) -> str | None:
    """The joint that a crack follows, if it does."""
    for joint in joints:
        line = shapely.LineString([joint.start_mm, joint.end_mm])
        if line.distance(geometry) <= ALONG_JOINT_MM:
            along = geometry.intersection(line.buffer(ALONG_JOINT_MM)).length
            if along >= _ALONG_SHARE * geometry.length:
                return joint.joint_id
    return None


def _map_areas(
    maps: Sequence[MapPatch], traced: Sequence[Traced], ids: Sequence[str], site: Site
) -> tuple[MapCracking, ...]:
    """Records of the areas of map cracking, the largest first."""
    out = []
    for patch in maps:
        lines = shapely.MultiLineString([traced[i].line.center.points_mm for i in patch.branches])
        on = touched(lines, site)
        scale = max(traced[i].length.scale_u_rel for i in patch.branches)
        numbers = sorted({traced[i].line.crack for i in patch.branches})
        area = float(patch.outline.area)
        out.append(
            MapCracking(
                panel_id=site.names[on[0][0]] if on else None,
                outline_mm=tuple((float(x), float(y)) for x, y in patch.outline.exterior.coords[:-1]),
                area_mm2=area,
                area_u_mm2=float(np.hypot(patch.area_u_mm2, 2.0 * scale * area)),
                crack_ids=tuple(ids[k] for k in numbers),
                length_mm=patch.length_mm,
            )
        )
    return tuple(out)
