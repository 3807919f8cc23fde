"""Parts of a grade plan: requirements held, creases, set-out, contours, grinding, joints."""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.records.slab import PointMm
from analyzer.terms import JointKind


@dataclass(frozen=True, slots=True)
class HeldRequirement:
    """One requirement on the finished surface and how much room the plan leaves to it.

    ``room`` is in mm for heights and thickness, rise over run for slopes; negative = not kept.
    ``room_rounded`` is the same on the rounded set-out heights, None if it was not worked out.
    """

    name: str
    sentence: str
    room: float
    unit: str
    source: str
    room_rounded: float | None = None


@dataclass(frozen=True, slots=True)
class Crease:
    """A line along which the finished surface bends.

    ``bend`` is the change of slope across it, rise over run: positive = valley, negative = ridge.
    """

    start_mm: PointMm
    end_mm: PointMm
    bend: float


@dataclass(frozen=True, slots=True)
class SetOutPoint:
    """A height to set out: ``kind`` is wall, form, station or crease.

    Heights are over the job's datum. ``old_mm`` is the old surface there, ``thickness_mm`` the
    thickness at the rounded height.
    """

    name: str
    kind: str
    x_mm: float
    y_mm: float
    old_mm: float
    exact_mm: float
    rounded_mm: float
    thickness_mm: float


@dataclass(frozen=True, slots=True)
class SetOut:
    """Heights rounded to what a rule reads (``step_mm``), and whether every requirement still holds.

    ``datum`` says in words what height zero is.
    """

    step_mm: float
    datum: str
    points: tuple[SetOutPoint, ...]
    satisfied: bool
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Contour:
    """Lines of equal new thickness."""

    thickness_mm: float
    lines_mm: tuple[tuple[PointMm, ...], ...]


@dataclass(frozen=True, slots=True)
class GrindSpot:
    """A high spot of the old slab worth grinding: how deep, how wide, what concrete that saves."""

    name: str
    at_mm: PointMm
    depth_mm: float
    area_mm2: float
    saves_m3: float


@dataclass(frozen=True, slots=True)
class PlannedJoint:
    """A joint of the new concrete: where, how deep, by which rule.

    ``over_joint`` names the old joint under it. ``depth_mm`` is the depth to saw, form or fill at
    the thickest spot along it.
    """

    name: str
    kind: JointKind
    start_mm: PointMm
    end_mm: PointMm
    length_mm: float
    depth_mm: float
    width_mm: float | None
    over_joint: str | None
    rule: str
    source: str
