"""All findings of a job: everything measured, reported or missing, held against the cited limits."""

from __future__ import annotations

from collections.abc import Sequence

from analyzer.errors import RecordError
from analyzer.phrase_tables import ENGLISH, load_phrases
from analyzer.rate.activity import activity_findings
from analyzer.rate.cracks import crack_findings, fault_findings
from analyzer.rate.grades import plan_findings
from analyzer.rate.heights import height_findings
from analyzer.rate.hold import PHRASES, Known, Scope, hold
from analyzer.rate.levels import level_findings
from analyzer.rate.limits import LimitTable
from analyzer.rate.panels import joint_findings, panel_findings
from analyzer.rate.surface import surface_findings
from analyzer.records import (
    Clearance,
    DistressSummary,
    FieldBook,
    Finding,
    GradePlan,
    LevelMap,
    PanelLayout,
)


def compare(
    distress: DistressSummary,
    layout: PanelLayout,
    levels: LevelMap | None,
    clearances: Sequence[Clearance],
    plans: Sequence[GradePlan],
    field: FieldBook,
    limits: LimitTable,
    language: str = ENGLISH,
) -> tuple[Finding, ...]:
    """Hold a job against the limits.

    Every quantity that a limit speaks of gives a finding, also when nobody measured it: then
    without value, verdict *not determined*. Values are compared in the source's own unit.

    Parameters
    ----------
    distress : DistressSummary
        Cracks, areas and steps, photo and field book joined.
    layout : PanelLayout
        Panels and joints; (0,) panels leave the shares unknown.
    levels : LevelMap or None
        None = nobody levelled the slab.
    clearances : sequence of Clearance
        Heights beside the slab, over its old surface.
    plans : sequence of GradePlan
        What each option would leave; none, one or several.
    field : FieldBook
        For the answers on use and movement.
    limits : LimitTable
        From :func:`load_limits`.
    language : str
        Of the statements; everything else is the same in each.

    Returns
    -------
    tuple of Finding
        In the order of the trade: cracks, steps, panels, joints, surface, levels, heights, movement,
        then the plans. Ids are unique: ``limit@subject`` and ``/option`` for what an option leaves.

    Raises
    ------
    RecordError
        Two findings got the same id, because two cracks or heights bear the same name.
    """
    scope = Scope(limits, field, load_phrases(PHRASES, language))
    findings: list[Finding] = []
    findings += crack_findings(distress, scope)
    findings += fault_findings(distress, scope)
    findings += panel_findings(distress, layout, levels, scope)
    findings += joint_findings(layout, field.slab.thickness, scope)
    if field.slab.thickness is not None:
        reading = field.slab.thickness
        u = reading.u_mm if reading.u_mm is not None else scope.reading_u_mm
        findings += hold(scope, "old_thickness", "slab", scope.about("old thickness"), Known(reading.mm, u))
    findings += surface_findings(distress, layout, scope)
    findings += level_findings(levels, scope)
    findings += height_findings(clearances, scope)
    findings += activity_findings(distress, scope)
    findings += plan_findings(plans, clearances, scope)
    seen: set[str] = set()
    for finding in findings:
        if finding.finding_id in seen:
            raise RecordError(
                f"finding {finding.finding_id}",
                "appears twice",
                "give each crack, joint and height its own name",
            )
        seen.add(finding.finding_id)
    return tuple(findings)
