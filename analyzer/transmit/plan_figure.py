"""The slab from above with what was found on it, as SVG."""

from __future__ import annotations

from analyzer.records import JobRecord
from analyzer.transmit import ink
from analyzer.transmit.plan_sheet import PlanSheet

_UNTOUCHED = {"keep", "leave"}


def plan_svg(record: JobRecord) -> str:
    """SVG of the slab: panels, joints (dashed), cracks (solid), neighbours, stations, scale bar."""
    sheet = PlanSheet(record)
    marked = frozenset(a.panel_id for a in record.ranking.panel_actions if a.action not in _UNTOUCHED)
    sheet.panels(marked if len(marked) < len(record.layout.panels) else frozenset())
    sheet.neighbours()
    sheet.outline()
    sheet.joints()
    for pond in record.levels.ponds if record.levels else ():
        sheet.polygon(pond.outline_mm, ink.WATER, ink.WATER_EDGE, 1.5)
    for crack in record.distress.cracks:
        for branch in crack.branches:
            sheet.polyline(branch.points_mm, ink.CRACK, 2.4 * ink.crack_weight(crack))
    for area in record.survey.map_areas:
        sheet.polygon(area.outline_mm, "none", ink.CRACK, 1.5, "3 5")
    sheet.corner_names()
    many = {name for area in record.survey.map_areas for name in area.crack_ids}
    for panel in record.layout.panels:
        x = sum(p[0] for p in panel.outline_mm) / len(panel.outline_mm)
        y = sum(p[1] for p in panel.outline_mm) / len(panel.outline_mm)
        sheet.label((x, y), panel.panel_id, ink.OUTLINE, leader=False)
    for crack in record.distress.cracks:
        middle = ink.longest_branch_middle(b.points_mm for b in crack.branches)
        if middle and crack.crack_id not in many:
            sheet.label(middle, ink.crack_label(crack, sheet.system), ink.CRACK)
    for clearance in record.clearances:
        sheet.height_mark(clearance)
    if record.levels:
        for station in record.levels.stations:
            sheet.dot((station.x_mm, station.y_mm), ink.STATION)
    return sheet.finish("Plan of the slab with panels, joints, cracks and level stations")
