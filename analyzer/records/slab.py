"""Measured panels, cracks, levels and heights, each number with its standard uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.terms import Abuts, Answer, Distress, Goes, Grade, HeightKind, JointKind

PointMm = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Panel:
    """A piece of slab between joints and edges, named P1, P2, ... from the house outwards.

    ``length_mm`` and ``width_mm`` are the sides of the smallest enclosing rectangle;
    ``seen_fraction`` is the part of its area that some photo shows (None without photos).
    """

    panel_id: str
    outline_mm: tuple[PointMm, ...]
    area_mm2: float
    area_u_mm2: float
    length_mm: float
    width_mm: float
    side_u_mm: float
    seen_fraction: float | None = None

    @property
    def aspect(self) -> float:
        """Long side over short side."""
        return self.length_mm / self.width_mm


@dataclass(frozen=True, slots=True)
class JointSize:
    """A joint with its length; ``panels`` are the panels on both sides."""

    joint_id: str
    kind: JointKind
    start_mm: PointMm
    end_mm: PointMm
    length_mm: float
    length_u_mm: float
    probability: float
    panels: tuple[str, ...] = ()
    typed: bool = False


@dataclass(frozen=True, slots=True)
class PanelLayout:
    """All panels and joints. ``spacing_mm`` are distances between neighbouring parallel joints or edges."""

    panels: tuple[Panel, ...]
    joints: tuple[JointSize, ...]
    spacing_mm: tuple[float, ...]
    spacing_u_mm: float


@dataclass(frozen=True, slots=True)
class BranchSize:
    """One branch of a crack, read on the photo that resolves it best.

    Widths are None where the crack is too thin for that photo to measure; ``width_upper_mm`` then
    says what it is thinner than (estimate and two standard uncertainties): its greatest width, or,
    where that one could be measured, its mean. All None: nothing could be read there.
    ``width_max_mm`` is the greatest mean over an inch of crack or more, not one profile.
    """

    points_mm: tuple[PointMm, ...]
    length_mm: float
    length_u_mm: float
    width_mean_mm: float | None
    width_mean_u_mm: float | None
    width_max_mm: float | None
    width_max_u_mm: float | None
    width_upper_mm: float | None
    direction_deg: float
    photo_id: str | None
    probability: float


@dataclass(frozen=True, slots=True)
class CornerCut:
    """A crack that meets the two sides of a corner, at these distances from it."""

    corner_mm: PointMm
    leg_a_mm: float
    leg_b_mm: float
    side_a_mm: float
    side_b_mm: float


@dataclass(frozen=True, slots=True)
class CrackSize:
    """One crack, from a photo, typed, or both.

    ``direction_deg`` is anticlockwise from plan x, 0 to 180. ``distress`` is the LTPP word.
    ``width_grade`` is measured for photo, close-up or gauge; ``width_source`` says which.
    ``disagreement`` is a sentence where gauge and photo differ by more than their uncertainties.
    """

    crack_id: str
    panels: tuple[str, ...]
    distress: Distress
    length_mm: float | None
    length_u_mm: float | None
    width_mean_mm: float | None
    width_mean_u_mm: float | None
    width_max_mm: float | None
    width_max_u_mm: float | None
    width_upper_mm: float | None
    direction_deg: float | None
    splits_panel: Answer
    corner_cut: CornerCut | None
    branches: tuple[BranchSize, ...]
    probability: float
    grade: Grade
    width_source: str | None = None
    through: Answer = Answer.UNKNOWN
    moving: Answer = Answer.UNKNOWN
    along_joint: str | None = None
    disagreement: str | None = None


@dataclass(frozen=True, slots=True)
class MapCracking:
    """A patch of many short crossing cracks, reported as one area.

    Cracks that lie in it as a whole carry the word map cracking in ``CrackSurvey.cracks`` too (to be
    drawn); totals of crack length leave them out. ``length_mm`` is that of all branches in the area.
    """

    panel_id: str | None
    outline_mm: tuple[PointMm, ...]
    area_mm2: float
    area_u_mm2: float
    crack_ids: tuple[str, ...]
    length_mm: float


@dataclass(frozen=True, slots=True)
class CrackSurvey:
    """All cracks measured on photos, and areas of map cracking among them."""

    cracks: tuple[CrackSize, ...]
    map_areas: tuple[MapCracking, ...]


@dataclass(frozen=True, slots=True)
class AreaDistress:
    """Spalling, scaling, hollow, map cracking and the like, with area and depth where known."""

    kind: Distress
    panel_id: str | None
    area_mm2: float | None
    area_u_mm2: float | None
    depth_mm: float | None
    depth_u_mm: float | None
    grade: Grade
    source: str


@dataclass(frozen=True, slots=True)
class Fault:
    """A step across a joint or crack."""

    at_mm: PointMm
    step_mm: float
    step_u_mm: float
    along: str | None
    panels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Two pieces of evidence that do not fit together: reported, never averaged."""

    subject: str
    sentence: str


@dataclass(frozen=True, slots=True)
class DistressSummary:
    """Photo and typed distress joined: the gauge outranks the photo, nothing is counted twice.

    ``pieces_by_panel``: how many pieces cracks break each panel into (None = not determined).
    """

    cracks: tuple[CrackSize, ...]
    areas: tuple[AreaDistress, ...]
    faults: tuple[Fault, ...]
    rocking_panels: tuple[str, ...] | None
    pieces_by_panel: tuple[tuple[str, int | None], ...]
    contradictions: tuple[Contradiction, ...]
    unseen_fraction: float | None


@dataclass(frozen=True, slots=True)
class StationLevel:
    """Height of the old surface at a station over the job's datum, and over the best plane."""

    station_id: str
    x_mm: float
    y_mm: float
    z_mm: float
    z_u_mm: float
    residual_mm: float
    panel_id: str | None


@dataclass(frozen=True, slots=True)
class PanelLevel:
    """How far a panel lies under (positive) the plane of the rest of the slab, and its tilt.

    ``settlement_mm`` is the mean over its stations, ``lowest_mm`` the greatest of them;
    ``tilt`` is its steepest slope against the plane of the rest (None with too few stations).
    ``sound`` is False where the panel does not fit one plane with the others and was left out
    of the best plane.
    """

    panel_id: str
    settlement_mm: float
    settlement_u_mm: float
    n_stations: int
    lowest_mm: float | None = None
    lowest_u_mm: float | None = None
    tilt: float | None = None
    tilt_u: float | None = None
    sound: bool = True


@dataclass(frozen=True, slots=True)
class EdgeSlope:
    """Slope of the old surface square to an edge; positive falls away from that edge."""

    edge: str
    abuts: Abuts
    slope: float
    slope_u: float


@dataclass(frozen=True, slots=True)
class Pond:
    """Water the surface would hold before it spills, from the levels."""

    outline_mm: tuple[PointMm, ...]
    area_mm2: float
    depth_mm: float
    depth_u_mm: float
    volume_mm3: float | None = None


@dataclass(frozen=True, slots=True)
class LevelMap:
    """The old surface from the levels: z = a x + b y + c is the best plane of the sound panels.

    ``corners`` are outline points where nobody read a level: their height is carried over from
    the nearest stations, with the larger uncertainty that this has. ``triangles`` (Delaunay,
    inside the outline, covering it) index ``surface`` = ``stations`` + ``corners``.
    ``misclosure_mm`` is None if no station was read twice. ``straightedge_gap_mm`` is the
    largest gap under a 10 ft straightedge computed from the levels. ``datum`` says in words what
    height zero is.
    """

    stations: tuple[StationLevel, ...]
    plane: tuple[float, float, float]
    plane_u: tuple[float, float, float]
    residual_rms_mm: float
    triangles: tuple[tuple[int, int, int], ...]
    panels: tuple[PanelLevel, ...]
    edges: tuple[EdgeSlope, ...]
    ponds: tuple[Pond, ...]
    fall: float
    fall_u: float
    fall_direction_deg: float
    misclosure_mm: float | None = None
    straightedge_gap_mm: float | None = None
    straightedge_gap_u_mm: float | None = None
    straightedge_gap_at_mm: PointMm | None = None
    corners: tuple[StationLevel, ...] = ()
    datum: str = ""

    @property
    def surface(self) -> tuple[StationLevel, ...]:
        """All vertices of the triangles: the stations read, then the corners carried over."""
        return self.stations + self.corners


@dataclass(frozen=True, slots=True)
class Clearance:
    """Something above (or beside) the slab: its height over the old surface at its place.

    Of a riser ``height_mm`` is the rise itself, whether the flight ``goes`` up or down.
    """

    kind: HeightKind
    name: str
    at_mm: PointMm
    height_mm: float | None
    height_u_mm: float | None
    flight: str | None = None
    order: int | None = None
    egress_door: Answer = Answer.UNKNOWN
    swings_over: Answer = Answer.UNKNOWN
    goes: Goes = Goes.UP

    @property
    def leads_down(self) -> bool:
        """Whether this is a riser of a flight that goes down from the slab."""
        return self.kind is HeightKind.RISER and self.goes is Goes.DOWN

    def height_after_mm(self, raised_mm: float) -> float | None:
        """Its height once the surface at its place lies ``raised_mm`` higher.

        Concrete on the slab takes from whatever stands over it and adds to the first riser of a
        flight that goes down; the other risers of a flight keep their rise.
        """
        if self.height_mm is None or (self.kind is HeightKind.RISER and self.order not in (None, 1)):
            return self.height_mm
        return self.height_mm + raised_mm if self.leads_down else self.height_mm - raised_mm
