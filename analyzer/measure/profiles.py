"""Grey profiles across a centreline, read on the photo that resolves each spot best.

Stations lie along all branches of a job in one stack; everything here works on the whole stack
at once. Offsets across a crack are counted in pixels of the photo *square to the crack as the
photo shows it*, so that on an oblique view the foreshortening is taken into account: ``mm_per_px``
of a station turns such a pixel into plan millimetres across the crack.

Grey values are decoded to linear light first (sRGB, IEC 61966-2-1, from memory): a pixel that is
half crack and half concrete is half-way in light, not in the coded value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyzer import frames
from analyzer.records import Calibration, Float, Photo, PlanImage

Float32 = npt.NDArray[np.float32]
Int = npt.NDArray[np.intp]

_MAX_REMAP = 16_000
"""Rows per call; the image library takes fewer than 32767 rows or columns at a time."""

_BOX_PX = 16_000_000
"""Largest part of a photo decoded at a time: longer runs of stations are read in halves."""

_LEAST_ROWS = 64

FULL_SCALE = 65_535.0


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """A photo with its scale, ready for reading."""

    photo: Photo
    px_from_plan: Float
    scale_u_rel: float

    @property
    def photo_id(self) -> str:
        """Name of the photo."""
        return self.photo.photo_id


@dataclass(frozen=True, slots=True, eq=False)
class Stations:
    """Places along branches where the width is read, M of them, branch after branch.

    ``points_mm`` (M, 2) and ``normal_mm`` (M, 2) in plan; ``branch`` (M,) numbers the branch,
    ``start`` and ``stop`` (M,) are the bounds of the station's branch in the stack, ``along_mm``
    (M,) the distance from the branch's start, ``clear_mm`` (M,) that to the nearest junction (inf
    where the branch has none).
    """

    points_mm: Float
    normal_mm: Float
    branch: Int
    start: Int
    stop: Int
    along_mm: Float
    clear_mm: Float


@dataclass(frozen=True, slots=True, eq=False)
class Footing:
    """How stations lie on their photos, M of them.

    ``source`` (M,) indexes the sources (-1: no photo shows it); ``px`` (M, 2) is the place,
    ``step_px`` (M, 2) the pixel vector that moves one pixel square to the crack while running
    along the plan normal, ``mm_per_px`` (M,) the plan length of that vector.
    """

    source: Int
    px: Float
    step_px: Float
    mm_per_px: Float


def make_sources(photos: Sequence[Photo], calibrations: Sequence[Calibration]) -> tuple[Source, ...]:
    """Pair photos with their calibrations; photos without a place in plan are left out."""
    scales = {c.photo_id: c for c in calibrations if c.has_plan_position}
    return tuple(
        Source(p, frames.invert(scales[p.photo_id].plan_from_px), scales[p.photo_id].scale_u_rel)
        for p in photos
        if p.photo_id in scales
    )


def jacobian(target_from_source: Float, points: Float) -> Float:
    """Derivative (N, 2, 2) of a homography at points (N, 2): d target / d source."""
    matrix = np.asarray(target_from_source, dtype=float)
    mapped = points @ matrix[:, :2].T + matrix[:, 2]
    w = mapped[:, 2]
    xy = mapped[:, :2] / w[:, None]
    result: Float = (matrix[None, :2, :2] - xy[:, :, None] * matrix[None, 2:3, :2]) / w[:, None, None]
    return result


def choose_source(points_mm: Float, sources: Sequence[Source], plan: PlanImage | None) -> Int:
    """Index of the source that resolves each point (N, 2) best; -1 where none shows it.

    The plan's coarse map of best photos decides where it knows one; elsewhere the photo with the
    smallest pixel on the slab that has the point inside its frame.
    """
    chosen = np.full(len(points_mm), -1, dtype=np.intp)
    if not sources:
        return chosen
    inside = np.zeros((len(sources), len(points_mm)), dtype=bool)
    size = np.full((len(sources), len(points_mm)), np.inf)
    for k, source in enumerate(sources):
        px = frames.apply(source.px_from_plan, points_mm)
        rows, cols = source.photo.rgb.shape[:2]
        with np.errstate(invalid="ignore"):
            inside[k] = (px >= 1).all(axis=1) & (px[:, 0] <= rows - 2) & (px[:, 1] <= cols - 2)
        if inside[k].any():
            # The smallest singular value of px per mm is the longest side of the pixel on the slab.
            values = np.linalg.svd(jacobian(source.px_from_plan, points_mm[inside[k]]), compute_uv=False)
            size[k, inside[k]] = 1.0 / np.maximum(values[:, 1], 1e-12)
    best = np.argmin(size, axis=0)
    chosen = np.where(inside.any(axis=0), best, -1)
    if plan is not None and plan.views:
        by_id = {source.photo_id: k for k, source in enumerate(sources)}
        views = np.array([by_id.get(view.photo_id, -1) for view in plan.views], dtype=np.intp)
        cell = np.rint(frames.apply(frames.grid_from_plan(plan.coarse), points_mm)).astype(np.intp)
        known = (cell >= 0).all(axis=1)
        known &= (cell[:, 0] < plan.coarse.n_rows) & (cell[:, 1] < plan.coarse.n_cols)
        view = np.full(len(points_mm), -1, dtype=np.intp)
        view[known] = plan.best_photo[cell[known, 0], cell[known, 1]]
        planned = np.where(view >= 0, views[np.maximum(view, 0)], -1)
        usable = (planned >= 0) & inside[np.maximum(planned, 0), np.arange(len(points_mm))]
        chosen = np.where(usable, planned, chosen)
    return chosen.astype(np.intp)


def set_footing(points_mm: Float, normal_mm: Float, source: Int, sources: Sequence[Source]) -> Footing:
    """Where stations lie on their photos, and how a step across the crack runs there."""
    n = len(points_mm)
    px, step = np.full((n, 2), np.nan), np.full((n, 2), np.nan)
    mm_per_px = np.full(n, np.nan)
    for k, item in enumerate(sources):
        at = source == k
        if not at.any():
            continue
        px[at] = frames.apply(item.px_from_plan, points_mm[at])
        turn = jacobian(item.px_from_plan, points_mm[at])
        across = np.einsum("nij,nj->ni", turn, normal_mm[at])
        tangent = np.stack([normal_mm[at, 1], -normal_mm[at, 0]], axis=1)
        along = np.einsum("nij,nj->ni", turn, tangent)
        # Share of a plan millimetre across that lies square to the crack in the picture.
        square = np.abs(across[:, 0] * along[:, 1] - across[:, 1] * along[:, 0])
        square /= np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-12)
        mm_per_px[at] = 1.0 / np.maximum(square, 1e-9)
        step[at] = across * mm_per_px[at, None]
    return Footing(source, px, step, mm_per_px)


def read_profiles(footing: Footing, pick: Int, offsets_px: Float, sources: Sequence[Source]) -> Float32:
    """Linear grey (0 to 1) of stations ``pick`` (P,) at offsets (K,) in pixels across, shape (P, K).

    Values outside the photo come out as nan; so do rows without a photo.
    """
    out = np.full((len(pick), len(offsets_px)), np.nan, dtype=np.float32)
    source = footing.source[pick]
    offsets = offsets_px.astype(np.float32)
    for k, item in enumerate(sources):
        rows = np.flatnonzero(source == k)
        for part in np.array_split(rows, max(1, -(-len(rows) // _MAX_REMAP))):
            if not len(part):
                continue
            centre, step = footing.px[pick[part]], footing.step_px[pick[part]]
            row = centre[:, :1].astype(np.float32) + step[:, :1].astype(np.float32) * offsets
            col = centre[:, 1:].astype(np.float32) + step[:, 1:].astype(np.float32) * offsets
            out[part] = _sample(item.photo.rgb, row, col)
    return out


def _sample(rgb: npt.NDArray[np.uint8], row: Float32, col: Float32) -> Float32:
    """Bilinear samples of linear grey at (row, col); nan outside. Works on the box around them."""
    n_rows, n_cols = rgb.shape[:2]
    inside = (row >= 0) & (row <= n_rows - 1) & (col >= 0) & (col <= n_cols - 1)
    if not inside.any():
        return np.full(row.shape, np.nan, dtype=np.float32)
    r0, c0 = int(row[inside].min()), int(col[inside].min())
    r1, c1 = int(row[inside].max()) + 2, int(col[inside].max()) + 2
    if (r1 - r0) * (c1 - c0) > _BOX_PX and len(row) >= 2 * _LEAST_ROWS:
        half = len(row) // 2
        return np.vstack([_sample(rgb, row[:half], col[:half]), _sample(rgb, row[half:], col[half:])])
    linear = cv2.LUT(cv2.cvtColor(rgb[r0:r1, c0:c1], cv2.COLOR_RGB2GRAY), _LINEAR)
    grey = cv2.remap(linear, col - c0, row - r0, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.where(inside, grey.astype(np.float32) / np.float32(FULL_SCALE), np.float32(np.nan))


def coded_from_linear(linear: Float) -> Float:
    """sRGB code value (0 to 1) of linear light (0 to 1)."""
    value = np.clip(linear, 0.0, 1.0)
    coded: Float = np.where(value <= 0.0031308, 12.92 * value, 1.055 * value ** (1 / 2.4) - 0.055)
    return coded


def linear_from_coded(coded: Float) -> Float:
    """Linear light (0 to 1) of an sRGB code value (0 to 1)."""
    linear: Float = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    return linear


_LINEAR = np.rint(linear_from_coded(np.arange(256) / 255.0) * FULL_SCALE).astype(np.uint16)[None]
