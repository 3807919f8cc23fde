"""Typed and photographed distress joined into one picture; a gauge outranks a photo."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from analyzer.observe.contradictions import find_contradictions
from analyzer.observe.pieces import count_pieces, crack_lines
from analyzer.observe.readings import ReadingRules, load_readings
from analyzer.observe.shared import share_out
from analyzer.records import (
    AreaDistress,
    AreaEntry,
    BranchSize,
    Contradiction,
    CrackEntry,
    CrackSize,
    CrackSurvey,
    DistressSummary,
    Fault,
    FieldBook,
    LevelMap,
    PanelLayout,
)
from analyzer.terms import Answer, Distress, Grade
from analyzer.units import format_area, format_length, format_width

_OVERLAP = 0.5
_DIAGONAL_DEG = 30.0


def merge_distress(
    field: FieldBook,
    survey: CrackSurvey,
    layout: PanelLayout,
    levels: LevelMap | None,
    unseen_fraction: float | None,
    rules: ReadingRules | None = None,
) -> DistressSummary:
    """Join what was typed with what photos show; report what does not fit together.

    A typed crack is the same as a photographed one if it has its name, if half of the shorter
    line lies along the other, or if its place lies on it. Its gauge width then replaces the
    photo's and its tape length the photo's length; values further apart than ``coverage``
    combined standard uncertainties are reported, never averaged.

    Parameters
    ----------
    field, survey, layout
    levels : LevelMap or None
    unseen_fraction : float or None
        Part of the slab that no photo shows, 0 to 1; None if there are no photos.
    rules : ReadingRules, optional

    Returns
    -------
    DistressSummary
    """
    rules = rules or load_readings()
    cracks, disputes = _join_cracks(field, survey, layout, rules)
    areas, area_disputes = _areas(field, survey, layout, rules)
    faults = _faults(field, layout, cracks, rules)
    found = find_contradictions(field, layout, levels, faults, cracks, unseen_fraction, rules)
    return DistressSummary(
        cracks=cracks,
        areas=areas,
        faults=faults,
        rocking_panels=field.slab.rocking_panels,
        pieces_by_panel=tuple(
            (p.panel_id, count_pieces(p, cracks, field, unseen_fraction, rules)) for p in layout.panels
        ),
        contradictions=(*disputes, *area_disputes, *found),
        unseen_fraction=unseen_fraction,
    )


def _join_cracks(
    field: FieldBook, survey: CrackSurvey, layout: PanelLayout, rules: ReadingRules
) -> tuple[tuple[CrackSize, ...], list[Contradiction]]:
    traced = share_out(survey.cracks, field.cracks, rules.same_place_mm)
    open_photo = {c.crack_id: c for c in traced}
    joined: list[CrackSize] = []
    disputes: list[Contradiction] = []
    for entry in field.cracks:
        match = _match(entry, open_photo, rules)
        typed = _typed_crack(entry, layout, rules)
        if match is None:
            joined.append(typed)
            continue
        photo = open_photo.pop(match)
        if entry.length is None:
            # A line on a sketch is no tape: the photo knows the length better.
            typed = replace(typed, length_mm=None, length_u_mm=None)
        crack = _overrule(typed, photo, rules, field.job.units.value)
        joined.append(crack)
        if crack.disagreement:
            disputes.append(Contradiction(f"crack {entry.name}", crack.disagreement))
    return (*joined, *open_photo.values()), disputes


def _match(entry: CrackEntry, photo: dict[str, CrackSize], rules: ReadingRules) -> str | None:
    """The photographed crack that a typed one is, by name, overlap or place."""
    if entry.name in photo:
        return entry.name
    best: tuple[float, str] | None = None
    for crack_id, crack in photo.items():
        lines = crack_lines(crack)
        if lines is None:
            continue
        if len(entry.line_mm) >= 2:
            line = shapely.LineString(entry.line_mm)
            shared = lines.intersection(line.buffer(rules.same_place_mm)).length
            part = shared / min(line.length, lines.length)
            score = part if part >= _OVERLAP else 0.0
        elif entry.at_mm is not None:
            distance = lines.distance(shapely.Point(entry.at_mm))
            score = 1.0 - distance / rules.same_place_mm
        else:
            continue
        if score > 0 and (best is None or score > best[0]):
            best = (score, crack_id)
    return best[1] if best else None


def _typed_crack(entry: CrackEntry, layout: PanelLayout, rules: ReadingRules) -> CrackSize:
    line = shapely.LineString(entry.line_mm) if len(entry.line_mm) >= 2 else None
    place = shapely.Point(entry.at_mm) if line is None and entry.at_mm else line
    panels = _panels_touched(entry.panel, place, layout, rules)
    direction = _direction(entry.line_mm) if line is not None else None
    length, length_u = (
        (entry.length.mm, rules.u_mm(entry.length, "length"))
        if entry.length
        else (line.length, rules.readings["length"].u_mm)
        if line is not None
        else (None, None)
    )
    width = entry.width
    width_u = rules.u_mm(width, "width") if width else None
    branches: tuple[BranchSize, ...] = ()
    if line is not None and direction is not None:
        branches = (
            BranchSize(entry.line_mm, line.length, rules.readings["length"].u_mm or 0.0, None, None,
                       width.mm if width else None, width_u, None, direction, None, 1.0),
        )  # fmt: skip
    return CrackSize(
        crack_id=entry.name,
        panels=panels,
        distress=_kind(entry, direction, panels, layout),
        length_mm=length,
        length_u_mm=length_u,
        width_mean_mm=None,
        width_mean_u_mm=None,
        width_max_mm=width.mm if width else None,
        width_max_u_mm=width_u,
        width_upper_mm=None,
        direction_deg=direction,
        splits_panel=entry.splits_panel,
        corner_cut=None,
        branches=branches,
        probability=1.0,
        grade=Grade.MEASURED if width else Grade.REPORTED,
        width_source="gauge" if width else None,
        through=entry.through,
        moving=entry.moving,
    )


def _overrule(typed: CrackSize, photo: CrackSize, rules: ReadingRules, units: str) -> CrackSize:
    """The typed reading where there is one, the photo's where there is none."""
    told: list[str] = []
    gauge = typed.width_max_mm is not None
    if gauge:
        told += _width_dispute(typed, photo, rules.coverage, units)
    width_clash = bool(told)
    length_clash = (
        typed.length_mm is not None
        and photo.length_mm is not None
        and abs(typed.length_mm - photo.length_mm)
        > rules.coverage * math.hypot(typed.length_u_mm or 0.0, photo.length_u_mm or 0.0)
    )
    if length_clash:
        told.append(
            f"the tape gives a length of {format_length(typed.length_mm or 0.0, units)} and the photo "
            f"{format_length(photo.length_mm or 0.0, units)}; the tape is used"
        )
    keep_mean = not gauge or not width_clash
    return CrackSize(
        crack_id=typed.crack_id,
        panels=photo.panels or typed.panels,
        distress=Distress.CORNER_BREAK if typed.distress is Distress.CORNER_BREAK else photo.distress,
        length_mm=typed.length_mm if typed.length_mm is not None else photo.length_mm,
        length_u_mm=typed.length_u_mm if typed.length_mm is not None else photo.length_u_mm,
        width_mean_mm=photo.width_mean_mm if keep_mean else None,
        width_mean_u_mm=photo.width_mean_u_mm if keep_mean else None,
        width_max_mm=typed.width_max_mm if gauge else photo.width_max_mm,
        width_max_u_mm=typed.width_max_u_mm if gauge else photo.width_max_u_mm,
        width_upper_mm=None if gauge else photo.width_upper_mm,
        direction_deg=photo.direction_deg if photo.direction_deg is not None else typed.direction_deg,
        splits_panel=_said(typed.splits_panel, photo.splits_panel),
        corner_cut=photo.corner_cut,
        branches=photo.branches or typed.branches,
        probability=1.0,
        grade=Grade.MEASURED if gauge else photo.grade,
        width_source="gauge" if gauge else photo.width_source,
        through=_said(typed.through, photo.through),
        moving=_said(typed.moving, photo.moving),
        along_joint=photo.along_joint,
        disagreement="; ".join(told) or photo.disagreement,
    )


def _width_dispute(typed: CrackSize, photo: CrackSize, coverage: float, units: str) -> list[str]:
    """A gauge reading must lie between the photo's mean and greatest width, or under its upper bound."""
    gauge, u = typed.width_max_mm or 0.0, typed.width_max_u_mm or 0.0
    if photo.width_max_mm is not None:
        low = photo.width_mean_mm if photo.width_mean_mm is not None else photo.width_max_mm
        high = photo.width_max_mm
        slack = coverage * math.hypot(u, photo.width_max_u_mm or 0.0)
        if low - slack <= gauge <= high + slack:
            return []
        seen = f"{format_width(high, units)} at the widest"
    elif photo.width_upper_mm is not None:
        if gauge <= photo.width_upper_mm + coverage * u:
            return []
        seen = f"less than {format_width(photo.width_upper_mm, units)}"
    else:
        return []
    return [f"the gauge reads {format_width(gauge, units)} and the photo {seen}; the gauge is used"]


def _areas(
    field: FieldBook, survey: CrackSurvey, layout: PanelLayout, rules: ReadingRules
) -> tuple[tuple[AreaDistress, ...], list[Contradiction]]:
    out: list[AreaDistress] = []
    units = field.job.units.value
    disputes: list[Contradiction] = []
    for entry in field.areas:
        out.append(_typed_area(entry, layout, rules))
    for patch in survey.map_areas:
        same = [
            a
            for a in out
            if a.kind is Distress.MAP_CRACKING
            and a.source == "typed"
            and a.panel_id in (None, patch.panel_id)
        ]
        if not same:
            out.append(
                AreaDistress(Distress.MAP_CRACKING, patch.panel_id, patch.area_mm2, patch.area_u_mm2, None,
                             None, Grade.MEASURED, "photo")
            )  # fmt: skip
            continue
        typed = same[0]
        if typed.area_mm2 is not None:
            u = math.hypot(typed.area_u_mm2 or 0.0, patch.area_u_mm2)
            if abs(typed.area_mm2 - patch.area_mm2) > rules.coverage * u:
                disputes.append(
                    Contradiction(
                        f"map cracking on {patch.panel_id or 'the slab'}",
                        f"typed as {format_area(typed.area_mm2, units)}, the photo shows "
                        f"{format_area(patch.area_mm2, units)}; the typed area is used",
                    )
                )
    hollow = any(a.kind is Distress.HOLLOW_SOUNDING for a in out)
    if field.slab.sounded is Answer.YES and not hollow:
        out.append(
            AreaDistress(
                Distress.HOLLOW_SOUNDING, None, 0.0, 0.0, None, None, Grade.MEASURED, "sounded, none hollow"
            )
        )
    elif field.slab.sounded is not Answer.YES and not hollow:
        out.append(
            AreaDistress(Distress.HOLLOW_SOUNDING, None, None, None, None, None, Grade.UNKNOWN, "not sounded")
        )
    return tuple(out), disputes


def _typed_area(entry: AreaEntry, layout: PanelLayout, rules: ReadingRules) -> AreaDistress:
    outline = shapely.Polygon(entry.outline_mm) if len(entry.outline_mm) >= 3 else None
    area = entry.area_mm2 if entry.area_mm2 is not None else (outline.area if outline else None)
    place = outline or (shapely.Point(entry.at_mm) if entry.at_mm else None)
    panels = _panels_touched(entry.panel, place, layout, rules)
    return AreaDistress(
        kind=entry.kind,
        panel_id=panels[0] if panels else None,
        area_mm2=area,
        area_u_mm2=None if area is None else rules.area_u_mm2(area),
        depth_mm=entry.depth.mm if entry.depth else None,
        depth_u_mm=rules.u_mm(entry.depth, "depth") if entry.depth else None,
        grade=Grade.MEASURED if area is not None or entry.depth else Grade.REPORTED,
        source="typed",
    )


def _faults(
    field: FieldBook, layout: PanelLayout, cracks: tuple[CrackSize, ...], rules: ReadingRules
) -> tuple[Fault, ...]:
    """Typed steps, each with the joint or crack it lies on and the panels on both sides."""
    lines: list[tuple[str, BaseGeometry]] = [
        (j.joint_id, shapely.LineString([j.start_mm, j.end_mm])) for j in layout.joints
    ]
    lines += [(c.crack_id, line) for c in cracks if (line := crack_lines(c)) is not None]
    polygons = [(p.panel_id, shapely.Polygon(p.outline_mm)) for p in layout.panels]
    out = []
    for entry in field.faults:
        point = shapely.Point(entry.at_mm)
        along = entry.along
        if along is None and lines:
            distance, name = min((line.distance(point), name) for name, line in lines)
            along = name if distance <= rules.same_place_mm else None
        sides = tuple(n for n, polygon in polygons if polygon.distance(point) <= rules.same_place_mm)
        out.append(Fault(entry.at_mm, abs(entry.step.mm), rules.u_mm(entry.step, "step"), along, sides))
    return tuple(out)


def _panels_touched(
    named: str | None, place: BaseGeometry | None, layout: PanelLayout, rules: ReadingRules
) -> tuple[str, ...]:
    if named:
        return (named,)
    if place is None:
        return ()
    shares = []
    for panel in layout.panels:
        polygon = shapely.Polygon(panel.outline_mm)
        inside = polygon.intersection(place)
        size = inside.length if place.length > 0 else 0.0
        if size > rules.on_joint_mm or (size == 0.0 and place.length == 0 and polygon.covers(place)):
            shares.append((-size, panel.panel_id))
    return tuple(name for _, name in sorted(shares))


def _direction(points: tuple[tuple[float, float], ...]) -> float:
    dx, dy = points[-1][0] - points[0][0], points[-1][1] - points[0][1]
    return math.degrees(math.atan2(dy, dx)) % 180.0


def _kind(
    entry: CrackEntry, direction: float | None, panels: tuple[str, ...], layout: PanelLayout
) -> Distress:
    """LTPP word for a typed crack; without a line it is transverse, which has the stricter limits."""
    if entry.corner is Answer.YES:
        return Distress.CORNER_BREAK
    own = [p for p in layout.panels if p.panel_id in panels[:1]]
    if direction is None or not own:
        return Distress.TRANSVERSE_CRACKING
    box = np.asarray(shapely.Polygon(own[0].outline_mm).minimum_rotated_rectangle.exterior.coords)
    sides = np.diff(box[:3], axis=0)
    longer = sides[int(np.linalg.norm(sides, axis=1).argmax())]
    off = abs((direction - math.degrees(math.atan2(longer[1], longer[0])) + 90.0) % 180.0 - 90.0)
    if off <= _DIAGONAL_DEG:
        return Distress.LONGITUDINAL_CRACKING
    return Distress.TRANSVERSE_CRACKING if off >= 90.0 - _DIAGONAL_DEG else Distress.DIAGONAL_CRACKING


def _said(typed: Answer, photo: Answer) -> Answer:
    return photo if typed is Answer.UNKNOWN else typed
