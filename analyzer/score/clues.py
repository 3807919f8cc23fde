"""Clues to causes: what findings, answers and the pattern of cracks say, each true, false or open."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from analyzer.records import (
    Corner,
    CrackSize,
    DistressSummary,
    FieldBook,
    Finding,
    LevelMap,
    PanelLayout,
    PointMm,
)
from analyzer.terms import Abuts, Answer, Distress, Use, Verdict

_NEAR_MM = 600.0
_YEARS = 5.0
_LOW = "TOL-ELEVATION"
_WIDTHS = ("LTPP-JCP-TRANSVERSE.width-moderate", "LTPP-JCP-LONGITUDINAL.width-moderate")
_STEPS = (
    "ADA-303-2",
    "FHWA-FDR-TABLE1.transverse-crack",
    "FHWA-FDR-TABLE1.longitudinal-crack",
    "FHWA-FDR-TABLE1.joint",
)


@dataclass(frozen=True, slots=True)
class Clue:
    """One clue of the table: by ``limits`` and ``state``, by ``answer``, or by ``pattern``."""

    id: str
    says: str
    limits: tuple[str, ...] = ()
    state: str = ""
    answer: str = ""
    is_: str = ""
    pattern: str = ""


@dataclass(frozen=True, slots=True)
class Seen:
    """What became of a clue: ``holds`` True, False or None (open), and what it rests on."""

    holds: bool | None
    count: int = 1
    finding_ids: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything that clues look at."""

    findings: tuple[Finding, ...]
    field: FieldBook
    distress: DistressSummary
    layout: PanelLayout
    levels: LevelMap | None

    def now(self, limits: Sequence[str]) -> tuple[Finding, ...]:
        """Findings on these limits for the slab as it is."""
        return tuple(f for f in self.findings if f.option is None and f.limit.limit_id in limits)


def look(clue: Clue, scene: Scene) -> Seen:
    """Whether a clue holds. A clue whose reading is missing is open: it speaks neither way."""
    if clue.limits:
        return _by_limits(clue, scene)
    if clue.answer:
        part, name = clue.answer.split(".")
        answer: Answer = getattr(getattr(scene.field, part), name)
        return Seen(None if answer is Answer.UNKNOWN else answer == clue.is_)
    return PATTERNS[clue.pattern](scene)


def _by_limits(clue: Clue, scene: Scene) -> Seen:
    found = scene.now(clue.limits)
    over = tuple(f.finding_id for f in found if f.verdict is Verdict.EXCEEDS)
    all_within = bool(found) and all(f.verdict is Verdict.WITHIN for f in found)
    if clue.state == "exceeds":
        holds = True if over else (False if all_within else None)
        return Seen(holds, len(over), over)
    holds = True if all_within else (False if over else None)
    return Seen(holds, len(found), tuple(f.finding_id for f in found))


def _fine_cracks_only(scene: Scene) -> Seen:
    widths, steps = scene.now(_WIDTHS), scene.now(_STEPS)
    if not widths:
        return Seen(False)
    if any(f.verdict is Verdict.EXCEEDS for f in widths + steps):
        return Seen(False)
    fine = all(f.verdict is Verdict.WITHIN for f in widths + steps)
    return Seen(True if fine else None, len(widths), tuple(f.finding_id for f in widths))


def _off_panels(scene: Scene, low: bool) -> tuple[Finding, ...]:
    """Findings of panels that are surely too low (or too high)."""
    if scene.levels is None:
        return ()
    sign = {panel.panel_id: panel.settlement_mm for panel in scene.levels.panels}
    return tuple(
        f
        for f in scene.now((_LOW,))
        if f.verdict is Verdict.EXCEEDS and (sign.get(f.subject, 0.0) > 0) == low
    )


def _raised_panel(scene: Scene) -> Seen:
    if scene.levels is None:
        return Seen(None)
    high = _off_panels(scene, low=False)
    return Seen(bool(high), len(high), tuple(f.finding_id for f in high))


def _corner_panel_low(scene: Scene) -> Seen:
    corners = [(corner.x_mm, corner.y_mm) for corner in scene.field.outline]
    return _low_near(scene, lambda outline: any(_touches(outline, corner) for corner in corners))


def _low_at_the_house(scene: Scene) -> Seen:
    corners = {corner.name: corner for corner in scene.field.outline}
    edges = [
        (corners[edge.start], corners[edge.end])
        for edge in scene.field.edges
        if edge.abuts is Abuts.HOUSE and edge.start in corners and edge.end in corners
    ]
    return _low_near(
        scene,
        lambda outline: any(_to_edge(point, edge) <= _NEAR_MM / 2 for edge in edges for point in outline),
    )


def _low_near(scene: Scene, near: Callable[[Sequence[PointMm]], bool]) -> Seen:
    if scene.levels is None:
        return Seen(None)
    outlines = {panel.panel_id: panel.outline_mm for panel in scene.layout.panels}
    low = [f for f in _off_panels(scene, low=True) if f.subject in outlines and near(outlines[f.subject])]
    return Seen(bool(low), len(low), tuple(f.finding_id for f in low))


def _crack_at_an_inside_corner(scene: Scene) -> Seen:
    inside = inside_corners(scene.field.outline)
    if not inside:
        return Seen(False)
    drawn = [crack for crack in scene.distress.cracks if crack.branches]
    at = [crack for crack in drawn if any(_near(crack, corner) for corner in inside)]
    if not at and len(drawn) < len(scene.distress.cracks):
        return Seen(None)
    ids = {crack.crack_id for crack in at}
    return Seen(bool(at), len(at), tuple(f.finding_id for f in scene.now(_WIDTHS) if f.subject in ids))


def inside_corners(outline: Sequence[Corner]) -> tuple[PointMm, ...]:
    """Corners of an anticlockwise outline where the slab reaches round more than 180 degrees."""
    found = []
    for index, corner in enumerate(outline):
        before, after = outline[index - 1], outline[(index + 1) % len(outline)]
        turn = (corner.x_mm - before.x_mm) * (after.y_mm - corner.y_mm) - (corner.y_mm - before.y_mm) * (
            after.x_mm - corner.x_mm
        )
        if turn < 0:
            found.append((corner.x_mm, corner.y_mm))
    return tuple(found)


def _area_of(kind: Distress) -> Callable[[Scene], Seen]:
    def count(scene: Scene) -> Seen:
        number = sum(1 for area in scene.distress.areas if area.kind is kind and area.area_mm2 != 0.0)
        unseen = scene.field.slab.walked_over is not Answer.YES
        return Seen(True if number else (None if unseen else False), number)

    return count


def _wheels(scene: Scene) -> Seen:
    use = scene.field.site.use
    return Seen(None if use is None else use in (Use.CAR, Use.TRUCK))


def _no_wheels(scene: Scene) -> Seen:
    use = scene.field.site.use
    return Seen(None if use is None else use is Use.FOOT)


def _old_slab(scene: Scene) -> Seen:
    age = scene.field.slab.age_years
    return Seen(None if age is None else age >= _YEARS, int(age or 0))


PATTERNS: dict[str, Callable[[Scene], Seen]] = {
    "fine cracks only": _fine_cracks_only,
    "raised panel": _raised_panel,
    "corner panel low": _corner_panel_low,
    "low at the house": _low_at_the_house,
    "crack at an inside corner": _crack_at_an_inside_corner,
    "map cracking": _area_of(Distress.MAP_CRACKING),
    "popouts": _area_of(Distress.POPOUTS),
    "wheels": _wheels,
    "no wheels": _no_wheels,
    "old slab": _old_slab,
}


def _touches(outline: Sequence[PointMm], corner: PointMm) -> bool:
    return any(math.dist(point, corner) <= _NEAR_MM / 2 for point in outline)


def _near(crack: CrackSize, corner: PointMm) -> bool:
    ends = [point for branch in crack.branches for point in (branch.points_mm[0], branch.points_mm[-1])]
    return any(math.dist(point, corner) <= _NEAR_MM for point in ends)


def _to_edge(point: PointMm, edge: tuple[Corner, Corner]) -> float:
    (ax, ay), (bx, by) = ((corner.x_mm, corner.y_mm) for corner in edge)
    length2 = (bx - ax) ** 2 + (by - ay) ** 2
    along = 0.0 if length2 == 0 else ((point[0] - ax) * (bx - ax) + (point[1] - ay) * (by - ay)) / length2
    along = min(1.0, max(0.0, along))
    return math.dist(point, (ax + along * (bx - ax), ay + along * (by - ay)))
