"""The old surface: slope away from the house, fall, ponding, flatness, slope at door landings."""

from __future__ import annotations

from analyzer import units
from analyzer.rate.hold import UNKNOWN, Known, Scope, answered, below, hold
from analyzer.records import Finding, LevelMap
from analyzer.terms import Abuts, Answer, Grade, HeightKind

_STRAIGHTEDGE_FT = 10.0
_SLACK = 1e-6


def level_findings(levels: LevelMap | None, scope: Scope) -> tuple[Finding, ...]:
    """Slopes, ponding and straightedge gaps of the slab as it lies now."""
    field = scope.field
    findings: list[Finding] = []
    measured = {edge.edge: edge for edge in levels.edges} if levels else {}
    for name in house_edges(scope):
        edge = measured.get(name)
        findings += hold(
            scope,
            "slope_from_house",
            f"edge {name}",
            scope.about("slope from house", edge=name),
            UNKNOWN if edge is None else Known(edge.slope, edge.slope_u),
        )
    if house_unsaid(scope):
        findings += hold(
            scope,
            "slope_from_house",
            "edges",
            scope.about("slope unsaid"),
            UNKNOWN,
        )
    fall = UNKNOWN if levels is None else Known(levels.fall, levels.fall_u)
    findings += hold(scope, "fall", "slab", scope.about("fall"), fall)
    if any(entry.kind is HeightKind.DOOR_SILL for entry in field.heights):
        findings += hold(scope, "landing_slope", "slab", scope.about("landing"), fall)
    findings += hold(scope, "ponding_depth", "slab", scope.about("pond"), _pond(levels, scope))
    findings += hold(
        scope, "ponding_seen", "slab", scope.about("pond seen"), answered(field.slab.ponding_seen)
    )
    findings += hold(
        scope,
        "drains_toward_house",
        "slab",
        scope.about("to house"),
        answered(field.slab.drains_toward_house),
    )
    findings += hold(scope, "straightedge_gap", "slab", scope.about("straightedge"), _gap(levels, scope))
    return tuple(findings)


def house_edges(scope: Scope) -> tuple[str, ...]:
    """Names of the outline edges that lie against the house."""
    return tuple(edge.name for edge in scope.field.edges if edge.abuts is Abuts.HOUSE)


def house_unsaid(scope: Scope) -> bool:
    """Whether the house may lie at an edge that the field book does not describe."""
    field = scope.field
    if house_edges(scope):
        return False
    described = [edge for edge in field.edges if edge.abuts is not Abuts.UNKNOWN]
    return len(described) < len(field.outline)


def _pond(levels: LevelMap | None, scope: Scope) -> Known:
    """The deepest puddle: from the levels, or as seen. What is deeper counts."""
    slab = scope.field.slab
    candidates: list[Known] = []
    if levels is not None:
        deepest = max(levels.ponds, key=lambda pond: pond.depth_mm, default=None)
        if deepest is not None:
            candidates.append(Known(deepest.depth_mm, deepest.depth_u_mm))
        elif slab.ponding_seen is not Answer.YES:
            # No hollow between the stations: one shallower than the stations' own uncertainty can hide.
            largest_u = max((station.z_u_mm for station in levels.stations), default=scope.reading_u_mm)
            candidates.append(below(max(largest_u, _SLACK)))
    if slab.ponding_depth is not None:
        reading = slab.ponding_depth
        u = reading.u_mm if reading.u_mm is not None else scope.reading_u_mm
        candidates.append(Known(reading.mm, u))
    elif slab.ponding_seen is Answer.NO and not candidates:
        candidates.append(below(scope.limits.overlooked_step_in * units.MM_PER_IN, Grade.REPORTED))
    return max(candidates, key=lambda known: known.value or 0.0, default=UNKNOWN)


def _gap(levels: LevelMap | None, scope: Scope) -> Known:
    """The largest gap: computed from the levels or read. A shorter rule can only miss a gap."""
    candidates: list[Known] = []
    if levels is not None and levels.straightedge_gap_mm is not None:
        candidates.append(
            Known(levels.straightedge_gap_mm, levels.straightedge_gap_u_mm or scope.reading_u_mm)
        )
    long_mm = _STRAIGHTEDGE_FT * units.MM_PER_FT
    for entry in scope.field.gaps:
        u = entry.gap.u_mm if entry.gap.u_mm is not None else scope.reading_u_mm
        short = entry.straightedge.mm < long_mm - 1.0
        candidates.append(Known(entry.gap.mm, u, at_least=short))
    return max(candidates, key=lambda known: known.value or 0.0, default=UNKNOWN)
