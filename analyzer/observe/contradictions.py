"""Pieces of evidence that do not fit together: each is told in a sentence, none is averaged away."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely

from analyzer.observe.plane import fit_plane
from analyzer.observe.readings import ReadingRules
from analyzer.records import (
    Contradiction,
    CrackSize,
    Fault,
    FieldBook,
    LevelMap,
    PanelLayout,
)
from analyzer.terms import Abuts, Answer, Distress, HeightKind
from analyzer.units import format_length


def find_contradictions(
    field: FieldBook,
    layout: PanelLayout,
    levels: LevelMap | None,
    faults: tuple[Fault, ...],
    cracks: tuple[CrackSize, ...],
    unseen_fraction: float | None,
    rules: ReadingRules,
) -> tuple[Contradiction, ...]:
    """Check the field book against the levels, the layout, the photos and what is possible.

    Values disagree where they are more than ``rules.coverage`` combined standard uncertainties
    apart.
    """
    return (
        *_impossible(field, rules),
        *_steps_without_line(layout, faults, cracks, unseen_fraction, rules),
        *_levels_against_steps(levels, faults, rules, field.job.units.value),
        *_levels_against_settlement(field, levels, rules),
        *_levels_against_water(field, levels, rules),
    )


def _impossible(field: FieldBook, rules: ReadingRules) -> Iterator[Contradiction]:
    riser, slab = rules.bounds["riser"], rules.bounds["thickness"]
    for entry in field.heights:
        if entry.kind is HeightKind.RISER and entry.above_slab is not None:
            rise = entry.above_slab.mm
            if not riser.least_mm <= rise <= riser.most_mm:
                yield Contradiction(
                    f"riser {entry.name}",
                    f"a rise of {entry.above_slab.typed} cannot be; read it again",
                )
    thickness = field.slab.thickness
    if thickness is not None and not slab.least_mm <= thickness.mm <= slab.most_mm:
        yield Contradiction(
            "slab thickness", f"a slab {thickness.typed} thick cannot be; measure it again at an edge"
        )


def _steps_without_line(
    layout: PanelLayout,
    faults: tuple[Fault, ...],
    cracks: tuple[CrackSize, ...],
    unseen_fraction: float | None,
    rules: ReadingRules,
) -> Iterator[Contradiction]:
    """A step needs a joint or crack to step at."""
    known = {j.joint_id for j in layout.joints} | {c.crack_id for c in cracks}
    lines = [shapely.LineString([j.start_mm, j.end_mm]) for j in layout.joints]
    lines += [shapely.LineString(b.points_mm) for c in cracks for b in c.branches if len(b.points_mm) >= 2]
    if not known and unseen_fraction is None:
        return
    whom = "no photo and no entry shows" if unseen_fraction is not None else "no entry shows"
    for fault in faults:
        place = f"fault at ({fault.at_mm[0]:.0f}, {fault.at_mm[1]:.0f}) mm"
        point = shapely.Point(fault.at_mm)
        if fault.along is not None and fault.along not in known:
            yield Contradiction(place, f"it is said to lie along {fault.along}, which {whom}")
        elif fault.along is None and all(line.distance(point) > rules.same_place_mm for line in lines):
            yield Contradiction(place, f"it lies where {whom} a joint or crack")


def _levels_against_steps(
    levels: LevelMap | None, faults: tuple[Fault, ...], rules: ReadingRules, units: str
) -> Iterator[Contradiction]:
    """The step between two panels' own planes against the step measured at their joint."""
    if levels is None:
        return
    planes = {}
    for panel in {s.panel_id for s in levels.stations if s.panel_id}:
        own = [s for s in levels.stations if s.panel_id == panel]
        planes[panel] = fit_plane(
            np.array([(s.x_mm, s.y_mm) for s in own]),
            np.array([s.z_mm for s in own]),
            np.array([s.z_u_mm for s in own]),
        )
    for fault in faults:
        fits = [planes.get(p) for p in fault.panels]
        if len(fits) != 2 or fits[0] is None or fits[1] is None:
            continue
        at = np.array([fault.at_mm])
        step = abs(float(fits[0].at(at)[0] - fits[1].at(at)[0]))
        rough = math.hypot(fits[0].scatter_mm, fits[1].scatter_mm)
        u = math.hypot(float(fits[0].u_at(at)[0]), float(fits[1].u_at(at)[0]), fault.step_u_mm, rough)
        if abs(step - fault.step_mm) > rules.coverage * u:
            yield Contradiction(
                f"step between {fault.panels[0]} and {fault.panels[1]}",
                f"measured as {format_length(fault.step_mm, units)} at the joint, but the levels give "
                f"{format_length(step, units)}; neither is changed",
            )


def _levels_against_settlement(
    field: FieldBook, levels: LevelMap | None, rules: ReadingRules
) -> Iterator[Contradiction]:
    if levels is None:
        return
    units = field.job.units.value
    by_panel = {p.panel_id: p for p in levels.panels}
    for entry in field.areas:
        if entry.kind is not Distress.SETTLEMENT or entry.depth is None or entry.panel not in by_panel:
            continue
        panel = by_panel[entry.panel]
        typed, u_typed = entry.depth.mm, rules.u_mm(entry.depth, "depth")
        low, high = panel.settlement_mm, panel.settlement_mm
        if panel.lowest_mm is not None:
            high = max(high, panel.lowest_mm)
        slack = rules.coverage * math.hypot(u_typed, panel.lowest_u_mm or panel.settlement_u_mm)
        if not low - slack <= typed <= high + slack:
            yield Contradiction(
                f"settlement of {entry.panel}",
                f"typed as {entry.depth.typed}, but the levels put it {format_length(low, units)} under "
                f"the plane of the rest on average and {format_length(high, units)} at most; neither is "
                "changed",
            )


def _levels_against_water(
    field: FieldBook, levels: LevelMap | None, rules: ReadingRules
) -> Iterator[Contradiction]:
    if levels is None:
        return
    units = field.job.units.value
    if field.slab.ponding_seen is Answer.NO:
        deep = [p for p in levels.ponds if p.depth_mm > 3.0 + rules.coverage * p.depth_u_mm]
        if deep:
            yield Contradiction(
                "ponding",
                "none was seen, but by the levels water would stand "
                f"{format_length(deep[0].depth_mm, units)} deep",
            )
    for edge in levels.edges:
        if edge.abuts is not Abuts.HOUSE:
            continue
        slack = rules.coverage * edge.slope_u
        toward = field.slab.drains_toward_house
        if toward is Answer.YES and edge.slope > slack:
            yield Contradiction(
                f"edge {edge.edge}",
                f"it is said to drain toward the house, but by the levels it falls {edge.slope:.1%} away",
            )
        elif toward is Answer.NO and edge.slope < -slack:
            yield Contradiction(
                f"edge {edge.edge}",
                f"it is said not to drain toward the house, but by the levels it falls {-edge.slope:.1%} "
                "toward it",
            )
