"""What each option would leave: thickness of the new concrete, slopes, heights."""

from __future__ import annotations

import math
from collections.abc import Sequence

from analyzer.rate.heights import height_findings_after
from analyzer.rate.hold import UNKNOWN, Known, Scope, hold
from analyzer.rate.levels import house_edges
from analyzer.records import Clearance, Finding, GradePlan
from analyzer.terms import HeightKind, Option

_THICKNESS: dict[Option, tuple[tuple[str, str], ...]] = {
    Option.OVERLAY_BONDED: (("bonded_thickness_min", "min"), ("bonded_thickness_max", "max")),
    Option.OVERLAY_UNBONDED: (("unbonded_thickness_min", "min"),),
    Option.REMOVAL: (("replacement_thickness_min", "min"),),
    Option.PATCH: (),
}


def plan_findings(
    plans: Sequence[GradePlan], clearances: Sequence[Clearance], scope: Scope
) -> tuple[Finding, ...]:
    """Findings on the grade plan of every option.

    A planned slope or a planned new slab is exact: it is what will be set out. The thickness of
    an overlay is uncertain because the old surface below it is.
    """
    findings: list[Finding] = []
    for plan in plans:
        for quantity, which in _THICKNESS[plan.option]:
            if not plan.levels_known:
                known = UNKNOWN
            elif which == "min":
                known = Known(plan.thickness_min_mm, plan.thickness_min_u_mm)
            else:
                known = Known(plan.thickness_max_mm, plan.thickness_max_u_mm)
            if plan.option is Option.REMOVAL:
                known = Known(plan.thickness_min_mm, 0.0)
            findings += hold(
                scope,
                quantity,
                "new concrete",
                scope.about(
                    "least thickness" if which == "min" else "greatest thickness",
                    plan=scope.say.word("option", plan.option),
                ),
                known,
                option=plan.option,
                place_mm=plan.thickness_min_at_mm if which == "min" else None,
            )
        findings += _slopes(plan, scope)
        findings += height_findings_after(plan, clearances, scope)
    return tuple(findings)


def _slopes(plan: GradePlan, scope: Scope) -> list[Finding]:
    findings: list[Finding] = []
    corners = {corner.name: corner for corner in scope.field.outline}
    names = house_edges(scope)
    for edge in scope.field.edges:
        if edge.name not in names or edge.start not in corners or edge.end not in corners:
            continue
        start, end = corners[edge.start], corners[edge.end]
        run = math.hypot(end.x_mm - start.x_mm, end.y_mm - start.y_mm)
        known = UNKNOWN
        planned = next((e for e in plan.edges if e.edge == edge.name), None)
        if planned is not None:
            # A surface of several planes: the least fall of the parts in front of this edge.
            known = Known(planned.slope)
        elif plan.plane is not None and run > 0:
            # The outline runs anticlockwise: the slab lies to the left of each edge.
            inward = (-(end.y_mm - start.y_mm) / run, (end.x_mm - start.x_mm) / run)
            known = Known(-(plan.plane[0] * inward[0] + plan.plane[1] * inward[1]))
        findings += hold(
            scope,
            "slope_from_house",
            f"edge {edge.name}",
            scope.about("slope from house", plan.option, edge=edge.name),
            known,
            option=plan.option,
        )
    if any(entry.kind is HeightKind.DOOR_SILL for entry in scope.field.heights):
        steepest = max((slope for _, slope in plan.landings), default=plan.fall)
        findings += hold(
            scope,
            "landing_slope",
            "slab",
            scope.about("landing", plan.option),
            UNKNOWN if steepest is None else Known(steepest),
            option=plan.option,
        )
    return findings
