"""How many pieces cracks break each panel into."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from analyzer.observe.readings import ReadingRules
from analyzer.records import CrackSize, FieldBook, Panel
from analyzer.terms import Answer, Distress

_SEEN = 0.95
_IN_AREA = 0.8


def count_pieces(
    panel: Panel,
    cracks: tuple[CrackSize, ...],
    field: FieldBook,
    unseen_fraction: float | None,
    rules: ReadingRules,
) -> int | None:
    """Pieces that cracks break a panel into; None where photos and a walk-over leave it open.

    Map cracking goes only into the upper surface (LTPP manual, from memory) and breaks nothing:
    neither what was measured as such, nor untyped lines inside an area that was typed as such.
    """
    polygon = shapely.Polygon(panel.outline_mm)
    surface = _map_cracked(panel, field)
    typed = {entry.name for entry in field.cracks}
    own = [
        c
        for c in cracks
        if panel.panel_id in c.panels
        and c.along_joint is None
        and c.distress is not Distress.MAP_CRACKING
        and (c.crack_id in typed or not _mostly_in(c, surface))
    ]
    drawn = [crack_lines(c) for c in own]
    extra = sum(
        1 for c, line in zip(own, drawn, strict=True) if line is None and c.splits_panel is Answer.YES
    )
    if any(
        line is None and c.splits_panel is Answer.UNKNOWN and c.distress is not Distress.SHRINKAGE_CRACK
        for c, line in zip(own, drawn, strict=True)
    ):
        return None
    looked = field.slab.walked_over is Answer.YES or (
        unseen_fraction is not None and panel.seen_fraction is not None and panel.seen_fraction >= _SEEN
    )
    pieces = _split(polygon, [line for line in drawn if line is not None], rules.on_joint_mm)
    if pieces + extra == 1 and not looked:
        return None
    return pieces + extra


def _map_cracked(panel: Panel, field: FieldBook) -> BaseGeometry:
    """What was typed as map cracking: outlines, or the whole panel that an entry names."""
    areas = [
        shapely.Polygon(a.outline_mm if len(a.outline_mm) >= 3 else panel.outline_mm)
        for a in field.areas
        if a.kind is Distress.MAP_CRACKING and (len(a.outline_mm) >= 3 or a.panel == panel.panel_id)
    ]
    return shapely.union_all(areas)


def _mostly_in(crack: CrackSize, area: BaseGeometry) -> bool:
    lines = crack_lines(crack)
    if lines is None or area.is_empty:
        return False
    return bool(lines.intersection(area).length > _IN_AREA * lines.length)


def _split(polygon: BaseGeometry, lines: list[BaseGeometry], reach_mm: float) -> int:
    """Count the parts of a panel between crack lines, each line lengthened by ``reach_mm`` at its ends."""
    if not lines:
        return 1
    cuts = [_lengthened(part, reach_mm) for line in lines for part in shapely.get_parts(line)]
    network = shapely.union_all([*cuts, polygon.boundary])
    parts = shapely.get_parts(shapely.polygonize([network]))
    inside = [p for p in parts if polygon.covers(p.representative_point()) and p.area > reach_mm**2]
    return max(1, len(inside))


def _lengthened(line: BaseGeometry, reach_mm: float) -> BaseGeometry:
    xy = np.asarray(line.coords)
    start, end = xy[0] - xy[min(3, len(xy) - 1)], xy[-1] - xy[-min(4, len(xy))]
    first = xy[0] + start / max(np.linalg.norm(start), 1e-9) * reach_mm
    last = xy[-1] + end / max(np.linalg.norm(end), 1e-9) * reach_mm
    return shapely.LineString(np.vstack([first, xy, last]))


def crack_lines(crack: CrackSize) -> BaseGeometry | None:
    """The branches of a crack as lines in plan; None where it has no place."""
    parts = [shapely.LineString(b.points_mm) for b in crack.branches if len(b.points_mm) >= 2]
    return shapely.MultiLineString(parts) if parts else None
