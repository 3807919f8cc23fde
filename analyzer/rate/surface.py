"""Surface: worn and hollow shares, depth of loss, disease of the concrete, and what nobody saw."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from analyzer.rate.hold import UNKNOWN, Known, Scope, answered, hold
from analyzer.records import AreaDistress, DistressSummary, Finding, PanelLayout
from analyzer.terms import Answer, Distress, Grade

WORN = (Distress.SCALING, Distress.MAP_CRACKING, Distress.POPOUTS, Distress.SPALLING)
_DEEP = (Distress.SPALLING, Distress.SCALING)


def surface_findings(distress: DistressSummary, layout: PanelLayout, scope: Scope) -> tuple[Finding, ...]:
    """Shares of the slab's area that are worn, hollow or D-cracked; depths; unseen area."""
    slab = scope.field.slab
    findings: list[Finding] = []
    findings += hold(
        scope,
        "worn_fraction",
        "slab",
        scope.about("worn"),
        _share(distress.areas, WORN, layout, complete=scope.walked_over, scope=scope),
    )
    findings += hold(
        scope,
        "hollow_fraction",
        "slab",
        scope.about("hollow"),
        _share(
            distress.areas,
            (Distress.HOLLOW_SOUNDING,),
            layout,
            complete=slab.sounded is Answer.YES,
            scope=scope,
        ),
    )
    d_cracked = _share(
        distress.areas, (Distress.DURABILITY_CRACKING,), layout, complete=scope.walked_over, scope=scope
    )
    if d_cracked.value is not None and not any(
        area.kind is Distress.DURABILITY_CRACKING for area in distress.areas
    ):
        d_cracked = Known(0.0, 0.0, Grade.REPORTED)  # a disease is seen or it is not: no overlooked share
    findings += hold(scope, "d_cracking_fraction", "slab", scope.about("d-cracked"), d_cracked)
    findings += _corners(distress.areas, scope)
    findings += _depths(distress.areas, scope)
    mapped = any(area.kind is Distress.MAP_CRACKING for area in distress.areas)
    if mapped or slab.white_deposits is Answer.YES:
        findings += hold(
            scope,
            "reaction_signs",
            "slab",
            scope.about("deposits"),
            answered(slab.white_deposits),
        )
    findings += hold(scope, "unseen_fraction", "slab", scope.about("unseen"), _unseen(distress, scope))
    return tuple(findings)


def _share(
    areas: Sequence[AreaDistress],
    kinds: Iterable[Distress],
    layout: PanelLayout,
    *,
    complete: bool,
    scope: Scope,
) -> Known:
    """Share of the slab's area that has one of these; overlaps count once per panel at most.

    Without any entry a complete look may still have overlooked a little; an incomplete one
    proves nothing. An entry without an area makes the sum a lower bound.
    """
    total = sum(panel.area_mm2 for panel in layout.panels)
    listed = [area for area in areas if area.kind in set(kinds)]
    if not total > 0.0:
        return UNKNOWN
    if not listed:
        if not complete:
            return UNKNOWN
        # None seen: a little may have been overlooked, rectangular from 0 to that.
        return Known(0.0, scope.limits.overlooked_fraction / 3.0**0.5, Grade.REPORTED)
    sized = [area for area in listed if area.area_mm2 is not None]
    if not sized:
        return UNKNOWN
    panel_area = {panel.panel_id: panel.area_mm2 for panel in layout.panels}
    by_panel: dict[str | None, float] = defaultdict(float)
    variance = 0.0
    for area in sized:
        by_panel[area.panel_id] += area.area_mm2 or 0.0
        variance += (area.area_u_mm2 or 0.0) ** 2
    covered = sum(
        min(sum_mm2, panel_area.get(panel_id or "", total)) for panel_id, sum_mm2 in by_panel.items()
    )
    grade = Grade.REPORTED if any(area.grade is Grade.REPORTED for area in sized) else Grade.MEASURED
    return Known(
        min(1.0, covered / total),
        variance**0.5 / total,
        grade,
        at_least=len(sized) < len(listed) or not complete,
    )


def _corners(areas: Sequence[AreaDistress], scope: Scope) -> list[Finding]:
    """Each corner that was written down as broken off, also where no crack was drawn round it."""
    findings: list[Finding] = []
    for number, area in enumerate(areas, start=1):
        if area.kind is Distress.CORNER_BREAK:
            where = " in panel" if area.panel_id else ""
            findings += hold(
                scope,
                "corner_breaks",
                f"{area.kind} {number}",
                scope.about(f"corner gone{where}", panel=area.panel_id),
                Known(1.0, 0.0, area.grade),
            )
    return findings


def _depths(areas: Sequence[AreaDistress], scope: Scope) -> list[Finding]:
    """Depth of each spall or scaled area, and its share of the slab's thickness."""
    findings: list[Finding] = []
    thickness = scope.field.slab.thickness
    for number, area in enumerate(areas, start=1):
        if area.kind not in _DEEP or area.depth_mm is None:
            continue
        subject = f"{area.kind} {number}"
        where = " in panel" if area.panel_id else ""
        kind, panel = scope.say.word("distress", area.kind), area.panel_id
        depth_u = area.depth_u_mm if area.depth_u_mm is not None else scope.reading_u_mm
        if area.kind is Distress.SCALING:
            findings += hold(
                scope,
                "scaling_depth",
                subject,
                scope.about(f"depth{where}", kind=kind, panel=panel),
                Known(area.depth_mm, depth_u, area.grade),
            )
        share = UNKNOWN
        if thickness is not None and thickness.mm > 0:
            value = area.depth_mm / thickness.mm
            thickness_u = thickness.u_mm if thickness.u_mm is not None else scope.reading_u_mm
            u = ((depth_u / thickness.mm) ** 2 + (value * thickness_u / thickness.mm) ** 2) ** 0.5
            share = Known(value, u, area.grade)
        findings += hold(
            scope,
            "depth_fraction",
            subject,
            scope.about(f"depth share{where}", kind=kind, panel=panel),
            share,
        )
    return findings


def _unseen(distress: DistressSummary, scope: Scope) -> Known:
    """Share that neither a photo nor a person saw. A walk-over sees all of it, by report."""
    if scope.walked_over:
        return Known(0.0, 0.0, Grade.REPORTED)
    if distress.unseen_fraction is None:
        return UNKNOWN
    return Known(distress.unseen_fraction)
