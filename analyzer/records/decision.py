"""Grades, findings, the ranking of options, quantities and the record of the whole job."""

from __future__ import annotations

from dataclasses import dataclass, replace

from analyzer.records.bill import OptionPrice, OrderLine, OrderSlip
from analyzer.records.field import FieldBook
from analyzer.records.grades import Contour, Crease, GrindSpot, HeldRequirement, PlannedJoint, SetOut
from analyzer.records.judge import exceed_probability, verdict_of
from analyzer.records.picture import Calibration, Detection, PhotoReach
from analyzer.records.slab import (
    Clearance,
    CrackSurvey,
    DistressSummary,
    EdgeSlope,
    LevelMap,
    PanelLayout,
    PointMm,
)
from analyzer.terms import (
    Checked,
    Firmness,
    Grade,
    Headline,
    HeightKind,
    Option,
    Severity,
    Verdict,
)


@dataclass(frozen=True, slots=True)
class StationGrade:
    """Old and finished height at a station or corner, and the thickness between them."""

    name: str
    x_mm: float
    y_mm: float
    old_mm: float
    finished_mm: float
    thickness_mm: float
    thickness_u_mm: float


@dataclass(frozen=True, slots=True)
class ClearanceAfter:
    """A height before and after an option; None where it was not measured."""

    kind: HeightKind
    name: str
    before_mm: float | None
    after_mm: float | None
    after_u_mm: float | None
    flight: str | None = None
    order: int | None = None


@dataclass(frozen=True, slots=True)
class GradePlan:
    """What one option would leave: a finished surface, thicknesses and heights.

    ``plane`` (a, b, c): finished z = a x + b y + c; where ``creases`` are given it is the plane
    of the largest part. ``fall`` is the steepest slope of that plane, ``fall_direction_deg`` the
    way down, anticlockwise from plan x. Plane and fall are None where no levels were read
    (``levels_known`` False): the thickness is then one chosen number and not a finding.
    ``triangles`` index ``grades``. ``conflicts`` are sentences, an irreducible set of
    requirements that cannot all be kept; a plan with conflicts is the nearest one that was found
    (``relaxations`` say what would have to give) and is not admissible. ``assumptions`` name
    what was not measured, ``notes`` what follows from the plan. ``reinforceable_fraction`` is the
    part of the area that is thick enough to hold a bar with its cover. ``edges`` are the finished
    slopes square to each edge within 10 ft in front of it (the least, where the surface bends);
    ``landings`` the steepest finished slope on the landing at each door, by name.
    """

    option: Option
    plane: tuple[float, float, float] | None
    fall: float | None
    fall_direction_deg: float | None
    grades: tuple[StationGrade, ...]
    triangles: tuple[tuple[int, int, int], ...]
    thickness_min_mm: float
    thickness_min_u_mm: float
    thickness_min_at_mm: PointMm
    thickness_max_mm: float
    thickness_max_u_mm: float
    thickness_mean_mm: float
    heights_after: tuple[ClearanceAfter, ...]
    conflicts: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = ()
    relaxations: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    levels_known: bool = True
    requirements: tuple[HeldRequirement, ...] = ()
    creases: tuple[Crease, ...] = ()
    setout: SetOut | None = None
    contours: tuple[Contour, ...] = ()
    grinding: tuple[GrindSpot, ...] = ()
    joints: tuple[PlannedJoint, ...] = ()
    reinforceable_fraction: float | None = None
    edges: tuple[EdgeSlope, ...] = ()
    landings: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Limit:
    """A cited limit, as read from ``limits.toml``. ``value`` is in ``unit`` as the source has it.

    Exceeded when ``value comparator limit`` holds. ``local`` marks a jurisdiction's own value,
    ``loosened`` one that is looser than the cited limit it replaces although that guards people
    or the building: reports print it in bold. ``address`` is where the source was read.
    """

    limit_id: str
    term: str
    quantity: str
    unit: str
    comparator: str
    value: float
    severity: Severity
    applies_to: tuple[str, ...]
    source: str
    edition: str
    section: str
    checked: Checked
    guards: str = ""
    note: str = ""
    local: bool = False
    loosened: bool = False
    address: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One measured or reported value held against one limit.

    ``probability`` is that the limit is exceeded given the uncertainty, None when there is no
    value at all, or only a lower bound that does not reach the limit. ``binding`` is False where
    the limit was written for another kind of slab (road or airfield pavement against foot
    traffic): it then needs company to refuse an option.
    """

    finding_id: str
    subject: str
    limit: Limit
    value: float | None
    u: float | None
    unit: str
    probability: float | None
    verdict: Verdict
    grade: Grade
    binding: bool
    statement: str
    option: Option | None = None
    place_mm: PointMm | None = None

    def moved(self, value: float, u: float | None = None) -> Finding:
        """The same finding if the reading had been ``value`` (in ``unit``), judged anew.

        ``u`` None keeps the uncertainty, or takes 0 where there was no value.
        """
        u = u if u is not None else self.u or 0.0
        probability = exceed_probability(value, u, self.limit.comparator, self.limit.value)
        return replace(self, value=value, u=u, probability=probability, verdict=verdict_of(probability))


@dataclass(frozen=True, slots=True)
class Stop:
    """A question that comes before advice. ``blocks`` until answered safely or cleared.

    ``source`` says where the rule behind it comes from.
    """

    stop_id: str
    question: str
    answer: str
    blocks: bool
    reason: str
    cleared_by: str | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why an option is out; ``finding_ids`` lead to value, limit and source."""

    reason: str
    finding_ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Contribution:
    """One visible part of an option's score, with the findings behind it."""

    criterion: str
    points: float
    statement: str
    finding_ids: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class OptionRating:
    """One option: admissible, refused, or not decidable yet (``admissible`` None)."""

    option: Option
    admissible: bool | None
    refusals: tuple[Refusal, ...]
    missing: tuple[str, ...]
    contributions: tuple[Contribution, ...]
    total: float
    probability_admissible: float | None = None
    probability_first: float | None = None


@dataclass(frozen=True, slots=True)
class Reason:
    """A sentence of the explanation and the findings it rests on."""

    sentence: str
    finding_ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Measurement:
    """Something to measure next: what, why, and how much work it is.

    ``worth`` orders them: the points by which the best decision is expected to gain from knowing
    it (value of information); None where that was not worked out. Never shown to a homeowner.
    """

    what: str
    why: str
    effort: str
    worth: float | None = None


@dataclass(frozen=True, slots=True)
class PanelAction:
    """What to do with one panel within the recommended option, and the findings behind the reason."""

    panel_id: str
    action: str
    reason: str
    finding_ids: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Cause:
    """A possible cause of what was found, never more than possible: an engineer or laboratory confirms.

    ``standing`` is "well supported", "possible" or "unlikely" by the clues; ``active`` whether it goes on
    (None = unknown). An active, well supported cause refuses the options in ``defeats``. Each clue is a
    sentence with the findings behind it.
    """

    cause_id: str
    name: str
    standing: str
    active: bool | None
    clues_for: tuple[Reason, ...]
    clues_against: tuple[Reason, ...]
    defeats: tuple[Option, ...]
    confirm: str
    source: str


@dataclass(frozen=True, slots=True)
class Flip:
    """The smallest change of one input that changes the recommendation, found by running it.

    ``before`` and ``after`` are in ``unit``; ``before`` None = not known now. Unit "answer": 1 is
    yes, 0 is no, and there is no half way.
    """

    subject: str
    quantity: str
    unit: str
    before: float | None
    after: float
    headline: Headline
    sentence: str


@dataclass(frozen=True, slots=True)
class Ranking:
    """The recommendation with everything it rests on."""

    headline: Headline
    option: Option | None
    firmness: Firmness
    sentence: str
    stops: tuple[Stop, ...]
    ratings: tuple[OptionRating, ...]
    reasons_for: tuple[Reason, ...]
    reasons_against: tuple[Reason, ...]
    unknowns: tuple[str, ...]
    next_measurements: tuple[Measurement, ...]
    would_change: tuple[str, ...]
    panel_actions: tuple[PanelAction, ...]
    cautions: tuple[str, ...]
    weights_robust: bool | None = None
    causes: tuple[Cause, ...] = ()
    flips: tuple[Flip, ...] = ()


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity to price or order: value, standard uncertainty, unit and basis."""

    option: Option
    item: str
    value: float
    u: float | None
    unit: str
    basis: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Bill:
    """All quantities of all options that can be counted."""

    quantities: tuple[Quantity, ...]
    notes: tuple[str, ...] = ()
    orders: tuple[OrderLine, ...] = ()
    slips: tuple[OrderSlip, ...] = ()
    prices: tuple[OptionPrice, ...] = ()


@dataclass(frozen=True, slots=True)
class PhotoNote:
    """A photo as the record keeps it: identity and metadata without the pixels."""

    photo_id: str
    file_name: str
    sha256: str
    n_bytes: int
    n_rows: int
    n_cols: int
    orientation: int
    camera: str | None
    taken_at: str | None


@dataclass(frozen=True, slots=True)
class Provenance:
    """What made this record: version, parameters, hashes of rule files and weights."""

    software: str
    version: str
    created_at: str
    parameters: tuple[tuple[str, str], ...]
    rule_files: tuple[tuple[str, str], ...]
    weights_sha256: str | None
    libraries: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, eq=False)
class JobRecord:
    """The whole job, as it is written to ``record.json``."""

    provenance: Provenance
    field: FieldBook
    photos: tuple[PhotoNote, ...]
    calibrations: tuple[Calibration, ...]
    reaches: tuple[PhotoReach, ...]
    detection: Detection | None
    layout: PanelLayout
    survey: CrackSurvey
    distress: DistressSummary
    levels: LevelMap | None
    clearances: tuple[Clearance, ...]
    plans: tuple[GradePlan, ...]
    findings: tuple[Finding, ...]
    ranking: Ranking
    bill: Bill
