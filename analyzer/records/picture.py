"""Photos, their scale, the job's plan picture and what the detector found on it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from analyzer.errors import RecordError
from analyzer.terms import DetectMethod, JointKind, ScaleMethod

UInt8 = npt.NDArray[np.uint8]
Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]
Scalar = TypeVar("Scalar", bound=np.generic)


def read_only(array: npt.NDArray[Scalar]) -> npt.NDArray[Scalar]:
    """Return the array with writing switched off (no copy)."""
    array.flags.writeable = False
    return array


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """An upright picture as read; the file on disk stays untouched.

    ``rgb`` has shape (R, C, 3), uint8, sRGB, EXIF orientation applied. ``sha256`` is that of the
    original file. ``focal_px`` is derived from EXIF where present (nominal, not calibrated).
    """

    photo_id: str
    file_name: str
    rgb: UInt8
    sha256: str
    n_bytes: int
    orientation: int = 1
    camera: str | None = None
    taken_at: dt.datetime | None = None
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    focal_px: float | None = None

    def __post_init__(self) -> None:
        if self.rgb.ndim != 3 or self.rgb.shape[2] != 3 or self.rgb.dtype != np.uint8:
            raise RecordError(
                f"photo {self.photo_id}", f"pixels have shape {self.rgb.shape}", "give (R, C, 3) uint8"
            )
        read_only(self.rgb)


@dataclass(frozen=True, slots=True)
class SheetMarker:
    """One square marker of a sheet: ``bits`` row by row with its black border, True = black.

    ``left_mm`` and ``top_mm`` are measured from the top left corner of the paper, y downwards.
    """

    marker_id: int
    bits: tuple[tuple[bool, ...], ...]
    left_mm: float
    top_mm: float
    side_mm: float


@dataclass(frozen=True, slots=True)
class SheetRect:
    """A black rectangle of a sheet, from the top left corner of the paper, y downwards."""

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class SheetText:
    """A line of text, centred on (x, y) from the top left corner of the paper; ``size_mm`` is the
    height of its capitals."""

    text: str
    x_mm: float
    y_mm: float
    size_mm: float


@dataclass(frozen=True, slots=True)
class TargetSheet:
    """A numbered marker sheet to print at 100 % and lay on the slab, as plain geometry.

    ``centre_mm`` is the centre cross from the top left corner of the paper; ``arrow_mm`` the
    filled head of the arrow along the bottom edge (its shaft is among ``rects``).
    """

    number: int
    paper: str
    width_mm: float
    height_mm: float
    centre_mm: tuple[float, float]
    markers: tuple[SheetMarker, ...]
    rects: tuple[SheetRect, ...]
    arrow_mm: tuple[tuple[float, float], ...]
    texts: tuple[SheetText, ...]


@dataclass(frozen=True, slots=True)
class TiePoint:
    """A point known in the photo and in plan, with what the fit left over."""

    name: str
    row_px: float
    col_px: float
    x_mm: float
    y_mm: float
    residual_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Calibration:
    """The scale of one photo.

    ``plan_from_px`` (3, 3) acts on homogeneous (row, col, 1) and gives (x_mm, y_mm, w); its
    determinant is positive for a photo seen from above. ``scale_u_rel`` is the relative standard
    uncertainty of a length on the slab, ``position_u_mm`` the standard uncertainty of a place in
    plan at the worst spot of the slab that the photo shows. For a close-up without a place in
    plan, ``has_plan_position`` is False and only lengths mean anything. ``trusted_mm`` is the
    plan polygon within which both uncertainties hold; empty = the whole part in view.
    """

    photo_id: str
    plan_from_px: Float
    method: ScaleMethod
    residual_rms_mm: float
    scale_u_rel: float
    position_u_mm: float
    tie_points: tuple[TiePoint, ...]
    has_plan_position: bool = True
    notes: tuple[str, ...] = ()
    trusted_mm: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        if self.plan_from_px.shape != (3, 3):
            raise RecordError("calibration", f"matrix is {self.plan_from_px.shape}", "give (3, 3)")
        read_only(self.plan_from_px)


@dataclass(frozen=True, slots=True)
class PlanGrid:
    """A north-up raster on the plan: cell (0, 0) is centred at (x0_mm, y0_mm), rows go down in y."""

    x0_mm: float
    y0_mm: float
    mm_per_px: float
    n_rows: int
    n_cols: int


@dataclass(frozen=True, slots=True, eq=False)
class PlanView:
    """One photo laid on a window of the job's plan grid.

    ``rgb`` (H, W, 3) uint8; ``best`` (H, W) bool, True where this photo is the one that resolves
    the spot best and the spot is on the slab; the window's cell (0, 0) is the grid's
    (row0, col0).
    """

    photo_id: str
    rgb: UInt8
    best: Bool
    row0: int
    col0: int


@dataclass(frozen=True, slots=True)
class PhotoReach:
    """The smallest crack one photo could show and the smallest it could measure, on its part."""

    photo_id: str
    mm_per_px_median: float
    mm_per_px_worst: float
    visible_width_mm: float
    measurable_width_mm: float
    area_best_mm2: float


@dataclass(frozen=True, slots=True, eq=False)
class PlanImage:
    """The whole slab as the photos show it: views on one grid, and what no photo saw.

    ``best_photo`` (R, C) int16 indexes ``views`` on a coarse grid ``coarse``; -1 = on the slab
    but unseen, -2 = off the slab.
    """

    grid: PlanGrid
    views: tuple[PlanView, ...]
    reaches: tuple[PhotoReach, ...]
    coarse: PlanGrid
    best_photo: npt.NDArray[np.int16]
    slab_area_mm2: float
    seen_area_mm2: float

    @property
    def unseen_area_mm2(self) -> float:
        """Area of the slab that no photo shows: unknown, not sound."""
        return max(0.0, self.slab_area_mm2 - self.seen_area_mm2)


@dataclass(frozen=True, slots=True, eq=False)
class ScoreMaps:
    """Per-pixel scores of the detector, 255 = certain; shape (R, C) uint8 each.

    ``patch`` is spalls and patches, ``slab`` the concrete surface (None when the method does not
    tell it).
    """

    crack: UInt8
    joint: UInt8
    method: DetectMethod
    patch: UInt8 | None = None
    slab: UInt8 | None = None
    weights_sha256: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class PxBranch:
    """A crack branch on a picture: ``points_px`` (N, 2) of (row, col) along the ridge.

    ``start_node`` and ``end_node`` number the junctions or free ends of the same crack.
    """

    points_px: Float
    probability: float
    start_node: int
    end_node: int


@dataclass(frozen=True, slots=True, eq=False)
class PxJoint:
    """A joint on a picture as a polyline of (row, col), with its kind and probability."""

    points_px: Float
    probability: float
    kind: JointKind = JointKind.UNKNOWN
    width_px: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class PictureTraces:
    """Everything detected on one picture. ``crack_mask`` and ``joint_mask`` are (R, C) uint8, 0 or 255."""

    cracks: tuple[tuple[PxBranch, ...], ...]
    joints: tuple[PxJoint, ...]
    crack_mask: UInt8
    joint_mask: UInt8
    maps: ScoreMaps
    slab_probability: float | None
    threshold: float

    @property
    def crack_length_px(self) -> float:
        """Length of all crack branches along their points."""
        return float(
            sum(np.hypot(*np.diff(b.points_px, axis=0).T).sum() for crack in self.cracks for b in crack)
        )


@dataclass(frozen=True, slots=True, eq=False)
class CrackBranch:
    """A crack branch in plan: ``points_mm`` (N, 2) of (x, y) along the ridge."""

    points_mm: Float
    probability: float
    start_node: int
    end_node: int


@dataclass(frozen=True, slots=True, eq=False)
class CrackTrace:
    """One crack: a graph of branches in plan, with the probability that it is a crack."""

    crack_id: str
    branches: tuple[CrackBranch, ...]
    probability: float


@dataclass(frozen=True, slots=True, eq=False)
class JointTrace:
    """One joint in plan, from a photo or typed (``typed`` True, probability 1)."""

    joint_id: str
    points_mm: Float
    kind: JointKind
    probability: float
    typed: bool = False
    width_mm: float | None = None


@dataclass(frozen=True, slots=True)
class SpallTrace:
    """An area that the detector takes for a spall or patch, in plan."""

    outline_mm: tuple[tuple[float, float], ...]
    area_mm2: float
    probability: float


@dataclass(frozen=True, slots=True, eq=False)
class Detection:
    """All lines of the job in plan."""

    joints: tuple[JointTrace, ...]
    cracks: tuple[CrackTrace, ...]
    spalls: tuple[SpallTrace, ...]
    method: DetectMethod
    weights_sha256: str | None
    slab_probability: float | None
    threshold: float


@dataclass(frozen=True, slots=True)
class DetectedPicture:
    """One line of ``slab detect``: what was found on a picture, or why it could not be read."""

    file_name: str
    stem: str
    n_cracks: int
    n_joints: int
    slab_probability: float | None
    crack_length_px: float
    problem: str | None = None
