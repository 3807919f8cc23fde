"""The words of the trade, one name for one thing, each with its source.

Distress names, severity levels: FHWA, *Distress Identification Manual for the LTPP Program*,
FHWA-HRT-13-092 (2014), chapter 2 (jointed concrete); which distresses have levels was read, the
wording is from memory. Joint types: ACI 224.3R / NRMCA CIP 6 (contraction, construction,
isolation). Evidence grades and verdicts are the tool's own.
"""

from __future__ import annotations

from enum import StrEnum


class Answer(StrEnum):
    """A yes/no question on site. Unknown is an answer of its own and never counts as no."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class UnitSystem(StrEnum):
    """How people read lengths in this job; inside everything is in millimetres."""

    IMPERIAL = "imperial"
    METRIC = "metric"


class Use(StrEnum):
    """Heaviest regular traffic on the slab."""

    FOOT = "foot"
    CAR = "car"
    TRUCK = "truck"


class Wetness(StrEnum):
    """Surface at the visit; a wet surface hides fine cracks or shows them darker."""

    DRY = "dry"
    DAMP = "damp"
    WET = "wet"
    UNKNOWN = "unknown"


class Abuts(StrEnum):
    """What an edge of the slab lies against."""

    HOUSE = "house"
    WALL = "wall"
    WALK = "walk"
    STREET = "street"
    STEP = "step"
    POOL = "pool"
    FREE = "free"
    UNKNOWN = "unknown"


class Support(StrEnum):
    """Ground under a slab edge as seen from the side."""

    FULL = "full"
    PARTLY_WASHED = "partly washed out"
    UNDERMINED = "undermined"
    UNKNOWN = "unknown"


class JointKind(StrEnum):
    """Joint types of ACI 224.3R; ``UNKNOWN`` when a photo does not tell."""

    CONTRACTION = "contraction"
    CONSTRUCTION = "construction"
    ISOLATION = "isolation"
    UNKNOWN = "unknown"


class Distress(StrEnum):
    """Distress names of the LTPP manual for jointed concrete, and three words of the trade."""

    CORNER_BREAK = "corner break"
    DURABILITY_CRACKING = "durability cracking"
    LONGITUDINAL_CRACKING = "longitudinal cracking"
    TRANSVERSE_CRACKING = "transverse cracking"
    DIAGONAL_CRACKING = "diagonal cracking"
    MAP_CRACKING = "map cracking"
    SHRINKAGE_CRACK = "shrinkage crack"
    SPALLING = "spalling"
    SCALING = "scaling"
    POPOUTS = "popouts"
    FAULTING = "faulting"
    JOINT_SEAL_DAMAGE = "joint seal damage"
    PATCH_DETERIORATION = "patch deterioration"
    HOLLOW_SOUNDING = "hollow-sounding area"
    SETTLEMENT = "settlement"
    SHATTERED_SLAB = "shattered slab"


class Severity(StrEnum):
    """LTPP levels; ``NONE`` is below the lowest level, ``UNKNOWN`` when it was not determined."""

    NONE = "none"
    LOW = "low"
    MODERATE = "moderate"
    HIGH = "high"
    UNKNOWN = "unknown"


class HeightKind(StrEnum):
    """Things whose height over the slab limits what can be poured."""

    DOOR_SILL = "door sill"
    GARAGE_FLOOR = "garage floor"
    RISER = "riser"
    SIDING = "siding"
    WEEP_SCREED = "weep screed"
    ADJOINING_WALK = "adjoining walk"
    DRAIN = "drain"
    FREE_EDGE = "free edge"
    WALL = "wall"
    POST = "post"
    GATE = "gate"


class Goes(StrEnum):
    """Which way a flight of steps goes from the slab."""

    UP = "up"
    DOWN = "down"


class Grade(StrEnum):
    """How a value is known. ``UNKNOWN`` is a distribution, not a pass."""

    MEASURED = "measured"
    REPORTED = "reported"
    UNKNOWN = "unknown"


class Verdict(StrEnum):
    """A finding against a limit; between 5 % and 95 % probability it is not determined."""

    WITHIN = "within"
    EXCEEDS = "exceeds"
    NOT_DETERMINED = "not determined"


class Checked(StrEnum):
    """How a cited source was checked when its value was entered."""

    READ = "read"
    READ_QUOTED = "read as quoted"
    MEMORY = "from memory"
    COMMON_PRACTICE = "common practice, no source"
    COMPUTED = "computed"
    JUDGEMENT = "judgement of this tool"


class Option(StrEnum):
    """What can be done with the slab as a whole."""

    OVERLAY_BONDED = "overlay, bonded"
    OVERLAY_UNBONDED = "overlay, unbonded"
    PATCH = "patch"
    REMOVAL = "removal"


class Headline(StrEnum):
    """The recommendation in a word."""

    OVERLAY = "overlay"
    PATCH = "patch"
    REMOVAL = "removal"
    NONE_YET = "no recommendation yet"


class Firmness(StrEnum):
    """How firmly the recommendation stands; a word, never a percentage of failure."""

    FIRM = "firm"
    LEANING = "leaning"
    OPEN = "open"


class ScaleMethod(StrEnum):
    """How a photo got its scale."""

    MARKER_SHEETS = "marker sheets"
    MARKED_POINTS = "marked points"
    TWO_POINTS = "two points, camera straight down"


class DetectMethod(StrEnum):
    """Which detector drew the score maps."""

    NETWORK = "network"
    FILTERS = "filters"
