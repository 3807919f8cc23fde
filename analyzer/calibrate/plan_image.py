"""Lays all photos of a job on one plan grid and settles which photo shows each spot best."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt
import shapely

from analyzer import frames
from analyzer.calibrate.limits import scale_limits
from analyzer.calibrate.resample import lay_on_grid
from analyzer.errors import CalibrationError
from analyzer.records import (
    Calibration,
    FieldBook,
    Float,
    Photo,
    PhotoReach,
    PlanGrid,
    PlanImage,
    PlanView,
    UInt8,
    read_only,
)

MARGIN_MM = 100.0
"""Strip around the slab that is shown too, so that a line at the edge is seen whole."""
MOST_CELLS = 40e6
"""Bound of the grid: 40 million cells, 120 MB of colour."""
BORDER_PX = 8.0
"""Outermost photo pixels that are not used: a line detector needs something on both sides."""
VISIBLE_PX = 1.0
MEASURABLE_PX = 3.0
"""Crack widths in photo pixels that show and that can be measured: detect at 1 to 2 px across,
measure at 3 px or more (PHOTO-PIXELS: common practice; no published minimum was found)."""

_NODE_CELLS = 16
_BAND = 256
_WINDOW_MARGIN_MM = 100.0
_FAR = 1e9
_SAMPLE_CELLS = 40000
_COARSE_CELLS = 256

FloatMap = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class _Laid:
    """One photo on the coarse nodes of the grid: log of its pixel size, and how far inside (px)."""

    photo: Photo
    calibration: Calibration
    log_size: FloatMap
    inside_px: FloatMap


def choose_mm_per_px(photos: Sequence[Photo], calibrations: Sequence[Calibration], field: FieldBook) -> float:
    """Cell size of the plan grid in mm: the median pixel size of the photos on the slab.

    Of all spots of the slab that some photo shows, the pixel size of the photo that resolves the
    spot best, as the geometric mean of its two axes; the median over the spots. Not finer, and
    not finer than keeps the grid within ``MOST_CELLS`` cells.

    Raises
    ------
    CalibrationError
        No photo with a place in plan shows any of the slab.
    """
    coarse = _grid(field, _slab_span(field) / 64)
    on_slab = _polygon_mask(_outline(field), coarse)
    best = np.full(on_slab.shape, np.inf)
    for photo, calibration in _with_place(photos, calibrations):
        laid = _lay_nodes(photo, calibration, coarse, 1)
        trusted = _trusted_mask(calibration, coarse)
        px = frames.apply(np.linalg.inv(calibration.plan_from_px), _node_places(coarse, 1))
        size = frames.mm_per_px_at(calibration.plan_from_px, px)
        mean = np.sqrt(size[:, 0] * size[:, 1]).reshape(on_slab.shape)
        usable = on_slab & trusted & (laid.inside_px > 0)
        best = np.where(usable, np.fmin(best, mean), best)
    seen = best[np.isfinite(best)]
    if not seen.size:
        raise _nothing_seen(field)
    x0, y0, x1, y1 = _bounds(field)
    least = float(np.sqrt((x1 - x0) * (y1 - y0) / MOST_CELLS))
    return max(float(np.median(seen)), least)


def lay_plan_image(
    photos: Sequence[Photo],
    calibrations: Sequence[Calibration],
    field: FieldBook,
    mm_per_px: float | None = None,
) -> PlanImage:
    """All photos on one north-up grid over the slab and a margin of ``MARGIN_MM``.

    Each photo is laid on its own window only. Its ``best`` mask is where it resolves the spot
    best: the smaller of the pixel sizes across the coarser axis, away from its border, within
    its trusted part, on the slab, at most ``pixel_greatest`` (``limits.toml``). The masks do not
    overlap, so nothing is counted twice. The boundary between two photos is where their pixel
    sizes are equal, a smooth curve.

    A crack shows from about ``VISIBLE_PX`` pixels and can be measured from ``MEASURABLE_PX``. With
    p the pixel size that nine tenths of the photo's own part keep to, across the coarser axis:
    ``visible_width_mm = 1 p`` (or one cell of the grid, if that is coarser) and
    ``measurable_width_mm = 3 p``.

    Parameters
    ----------
    photos, calibrations : same length and order; close-ups without a place in plan are passed over
    field : for the outline, in mm
    mm_per_px : cell size; None takes :func:`choose_mm_per_px`. The grid is bounded to
        ``MOST_CELLS`` (40 million) cells.

    Raises
    ------
    CalibrationError
        No photo shows any of the slab, photos and calibrations do not belong together, or the
        cell size asks for too many cells.
    """
    size_mm = choose_mm_per_px(photos, calibrations, field) if mm_per_px is None else mm_per_px
    grid = _grid(field, size_mm)
    if grid.n_rows * grid.n_cols > 1.02 * MOST_CELLS:
        raise CalibrationError(
            "plan image",
            f"{size_mm:g} mm per pixel asks for {grid.n_rows * grid.n_cols / 1e6:.0f} million cells",
            f"take {np.sqrt(grid.n_rows * grid.n_cols / MOST_CELLS) * size_mm:.2g} mm or more",
        )
    laid = [_lay_nodes(p, c, grid, _NODE_CELLS) for p, c in _with_place(photos, calibrations)]
    on_slab = _polygon_mask(_outline(field), grid)
    owner = _owners(laid, grid, on_slab)
    views: list[PlanView] = []
    reaches: list[PhotoReach] = []
    cell_mm2 = grid.mm_per_px**2
    counts = np.bincount(owner.ravel()[owner.ravel() >= 0], minlength=len(laid)) if laid else np.zeros(0)
    index_of_view = np.full(len(laid) + 1, -1, np.int16)
    for k, one in enumerate(laid):
        if not counts[k]:
            continue
        index_of_view[k] = len(views)
        mine = owner == k
        views.append(_view(one, mine, grid))
        reaches.append(_reach(one, mine, grid, float(counts[k]) * cell_mm2))
    if not views:
        raise _nothing_seen(field)
    coarse, best_photo = _coarse_map(owner, on_slab, grid, index_of_view)
    slab_mm2 = float(shapely.Polygon(_outline(field)).area)
    seen_mm2 = min(float(counts.sum()) * cell_mm2, slab_mm2)
    return PlanImage(grid, tuple(views), tuple(reaches), coarse, best_photo, slab_mm2, seen_mm2)


def _with_place(
    photos: Sequence[Photo], calibrations: Sequence[Calibration]
) -> list[tuple[Photo, Calibration]]:
    if len(photos) != len(calibrations) or any(
        p.photo_id != c.photo_id for p, c in zip(photos, calibrations, strict=False)
    ):
        raise CalibrationError("plan image", "photos and scales do not match", "pass both in one order")
    return [(p, c) for p, c in zip(photos, calibrations, strict=True) if c.has_plan_position]


def _outline(field: FieldBook) -> Float:
    return np.array([[c.x_mm, c.y_mm] for c in field.outline], dtype=float)


def _bounds(field: FieldBook) -> tuple[float, float, float, float]:
    low, high = _outline(field).min(axis=0) - MARGIN_MM, _outline(field).max(axis=0) + MARGIN_MM
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _slab_span(field: FieldBook) -> float:
    x0, y0, x1, y1 = _bounds(field)
    return max(x1 - x0, y1 - y0)


def _grid(field: FieldBook, mm_per_px: float) -> PlanGrid:
    x0, y0, x1, y1 = _bounds(field)
    n_rows, n_cols = (max(2, int(np.ceil(d / mm_per_px)) + 1) for d in (y1 - y0, x1 - x0))
    return PlanGrid(x0, y1, mm_per_px, n_rows, n_cols)


def _polygon_mask(polygon_mm: Float, grid: PlanGrid) -> npt.NDArray[np.bool_]:
    """Cells (n_rows, n_cols) whose centre lies in a polygon, to a sixteenth of a cell."""
    cells = frames.xy_from_rc(frames.apply(frames.grid_from_plan(grid), polygon_mm))
    mask = np.zeros((grid.n_rows, grid.n_cols), np.uint8)
    cv2.fillPoly(mask, [np.rint(cells * 16).astype(np.int32)], (1,), cv2.LINE_8, 4)
    return mask.view(np.bool_)


def _trusted_mask(calibration: Calibration, grid: PlanGrid) -> npt.NDArray[np.bool_]:
    if not calibration.trusted_mm:
        return np.ones((grid.n_rows, grid.n_cols), np.bool_)
    return _polygon_mask(np.array(calibration.trusted_mm), grid)


def _node_places(grid: PlanGrid, step: int) -> Float:
    """Plan places (N, 2) of every ``step``-th cell, one more beyond the end."""
    rows, cols = _node_axes(grid, step)
    r, c = np.meshgrid(rows, cols, indexing="ij")
    return frames.apply(frames.plan_from_grid(grid), np.column_stack([r.ravel(), c.ravel()]))


def _node_axes(grid: PlanGrid, step: int) -> tuple[Float, Float]:
    if step == 1:
        return np.arange(grid.n_rows, dtype=float), np.arange(grid.n_cols, dtype=float)
    return (
        np.arange(-(-grid.n_rows // step) + 1, dtype=float) * step,
        np.arange(-(-grid.n_cols // step) + 1, dtype=float) * step,
    )


def _lay_nodes(photo: Photo, calibration: Calibration, grid: PlanGrid, step: int) -> _Laid:
    """Pixel size across the coarser axis and distance inside the photo, at the coarse nodes."""
    shape = tuple(len(a) for a in _node_axes(grid, step))
    places = _node_places(grid, step)
    px_from_plan = np.linalg.inv(calibration.plan_from_px)
    px = frames.apply(px_from_plan, places)
    n_rows, n_cols = photo.rgb.shape[:2]
    middle = frames.apply(calibration.plan_from_px, [[(n_rows - 1) / 2, (n_cols - 1) / 2]])
    side = np.sign(np.append(middle[0], 1.0) @ px_from_plan[2])
    w = np.column_stack([places, np.ones(len(places))]) @ px_from_plan[2] * side
    front = (w > 0) & np.isfinite(px).all(axis=1)
    size = np.full(len(places), _FAR)
    size[front] = frames.mm_per_px_at(calibration.plan_from_px, px[front])[:, 0]
    inside = np.min([px[:, 0], px[:, 1], n_rows - 1 - px[:, 0], n_cols - 1 - px[:, 1]], axis=0) - BORDER_PX
    inside = np.where(front, np.clip(inside, -_FAR, _FAR), -_FAR)
    return _Laid(
        photo,
        calibration,
        np.log(np.minimum(size, _FAR)).astype(np.float32).reshape(shape),
        inside.astype(np.float32).reshape(shape),
    )


def _owners(laid: list[_Laid], grid: PlanGrid, on_slab: npt.NDArray[np.bool_]) -> npt.NDArray[np.int16]:
    """Index of the photo that resolves each cell best, -1 where none does or off the slab.

    Pixel sizes are interpolated from the coarse nodes in bands of rows, so that memory stays
    small; between nodes they change smoothly.
    """
    owner = np.full((grid.n_rows, grid.n_cols), -1, np.int16)
    if not laid:
        return owner
    limit = np.float32(np.log(scale_limits().pixel_greatest))
    trusted = [_trusted_mask(one.calibration, grid) if one.calibration.trusted_mm else None for one in laid]
    for r0 in range(0, grid.n_rows, _BAND):
        n_r = min(_BAND, grid.n_rows - r0)
        least = np.full((n_r, grid.n_cols), limit, np.float32)
        band = owner[r0 : r0 + n_r]
        for k, one in enumerate(laid):
            inside = _interpolate(one.inside_px, r0, n_r, grid.n_cols)
            if not (inside > 0).any():
                continue
            size = _interpolate(one.log_size, r0, n_r, grid.n_cols)
            better = (size < least) & (inside > 0) & on_slab[r0 : r0 + n_r]
            if (mask := trusted[k]) is not None:
                better &= mask[r0 : r0 + n_r]
            least[better] = size[better]
            band[better] = k
    return owner


def _interpolate(nodes: FloatMap, r0: int, n_r: int, n_c: int) -> FloatMap:
    """Values of the coarse nodes at cells of a band of rows, bilinear."""
    step = 1.0 / _NODE_CELLS
    matrix = np.array([[step, 0.0, 0.0], [0.0, step, r0 * step]])
    values: FloatMap = cv2.warpAffine(
        nodes,
        matrix,
        (n_c, n_r),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return values


def _view(one: _Laid, mine: npt.NDArray[np.bool_], grid: PlanGrid) -> PlanView:
    """The photo on the window around its own part and a margin."""
    rows, cols = np.flatnonzero(mine.any(axis=1)), np.flatnonzero(mine.any(axis=0))
    margin = int(np.ceil(_WINDOW_MARGIN_MM / grid.mm_per_px))
    r0, r1 = max(0, int(rows[0]) - margin), min(grid.n_rows, int(rows[-1]) + 1 + margin)
    c0, c1 = max(0, int(cols[0]) - margin), min(grid.n_cols, int(cols[-1]) + 1 + margin)
    x0, y0 = frames.apply(frames.plan_from_grid(grid), [[r0, c0]])[0]
    window = PlanGrid(float(x0), float(y0), grid.mm_per_px, r1 - r0, c1 - c0)
    rgb: UInt8 = lay_on_grid(one.photo.rgb, one.calibration.plan_from_px, window)
    return PlanView(one.photo.photo_id, rgb, mine[r0:r1, c0:c1].copy(), r0, c0)


def _reach(one: _Laid, mine: npt.NDArray[np.bool_], grid: PlanGrid, area_mm2: float) -> PhotoReach:
    """What the photo could show and measure, from its pixel size on a sample of its own cells."""
    step = max(1, int(np.sqrt(mine.size / _SAMPLE_CELLS)))
    cells = np.argwhere(mine[::step, ::step]) * step
    if not len(cells):
        cells = np.argwhere(mine)
    places = frames.apply(frames.plan_from_grid(grid), cells)
    px = frames.apply(np.linalg.inv(one.calibration.plan_from_px), places)
    size = frames.mm_per_px_at(one.calibration.plan_from_px, px)[:, 0]
    usual = float(np.quantile(size, 0.9))
    return PhotoReach(
        photo_id=one.photo.photo_id,
        mm_per_px_median=float(np.median(size)),
        mm_per_px_worst=float(size.max()),
        visible_width_mm=VISIBLE_PX * max(usual, grid.mm_per_px),
        measurable_width_mm=MEASURABLE_PX * usual,
        area_best_mm2=area_mm2,
    )


def _coarse_map(
    owner: npt.NDArray[np.int16],
    on_slab: npt.NDArray[np.bool_],
    grid: PlanGrid,
    index_of_view: npt.NDArray[np.int16],
) -> tuple[PlanGrid, npt.NDArray[np.int16]]:
    """Every so-many-th cell: index of the view, -1 on the slab but unseen, -2 off the slab."""
    step = max(1, -(-max(grid.n_rows, grid.n_cols) // _COARSE_CELLS))
    views = index_of_view[owner[::step, ::step]]
    best = np.where(on_slab[::step, ::step], views, np.int16(-2)).astype(np.int16)
    coarse = PlanGrid(grid.x0_mm, grid.y0_mm, grid.mm_per_px * step, *best.shape)
    return coarse, read_only(best)


def _nothing_seen(field: FieldBook) -> CalibrationError:
    return CalibrationError(
        "plan image",
        "no scaled photo shows any of the slab",
        f"check that the photos show the outline given in {field.source}",
    )
