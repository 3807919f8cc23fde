"""An invented slab for tests: six sound panels behind a parish hall, every question answered.

Tests change one thing at a time and look at what follows. Nothing here is a real place.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field, replace
from typing import Any

from analyzer import rate, score
from analyzer.records import (
    AreaDistress,
    Clearance,
    ClearanceAfter,
    Corner,
    CrackSize,
    DistressSummary,
    EdgeEntry,
    EdgeSlope,
    Fault,
    FieldBook,
    Finding,
    GradePlan,
    HeightEntry,
    JobHead,
    LevelMap,
    Panel,
    PanelLayout,
    PanelLevel,
    Ranking,
    SiteUse,
    SlabFacts,
    StopAnswers,
)
from analyzer.terms import Abuts, Answer, Distress, Grade, HeightKind, Option, Support, Use
from analyzer.units import MM_PER_IN, Reading

NO, YES, UNKNOWN = Answer.NO, Answer.YES, Answer.UNKNOWN
SIDE = 3000.0
COLUMNS, ROWS = 3, 2
PANEL_IDS = tuple(f"P{i + 1}" for i in range(COLUMNS * ROWS))
RAISED = {Option.OVERLAY_BONDED: 55.0, Option.OVERLAY_UNBONDED: 106.0, Option.REMOVAL: 0.0}
_LIMITS = rate.load_limits()
_RULES = score.load_options()

_SITE = SiteUse(Use.FOOT, NO, NO, NO)
_FACTS = SlabFacts(
    thickness=Reading(100.0, 2.0, "100 mm"),
    age_years=20,
    pours_of_different_dates=NO,
    reinforced=NO,
    seasonal_movement=NO,
    still_moving=NO,
    rocking_panels=(),
    ponding_seen=NO,
    drains_toward_house=NO,
    coating=NO,
    tree_roots=NO,
    expansive_ground=NO,
    rust_stains=NO,
    sounded=YES,
    walked_over=YES,
    heights_listed=YES,
    white_deposits=NO,
)


def inches(value: float, u: float = 1 / 32) -> Reading:
    """A typed reading in inches with a standard uncertainty in inches."""
    return Reading(value * MM_PER_IN, u * MM_PER_IN, f"{value} in")


def answers(**changed: Answer) -> StopAnswers:
    """All stops answered with no, except those given."""
    stops = dict.fromkeys(
        (
            "suspended",
            "post_tension",
            "void_below",
            "carries_posts",
            "carries_walls",
            "heating_tubes",
            "foundation_movement",
            "retaining_wall_movement",
        ),
        NO,
    )
    return StopAnswers(**{**stops, **changed})


def crack(name: str, panel: str, width_mm: float | None, **changed: Any) -> CrackSize:
    """A crack across one panel, its width read with a gauge (u = 0.05 mm)."""
    base = CrackSize(
        crack_id=name,
        panels=(panel,),
        distress=Distress.TRANSVERSE_CRACKING,
        length_mm=SIDE,
        length_u_mm=10.0,
        width_mean_mm=None,
        width_mean_u_mm=None,
        width_max_mm=width_mm,
        width_max_u_mm=None if width_mm is None else 0.05,
        width_upper_mm=None,
        direction_deg=0.0,
        splits_panel=YES,
        corner_cut=None,
        branches=(),
        probability=1.0,
        grade=Grade.MEASURED,
        width_source="gauge",
        moving=NO,
    )
    return replace(base, **changed)


def area(kind: Distress, share_of_slab: float, panel: str | None = None, **changed: Any) -> AreaDistress:
    """Area distress over a share of the slab, u = 2 % of itself."""
    size = share_of_slab * SIDE * SIDE * COLUMNS * ROWS
    return replace(
        AreaDistress(kind, panel, size, 0.02 * size, None, None, Grade.MEASURED, "typed"), **changed
    )


def clearance(kind: HeightKind, name: str, height_in: float | None, **changed: Any) -> Clearance:
    """A height over the slab in inches, u = 1/32 in."""
    height = None if height_in is None else height_in * MM_PER_IN
    u = None if height_in is None else MM_PER_IN / 32
    return replace(Clearance(kind, name, (SIDE, ROWS * SIDE), height, u), **changed)


@dataclass
class Slab:
    """Everything that stages rate and score take, to be changed and judged."""

    site: SiteUse = _SITE
    stops: StopAnswers = field(default_factory=answers)
    facts: SlabFacts = _FACTS
    edges: tuple[EdgeEntry, ...] = (
        EdgeEntry("A", "B", Abuts.FREE, Support.FULL),
        EdgeEntry("B", "C", Abuts.FREE, Support.FULL),
        EdgeEntry("C", "D", Abuts.HOUSE, Support.UNKNOWN),
        EdgeEntry("D", "A", Abuts.FREE, Support.FULL),
    )
    cracks: tuple[CrackSize, ...] = ()
    areas: tuple[AreaDistress, ...] = (
        AreaDistress(
            Distress.HOLLOW_SOUNDING, None, 0.0, 0.0, None, None, Grade.MEASURED, "sounded, none hollow"
        ),
    )
    faults: tuple[Fault, ...] = ()
    pieces: dict[str, int | None] = field(default_factory=lambda: dict.fromkeys(PANEL_IDS, 1))
    unseen: float | None = None
    settlement_in: dict[str, float] = field(default_factory=lambda: dict.fromkeys(PANEL_IDS, 0.0))
    fall: float = 0.0208
    levelled: bool = True
    clearances: tuple[Clearance, ...] = (
        clearance(HeightKind.DOOR_SILL, "hall door", 6.0, egress_door=NO, swings_over=NO),
    )
    raised_mm: dict[Option, float] = field(default_factory=lambda: dict(RAISED))
    planned_fall: float = 0.0208
    thickness_min_mm: dict[Option, float] = field(
        default_factory=lambda: {
            Option.OVERLAY_BONDED: 53.0,
            Option.OVERLAY_UNBONDED: 104.0,
            Option.REMOVAL: 102.0,
        }
    )
    conflicts: tuple[str, ...] = ()
    contradictions: tuple[Any, ...] = ()

    def layout(self) -> PanelLayout:
        panels = []
        for index, panel_id in enumerate(PANEL_IDS):
            x, y = (index % COLUMNS) * SIDE, (index // COLUMNS) * SIDE
            outline = ((x, y), (x + SIDE, y), (x + SIDE, y + SIDE), (x, y + SIDE))
            panels.append(Panel(panel_id, outline, SIDE * SIDE, 1e4, SIDE, SIDE, 5.0, None))
        return PanelLayout(tuple(panels), (), (SIDE,), 5.0)

    def field(self) -> FieldBook:
        corners = (("A", 0.0, 0.0), ("B", 9000.0, 0.0), ("C", 9000.0, 6000.0), ("D", 0.0, 6000.0))
        heights = tuple(
            HeightEntry(
                c.kind,
                c.name,
                c.at_mm,
                None if c.height_mm is None else Reading(c.height_mm, c.height_u_mm, ""),
            )
            for c in self.clearances
        )
        return FieldBook(
            job=JobHead(
                "invented-hall", "Yard of an invented hall", dt.date(2025, 5, 4), "N. Invented", invented=True
            ),
            outline=tuple(Corner(*corner) for corner in corners),
            source="invented.toml",
            sha256="0" * 64,
            edges=self.edges,
            site=self.site,
            stops=self.stops,
            slab=self.facts,
            heights=heights,
        )

    def distress(self) -> DistressSummary:
        return DistressSummary(
            cracks=self.cracks,
            areas=self.areas,
            faults=self.faults,
            rocking_panels=self.facts.rocking_panels,
            pieces_by_panel=tuple(self.pieces.items()),
            contradictions=self.contradictions,
            unseen_fraction=self.unseen,
        )

    def levels(self) -> LevelMap | None:
        if not self.levelled:
            return None
        panels = tuple(
            PanelLevel(panel_id, value * MM_PER_IN, 0.8, 4) for panel_id, value in self.settlement_in.items()
        )
        edges = tuple(
            EdgeSlope(edge.name, edge.abuts, self.fall, 0.0005)
            for edge in self.edges
            if edge.abuts is Abuts.HOUSE
        )
        return LevelMap(
            stations=(),
            plane=(0.0, self.fall, 0.0),
            plane_u=(0.0, 0.0005, 0.0),
            residual_rms_mm=0.8,
            triangles=(),
            panels=panels,
            edges=edges,
            ponds=(),
            fall=abs(self.fall),
            fall_u=0.0005,
            fall_direction_deg=270.0,
            straightedge_gap_mm=2.0,
            straightedge_gap_u_mm=0.8,
        )

    def plans(self) -> tuple[GradePlan, ...]:
        if not self.levelled:
            return ()
        return tuple(self._plan(option) for option in RAISED)

    def _plan(self, option: Option) -> GradePlan:
        raised = self.raised_mm[option]
        after = tuple(
            ClearanceAfter(
                c.kind,
                c.name,
                c.height_mm,
                # Only the first riser of a flight stands on the slab.
                None
                if c.height_mm is None
                else c.height_mm
                - (raised if c.order in (None, 1) or c.kind is not HeightKind.RISER else 0.0),
                c.height_u_mm,
                c.flight,
                c.order,
            )
            for c in self.clearances
        )
        thin = self.thickness_min_mm[option]
        return GradePlan(
            option=option,
            plane=(0.0, self.planned_fall, raised),
            fall=self.planned_fall,
            fall_direction_deg=270.0,
            grades=(),
            triangles=(),
            thickness_min_mm=thin,
            thickness_min_u_mm=1.0,
            thickness_min_at_mm=(0.0, 0.0),
            thickness_max_mm=thin + 6.0,
            thickness_max_u_mm=1.0,
            thickness_mean_mm=thin + 3.0,
            heights_after=after,
            conflicts=self.conflicts if option is not Option.REMOVAL else (),
        )

    def findings(self, limits: rate.LimitTable = _LIMITS) -> tuple[Finding, ...]:
        return rate.compare(
            self.distress(),
            self.layout(),
            self.levels(),
            self.clearances,
            self.plans(),
            self.field(),
            limits,
        )

    def rank(self, rules: score.Rules = _RULES, what_if: bool = False) -> Ranking:
        return score.rank_options(
            self.findings(),
            self.field(),
            self.distress(),
            self.layout(),
            self.levels(),
            self.plans(),
            rules,
            what_if=what_if,
        )

    def by_id(self) -> dict[str, Finding]:
        return {finding.finding_id: finding for finding in self.findings()}

    def told(self, **facts: Any) -> Slab:
        """The same slab with some facts changed."""
        return replace(self, facts=replace(self.facts, **facts))
