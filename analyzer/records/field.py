"""What a person typed in the field book. Missing entries are None or empty: unknown, never zero.

Every length is an :class:`analyzer.units.Reading` (millimetres, optional standard uncertainty,
the text as typed). Plan coordinates are plain millimetres in the plan frame (x right, y up, seen
from above; see :mod:`analyzer.frames`).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from analyzer.terms import (
    Abuts,
    Answer,
    Distress,
    Goes,
    HeightKind,
    JointKind,
    Support,
    UnitSystem,
    Use,
    Wetness,
)
from analyzer.units import Reading


@dataclass(frozen=True, slots=True)
class JobHead:
    """Who, what, when. ``invented`` marks demonstration jobs."""

    job_id: str
    title: str
    date: dt.date
    by: str
    surface: Wetness = Wetness.UNKNOWN
    weather: str | None = None
    units: UnitSystem = UnitSystem.IMPERIAL
    invented: bool = False
    notes: str | None = None


@dataclass(frozen=True, slots=True)
class SiteUse:
    """Use and exposure of the slab."""

    use: Use | None = None
    public_route: Answer = Answer.UNKNOWN
    freeze_thaw: Answer = Answer.UNKNOWN
    deicer: Answer = Answer.UNKNOWN


@dataclass(frozen=True, slots=True)
class Clearing:
    """A stop answered by a licensed person: which one, who, when and what was said."""

    stop: str
    who: str
    date: dt.date
    says: str


@dataclass(frozen=True, slots=True)
class StopAnswers:
    """Questions that come before any advice. Unknown blocks as much as the bad answer does."""

    suspended: Answer = Answer.UNKNOWN
    post_tension: Answer = Answer.UNKNOWN
    void_below: Answer = Answer.UNKNOWN
    carries_posts: Answer = Answer.UNKNOWN
    carries_walls: Answer = Answer.UNKNOWN
    heating_tubes: Answer = Answer.UNKNOWN
    foundation_movement: Answer = Answer.UNKNOWN
    retaining_wall_movement: Answer = Answer.UNKNOWN
    clearings: tuple[Clearing, ...] = ()


@dataclass(frozen=True, slots=True)
class SlabFacts:
    """What is known of the slab as a whole.

    ``walked_over`` yes: all distress that can be seen was written down. ``heights_listed`` yes:
    every door, step, cladding line, drain, gate and walk beside the slab is among the heights.
    ``white_deposits`` yes: white or glassy deposits stand in map cracks (a possible sign of
    alkali-silica reaction). Without these answers an empty list proves nothing.
    """

    thickness: Reading | None = None
    age_years: float | None = None
    pours_of_different_dates: Answer = Answer.UNKNOWN
    reinforced: Answer = Answer.UNKNOWN
    seasonal_movement: Answer = Answer.UNKNOWN
    still_moving: Answer = Answer.UNKNOWN
    rocking_panels: tuple[str, ...] | None = None
    ponding_seen: Answer = Answer.UNKNOWN
    ponding_depth: Reading | None = None
    drains_toward_house: Answer = Answer.UNKNOWN
    coating: Answer = Answer.UNKNOWN
    tree_roots: Answer = Answer.UNKNOWN
    expansive_ground: Answer = Answer.UNKNOWN
    rust_stains: Answer = Answer.UNKNOWN
    sounded: Answer = Answer.UNKNOWN
    walked_over: Answer = Answer.UNKNOWN
    heights_listed: Answer = Answer.UNKNOWN
    white_deposits: Answer = Answer.UNKNOWN


@dataclass(frozen=True, slots=True)
class Corner:
    """A named corner of the slab outline."""

    name: str
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True)
class EdgeEntry:
    """One edge of the outline, from a named corner to the next, and what lies beside it."""

    start: str
    end: str
    abuts: Abuts = Abuts.UNKNOWN
    support: Support = Support.UNKNOWN

    @property
    def name(self) -> str:
        """``A-B``."""
        return f"{self.start}-{self.end}"


@dataclass(frozen=True, slots=True)
class JointEntry:
    """A joint drawn on the sketch; typed joints replace those found on photos."""

    name: str
    start_mm: tuple[float, float]
    end_mm: tuple[float, float]
    kind: JointKind = JointKind.UNKNOWN


@dataclass(frozen=True, slots=True)
class PhotoMark:
    """A point marked on the upright photo; its plan position when it is known."""

    name: str
    row_px: float
    col_px: float
    plan_mm: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class MarkDistance:
    """A tape distance between two marks of one photo."""

    first: str
    second: str
    distance: Reading


@dataclass(frozen=True, slots=True)
class SheetEntry:
    """Where a numbered marker sheet lay: its centre cross in plan, its turn, the printed ruler.

    ``turned_deg`` is the anticlockwise angle from plan x to the sheet's bottom edge (left to
    right as printed); None if it was not noted. ``ruler`` is the printed 100 mm ruler as
    measured with a tape: it corrects the printer's scaling.
    """

    number: int
    centre_mm: tuple[float, float]
    centre_u_mm: float | None = None
    turned_deg: float | None = None
    ruler: Reading | None = None


@dataclass(frozen=True, slots=True)
class PhotoEntry:
    """One photo named in the field book and how it is to be scaled.

    ``closeup_of`` names a crack (typed, or found at ``closeup_at_mm``) whose width this photo
    refines; such a photo needs a scale but no place in plan.
    """

    photo_id: str
    file: str
    straight_down: bool = False
    markers: bool = True
    marks: tuple[PhotoMark, ...] = ()
    distances: tuple[MarkDistance, ...] = ()
    closeup_of: str | None = None
    closeup_at_mm: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class StationReading:
    """A level reading at a place: a rod reading (grows downwards) or a height (grows upwards).

    ``check_of`` names an earlier station read again to close the run.
    """

    station_id: str
    x_mm: float
    y_mm: float
    rod: Reading | None = None
    height: Reading | None = None
    check_of: str | None = None


@dataclass(frozen=True, slots=True)
class FaultEntry:
    """A step across a joint or crack at one place. Positive whichever side is higher."""

    at_mm: tuple[float, float]
    step: Reading
    along: str | None = None


@dataclass(frozen=True, slots=True)
class GapEntry:
    """The largest gap under a straightedge of a stated length."""

    at_mm: tuple[float, float]
    gap: Reading
    straightedge: Reading


@dataclass(frozen=True, slots=True)
class CrackEntry:
    """A crack as written down on site; the gauge reading outranks the photo."""

    name: str
    panel: str | None = None
    at_mm: tuple[float, float] | None = None
    line_mm: tuple[tuple[float, float], ...] = ()
    length: Reading | None = None
    width: Reading | None = None
    through: Answer = Answer.UNKNOWN
    moving: Answer = Answer.UNKNOWN
    corner: Answer = Answer.UNKNOWN
    splits_panel: Answer = Answer.UNKNOWN
    date: dt.date | None = None


@dataclass(frozen=True, slots=True)
class AreaEntry:
    """Area distress as written down: spalling, scaling, hollow-sounding, map cracking, ..."""

    kind: Distress
    panel: str | None = None
    at_mm: tuple[float, float] | None = None
    area_mm2: float | None = None
    depth: Reading | None = None
    outline_mm: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class HeightEntry:
    """The height of something over the slab surface at a place in plan.

    ``above_slab`` is positive upwards. Risers of one ``flight`` carry their ``order`` from the
    slab outwards (1 = the riser at the slab) and ``above_slab`` is the rise itself, above zero
    whether the flight ``goes`` up or down from the slab.
    """

    kind: HeightKind
    name: str
    at_mm: tuple[float, float]
    above_slab: Reading | None = None
    flight: str | None = None
    order: int | None = None
    egress_door: Answer = Answer.UNKNOWN
    swings_over: Answer = Answer.UNKNOWN
    goes: Goes = Goes.UP


@dataclass(frozen=True, slots=True)
class DesignChoices:
    """What the estimator chooses for the new work; None leaves the tool's cited default."""

    fall: float | None = None
    fall_toward: str | None = None
    overlay_min: Reading | None = None
    replacement_thickness: Reading | None = None
    waste_fraction: float | None = None
    plant_step_m3: float | None = None


@dataclass(frozen=True, slots=True)
class FieldBook:
    """Everything that was typed for one job, checked on reading.

    ``sha256`` is that of the file's bytes; ``source`` its name for messages. ``outline`` runs
    anticlockwise in plan.
    """

    job: JobHead
    outline: tuple[Corner, ...]
    source: str
    sha256: str
    edges: tuple[EdgeEntry, ...] = ()
    site: SiteUse = field(default_factory=SiteUse)
    stops: StopAnswers = field(default_factory=StopAnswers)
    slab: SlabFacts = field(default_factory=SlabFacts)
    photos: tuple[PhotoEntry, ...] = ()
    sheets: tuple[SheetEntry, ...] = ()
    joints: tuple[JointEntry, ...] = ()
    stations: tuple[StationReading, ...] = ()
    faults: tuple[FaultEntry, ...] = ()
    gaps: tuple[GapEntry, ...] = ()
    cracks: tuple[CrackEntry, ...] = ()
    areas: tuple[AreaEntry, ...] = ()
    heights: tuple[HeightEntry, ...] = ()
    design: DesignChoices = field(default_factory=DesignChoices)
