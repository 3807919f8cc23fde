"""The two ways into the stage: a bare picture, and the plan picture of a job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import cv2
import numpy as np
import numpy.typing as npt

from analyzer.detect.cracks import trace_maps
from analyzer.detect.exposure import read_share
from analyzer.detect.outline import fill_polygon
from analyzer.detect.settings import DEFAULTS, TraceSettings
from analyzer.errors import PictureError
from analyzer.frames import apply, grid_from_plan, plan_from_grid
from analyzer.records.picture import (
    CrackBranch,
    CrackTrace,
    Detection,
    JointTrace,
    PictureTraces,
    PlanGrid,
    PlanImage,
    PlanView,
    PxBranch,
    ScoreMaps,
    SpallTrace,
    read_only,
)
from analyzer.terms import DetectMethod

UInt8 = npt.NDArray[np.uint8]
Float = npt.NDArray[np.float64]
PointMm = tuple[float, float]

LEAST_SIDE_PX = 64
MOST_PX = 200_000_000
_NO_DATA_RIM_PX = 6
_MARGIN_PX = 160
_ENLARGED_PX = 12e6
_LEAST_SPALL_MM2 = 400.0


def score_maps(
    rgb: UInt8,
    mm_per_px: float | None = None,
    method: DetectMethod = DetectMethod.NETWORK,
    threads: int | None = None,
) -> ScoreMaps:
    """Score maps of a picture by either method.

    Parameters
    ----------
    rgb : (R, C, 3) uint8
    mm_per_px : float, optional
    method : DetectMethod
        ``FILTERS`` needs neither weights nor the engine that runs them.
    threads : int, optional
    """
    if method is DetectMethod.FILTERS:
        from analyzer.detect.filters import score_filters

        return score_filters(rgb, mm_per_px, threads)
    from analyzer.detect.network import score_network

    return score_network(rgb, mm_per_px, threads)


def detect_picture(
    rgb: UInt8,
    mm_per_px: float | None = None,
    method: DetectMethod = DetectMethod.NETWORK,
    threshold: float | None = None,
    threads: int | None = None,
    settings: TraceSettings = DEFAULTS,
) -> PictureTraces:
    """Find cracks and joints on one picture.

    Parameters
    ----------
    rgb : (R, C, 3) uint8
        Upright picture, 64 px a side or more, 200 megapixels or less.
    mm_per_px : float, optional
        Scale on the slab, if known.
    method : DetectMethod
    threshold : float, optional
        0..1; default: that of the method.
    threads : int, optional
        Default: all cores.
    settings : TraceSettings

    Returns
    -------
    PictureTraces

    Raises
    ------
    PictureError
        The array is no such picture, or the threshold is not a probability.
    """
    if rgb.ndim != 3 or rgb.shape[2] != 3 or rgb.dtype != np.uint8:
        raise PictureError("picture", f"its pixels have shape {rgb.shape}", "give rows x columns x 3 bytes")
    rows, cols = rgb.shape[:2]
    if min(rows, cols) < LEAST_SIDE_PX or rows * cols > MOST_PX:
        raise PictureError(
            "picture",
            f"it is {cols} x {rows} px",
            f"give one of {LEAST_SIDE_PX} px a side or more and {MOST_PX // 1_000_000} megapixels or less",
        )
    _check_threshold(threshold)
    maps = score_maps(rgb, mm_per_px, method, threads)
    traces = trace_maps(maps, mm_per_px, threshold=threshold, settings=settings)
    if traces.slab_probability is None:
        return traces
    return replace(traces, slab_probability=min(traces.slab_probability, read_share(rgb)))


def find_lines(
    plan: PlanImage,
    outline_mm: Sequence[PointMm],
    method: DetectMethod = DetectMethod.NETWORK,
    threshold: float | None = None,
    ignore_mm: Sequence[Sequence[PointMm]] = (),
    threads: int | None = None,
    settings: TraceSettings = DEFAULTS,
) -> Detection:
    """Find cracks, joints and spalls of a whole slab.

    Each photo is scored on its own, so that no seam between photos can look like a line; the scores
    are laid together where each photo resolves the slab best, and lines are traced once over all.

    Parameters
    ----------
    plan : PlanImage
    outline_mm : sequence of (x_mm, y_mm)
        Corners of the slab in plan.
    method : DetectMethod
    threshold : float, optional
        0..1; default: that of the method.
    ignore_mm : sequence of polygons of (x_mm, y_mm)
        Printed sheets and other things known to lie on the slab.
    threads : int, optional
    settings : TraceSettings

    Returns
    -------
    Detection
        Cracks C1, C2, ... by falling length; joints J1, J2, ... from the top of the plan down and
        from left to right. ``slab_probability`` is the mean over what the photos show of
        the slab, and no more than the share of it that is neither blown out nor black.

    Raises
    ------
    PictureError
        The threshold is not a probability.
    """
    _check_threshold(threshold)
    grid = plan.grid
    to_px = grid_from_plan(grid)
    shape = (grid.n_rows, grid.n_cols)
    layers = {name: np.zeros(shape, np.uint8) for name in ("crack", "joint")}
    seen = np.zeros(shape, np.uint8)
    digest: str | None = None
    for view in plan.views:
        digest = _lay_view(view, grid, method, threads, layers, seen)
    for polygon in ignore_mm:
        sheet = fill_polygon(shape, apply(to_px, polygon))
        rim = 2 * max(1, round(settings.sheet_rim_mm / grid.mm_per_px)) + 1
        sheet = cv2.dilate(sheet, np.ones((rim, rim), np.uint8))
        for layer in (*layers.values(), seen):
            layer[sheet > 0] = 0
    maps = ScoreMaps(
        crack=read_only(layers["crack"]),
        joint=read_only(layers["joint"]),
        method=method,
        patch=layers.get("patch"),
        slab=layers.get("slab"),
        weights_sha256=digest,
    )
    outline_px = apply(to_px, outline_mm)
    traces = trace_maps(maps, grid.mm_per_px, outline_px, threshold, settings, seen)
    slab = traces.slab_probability
    if slab is not None:
        weights = [float(view.best.sum()) for view in plan.views]
        shares = [read_share(view.rgb, view.best) for view in plan.views]
        slab = min(slab, float(np.average(shares, weights=weights)) if sum(weights) else 0.0)
    to_mm = plan_from_grid(grid)
    return Detection(
        joints=_joints(traces, to_mm, grid),
        cracks=tuple(_crack(f"C{k}", g, to_mm) for k, g in enumerate(traces.cracks, 1)),
        spalls=() if maps.patch is None else _spalls(maps.patch, traces.threshold, outline_px, to_mm, grid),
        method=method,
        weights_sha256=digest,
        slab_probability=slab,
        threshold=traces.threshold,
    )


def _check_threshold(threshold: float | None) -> None:
    """A threshold is a probability, its ends excluded."""
    if threshold is not None and not 0.0 < threshold < 1.0:
        raise PictureError("threshold", f"{threshold} is not between 0 and 1", "give for example 0.5")


def _lay_view(
    view: PlanView,
    grid: PlanGrid,
    method: DetectMethod,
    threads: int | None,
    layers: dict[str, UInt8],
    seen: UInt8,
) -> str | None:
    """Score one photo and lay its scores on the grid where it is the best; returns the weights' hash."""
    digest: str | None = None
    # only the parts that are used are scored, each with a margin of what lies around
    for part in _used_parts(view.best):
        rgb, use = view.rgb[part], view.best[part]
        empty = (rgb.max(axis=2) == 0) & ~use
        if empty.any():
            rgb = _without_empty(rgb, empty)
            rim = 2 * _NO_DATA_RIM_PX + 1
            use = use & (cv2.dilate(empty.view(np.uint8), np.ones((rim, rim), np.uint8)) == 0)
        maps = score_maps(np.ascontiguousarray(rgb), grid.mm_per_px, method, threads)
        row0, col0 = view.row0 + part[0].start, view.col0 + part[1].start
        window = (slice(row0, row0 + use.shape[0]), slice(col0, col0 + use.shape[1]))
        for name in ("crack", "joint", "patch", "slab"):
            score = getattr(maps, name)
            if score is not None:
                layer = layers.setdefault(name, np.zeros((grid.n_rows, grid.n_cols), np.uint8))
                layer[window][use] = score[use]
        seen[window][use] = 255
        digest = maps.weights_sha256
    return digest


def _used_parts(best: npt.NDArray[np.bool_]) -> list[tuple[slice, slice]]:
    """Windows that hold all set flags with a margin, merged where that is less to score."""
    cell = 16
    rows, cols = best.shape
    small = cv2.resize(
        best.view(np.uint8) * np.uint8(255),
        (-(-cols // cell), -(-rows // cell)),
        interpolation=cv2.INTER_AREA,
    )
    boxes = cv2.connectedComponentsWithStats((small > 0).astype(np.uint8), connectivity=8)[2][1:, :4]
    found = [
        (
            max(0, y * cell - _MARGIN_PX), min(rows, (y + h) * cell + _MARGIN_PX),
            max(0, x * cell - _MARGIN_PX), min(cols, (x + w) * cell + _MARGIN_PX),
        )
        for x, y, w, h in boxes.tolist()
    ]  # fmt: skip
    merged = True
    while merged:
        merged = False
        for i, j in combinations(range(len(found)), 2):
            a, b = found[i], found[j]
            both = (min(a[0], b[0]), max(a[1], b[1]), min(a[2], b[2]), max(a[3], b[3]))
            if _work(both) <= _work(a) + _work(b):
                found = [box for k, box in enumerate(found) if k not in (i, j)] + [both]
                merged = True
                break
    return [(slice(a, b), slice(c, d)) for a, b, c, d in sorted(found)]


def _work(box: tuple[int, int, int, int]) -> float:
    """Pixels to be scored for (first row, end row, first column, end column); small ones are enlarged."""
    area = float((box[1] - box[0]) * (box[3] - box[2]))
    return min(4.0 * area, max(area, _ENLARGED_PX))


def _without_empty(rgb: UInt8, empty: npt.NDArray[np.bool_]) -> UInt8:
    """The picture with its empty parts filled from nearby, so that its border is no step."""
    rows, cols = empty.shape
    small_size = (max(1, cols // 16), max(1, rows // 16))
    valid = cv2.resize(255 * (~empty).astype(np.uint8), small_size, interpolation=cv2.INTER_AREA)
    small = cv2.resize(rgb, small_size, interpolation=cv2.INTER_AREA).astype(np.float32)
    small = np.clip(small * (255.0 / np.maximum(valid, 1.0))[:, :, None], 0, 255).astype(np.uint8)
    small = cv2.inpaint(small, (valid < 64).astype(np.uint8), 3, cv2.INPAINT_TELEA)
    out = rgb.copy()
    out[empty] = cv2.resize(small, (cols, rows), interpolation=cv2.INTER_LINEAR)[empty]
    return out


def _crack(crack_id: str, group: tuple[PxBranch, ...], to_mm: Float) -> CrackTrace:
    """One crack in plan; its probability is the mean over its length."""
    branches = tuple(
        CrackBranch(read_only(apply(to_mm, b.points_px)), b.probability, b.start_node, b.end_node)
        for b in group
    )
    weights = [max(len(b.points_px) - 1, 1) for b in group]
    return CrackTrace(crack_id, branches, float(np.average([b.probability for b in group], weights=weights)))


def _joints(traces: PictureTraces, to_mm: Float, grid: PlanGrid) -> tuple[JointTrace, ...]:
    """Joints in plan, from the top down and from left to right by their middle."""

    def place(points: Float) -> tuple[float, float]:
        middle = (points[0] + points[-1]) / 2.0
        # a hand's breadth: the order must not hang on a pixel
        return (-round(float(middle[1]) / 100.0), float(middle[0]))

    found = [(apply(to_mm, q.points_px), q) for q in traces.joints]
    found.sort(key=lambda pq: place(pq[0]))
    return tuple(
        JointTrace(
            f"J{k}",
            read_only(points),
            q.kind,
            q.probability,
            width_mm=None if q.width_px is None else q.width_px * grid.mm_per_px,
        )
        for k, (points, q) in enumerate(found, 1)
    )


def _spalls(
    patch: UInt8, threshold: float, outline_px: Float, to_mm: Float, grid: PlanGrid
) -> tuple[SpallTrace, ...]:
    """Areas of the patch map over the threshold, inside the outline, largest first."""
    over = cv2.threshold(patch, round(255 * threshold) - 1, 255, cv2.THRESH_BINARY)[1]
    over = cv2.bitwise_and(over, fill_polygon(patch.shape, outline_px))
    contours, _ = cv2.findContours(over, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    out = []
    for contour in contours:
        area_mm2 = float(cv2.contourArea(contour)) * grid.mm_per_px**2
        if area_mm2 < _LEAST_SPALL_MM2:
            continue
        x, y, w, h = cv2.boundingRect(contour)
        inside = np.zeros((h, w), np.uint8)
        cv2.drawContours(inside, [contour], -1, 255, cv2.FILLED, offset=(-x, -y))
        probability = float(cv2.mean(patch[y : y + h, x : x + w], inside)[0]) / 255.0
        ring = apply(to_mm, cv2.approxPolyDP(contour, 1.0, True)[:, 0, ::-1].astype(float))
        if len(ring) >= 3:
            out.append(SpallTrace(tuple((float(a), float(b)) for a, b in ring), area_mm2, probability))
    return tuple(sorted(out, key=lambda s: -s.area_mm2))
