"""Panels: pieces and shattered-slab classes, settlement, joint spacing and proportions."""

from __future__ import annotations

from collections.abc import Sequence

from analyzer.rate.cracks import representative_width
from analyzer.rate.hold import UNKNOWN, Known, Scope, hold
from analyzer.rate.limits import LimitTable
from analyzer.records import CrackSize, DistressSummary, Finding, LevelMap, PanelLayout
from analyzer.terms import Answer, Distress, Grade, Severity
from analyzer.units import Reading, from_mm

_FRAGMENTS = 4
_MAPPED = 0.10
_WORKING_MM = 3.0


def shattered_level(pieces: int, share_low: float, share_medium: float, share_high: float) -> int:
    """Shattered-slab class of UFC 3-270-05 (15 Mar 2001) ch. 14: 0 none, 1 low, 2 medium, 3 high.

    Parameters
    ----------
    pieces : int
        Pieces that cracks break the panel into.
    share_low, share_medium, share_high : float
        Parts of the crack length at each level; together 1.

    Raises
    ------
    ValueError
        Fewer than one piece, or shares that do not add up to 1.
    """
    if pieces < 1 or abs(share_low + share_medium + share_high - 1.0) > 1e-6:
        raise ValueError(f"{pieces} pieces, shares {share_low}, {share_medium}, {share_high}")
    if pieces < 4:
        return 0
    if pieces <= 5:
        if share_high > 0.0:
            return 3
        return 2 if share_medium > 0.15 else 1
    return 3 if share_medium + share_high > 0.15 else 2


def airfield_severity(width_mm: float, limits: LimitTable) -> Severity:
    """Level of one crack on the scale that the shattered-slab classes use (UFC 3-270-05 ch. 5)."""
    level = Severity.LOW
    for limit in limits.on("crack_width_airfield"):
        width = from_mm(width_mm, limit.unit)
        if width > limit.value or (limit.comparator == ">=" and width == limit.value):
            level = limit.severity
    return level


def panel_findings(
    distress: DistressSummary, layout: PanelLayout, levels: LevelMap | None, scope: Scope
) -> tuple[Finding, ...]:
    """Pieces, class and settlement of each panel; one unknown for the slab where there are no panels."""
    findings: list[Finding] = []
    pieces = dict(distress.pieces_by_panel)
    settled = {panel.panel_id: panel for panel in levels.panels} if levels else {}
    panel_ids = [panel.panel_id for panel in layout.panels]
    for panel_id in panel_ids or ["slab"]:
        aside = ""
        count = pieces.get(panel_id)
        if count is not None and count >= _FRAGMENTS and _only_mapped(distress, layout, panel_id, scope):
            count, aside = 1, " apart from map"
        # A panel without any crack was either looked at (photo or walk-over) or not: observe says
        # None in the second case, so a missing entry is never read as one piece.
        known = UNKNOWN if count is None else Known(float(count), 0.0, _grade(distress.cracks, panel_id))
        findings += hold(
            scope, "pieces", panel_id, _about(scope, "pieces", panel_ids, panel_id, aside), known
        )
        if count is not None and count >= 4:
            shares = _shares(distress.cracks, panel_id, scope.limits)
            level = UNKNOWN if shares is None else Known(float(shattered_level(count, *shares)))
            findings += hold(
                scope, "shattered_level", panel_id, scope.about("shattered", panel=panel_id), level
            )
        if len(panel_ids) == 1:
            continue  # one panel has no others to lie below
        place = settled.get(panel_id)
        if place is None:
            height = UNKNOWN
        elif place.lowest_mm is not None and abs(place.lowest_mm) > abs(place.settlement_mm):
            height = Known(abs(place.lowest_mm), place.lowest_u_mm or place.settlement_u_mm)
        else:
            height = Known(abs(place.settlement_mm), place.settlement_u_mm)
        raised = place is not None and place.settlement_mm < 0
        findings += hold(
            scope,
            "settlement",
            panel_id,
            _about(scope, "above plane" if raised else "below plane", panel_ids, panel_id, aside),
            height,
        )
    return tuple(findings)


def _about(scope: Scope, key: str, panel_ids: Sequence[str], panel_id: str, aside: str) -> str:
    """What is told of a panel, or of the slab where no panels are known."""
    return scope.about(f"{key}{aside}", panel=panel_id) if panel_ids else scope.about(f"slab {key}")


def joint_findings(layout: PanelLayout, thickness: Reading | None, scope: Scope) -> tuple[Finding, ...]:
    """Joint spacing against 15 ft and 36 times the thickness, and proportions of each panel."""
    findings: list[Finding] = []
    if layout.spacing_mm:
        widest = max(layout.spacing_mm)
        findings += hold(
            scope, "joint_spacing", "joints", scope.about("joint spacing"), Known(widest, layout.spacing_u_mm)
        )
        ratio = UNKNOWN
        if thickness is not None and thickness.mm > 0:
            value = widest / thickness.mm
            thickness_u = thickness.u_mm if thickness.u_mm is not None else scope.reading_u_mm
            u = value * ((layout.spacing_u_mm / widest) ** 2 + (thickness_u / thickness.mm) ** 2) ** 0.5
            ratio = Known(value, u)
        findings += hold(scope, "joint_spacing_ratio", "joints", scope.about("joint spacing"), ratio)
    for panel in layout.panels:
        aspect = panel.aspect
        u = aspect * panel.side_u_mm * (panel.length_mm**-2 + panel.width_mm**-2) ** 0.5
        findings += hold(
            scope,
            "panel_aspect",
            panel.panel_id,
            scope.about("aspect", panel=panel.panel_id),
            Known(aspect, u),
        )
    return tuple(findings)


def _shares(
    cracks: Sequence[CrackSize], panel_id: str, limits: LimitTable
) -> tuple[float, float, float] | None:
    """Parts of the panel's crack length at low, medium and high; None where a width is unknown."""
    lengths = dict.fromkeys((Severity.LOW, Severity.MODERATE, Severity.HIGH), 0.0)
    for crack in cracks:
        if panel_id not in crack.panels or crack.distress is Distress.MAP_CRACKING:
            continue
        width = representative_width(crack)
        if width.value is None:
            return None
        # Without a length the cracks of a panel count alike.
        lengths[airfield_severity(width.value, limits)] += crack.length_mm or 1.0
    total = sum(lengths.values())
    if total == 0.0:
        return None
    return (
        lengths[Severity.LOW] / total,
        lengths[Severity.MODERATE] / total,
        lengths[Severity.HIGH] / total,
    )


def _only_mapped(distress: DistressSummary, layout: PanelLayout, panel_id: str, scope: Scope) -> bool:
    """Whether the pieces are those of a pattern in the surface and not of the panel.

    Map cracking is of the upper surface only (FHWA-HRT-13-092 ch. 2, from memory). Somebody who
    walked the slab over has to have called it so, over a tenth of the panel or more, and nothing
    beside it may say otherwise: no crack known to go through or gauged at 3 mm, no step, no rocking.
    """
    area = sum(panel.area_mm2 for panel in layout.panels if panel.panel_id == panel_id)
    mapped = sum(
        one.area_mm2 or 0.0
        for one in distress.areas
        if one.kind is Distress.MAP_CRACKING and one.panel_id == panel_id and one.source == "typed"
    )
    own = [crack for crack in distress.cracks if panel_id in crack.panels]
    broken = any(
        crack.through is Answer.YES
        or (crack.width_source == "gauge" and (crack.width_max_mm or 0.0) >= _WORKING_MM)
        for crack in own
    )
    stepped = any(panel_id in fault.panels for fault in distress.faults)
    rocks = panel_id in (distress.rocking_panels or ())
    return scope.walked_over and mapped >= _MAPPED * area > 0.0 and not (broken or stepped or rocks)


def _grade(cracks: Sequence[CrackSize], panel_id: str) -> Grade:
    grades = {crack.grade for crack in cracks if panel_id in crack.panels}
    return Grade.REPORTED if Grade.REPORTED in grades else Grade.MEASURED
