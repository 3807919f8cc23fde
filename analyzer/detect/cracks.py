"""From score maps to lines: crack graphs, joints and masks of one picture.

One graph is drawn over *all* lines, whatever their class, and each line is then judged as a whole:
first joints are fitted, then what runs inside a joint is taken from the cracks, and each run that is
left gets its probability of being a crack. So a map that wavers between crack and joint along one
line does not break it into both, and a short bright fleck does not pass for a crack.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from analyzer.detect.classes import outside_joints, outside_rim, split_mixed
from analyzer.detect.evidence import LineModel, crack_features, load_model
from analyzer.detect.graph import Branch, components, prune, trace
from analyzer.detect.joint_lines import JointLine
from analyzer.detect.joints import fit_joints, straight_pieces
from analyzer.detect.kinds import joint_kind
from analyzer.detect.links import link_gaps
from analyzer.detect.masks import crack_mask, joint_bands, joint_mask
from analyzer.detect.outline import along_outline, fill_polygon
from analyzer.detect.ridge import fill_holes, hysteresis, thin, touching
from analyzer.detect.settings import DEFAULTS, TraceSettings
from analyzer.records.picture import PictureTraces, PxBranch, PxJoint, ScoreMaps, read_only
from analyzer.terms import DetectMethod

UInt8 = npt.NDArray[np.uint8]
Float = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """Lines before anything is decided: ridge branches, and fitted lines with their probability."""

    branches: list[Branch]
    lines: list[JointLine]
    crack: UInt8
    joint: UInt8
    mask: UInt8


def trace_maps(
    maps: ScoreMaps,
    mm_per_px: float | None = None,
    outline_px: npt.ArrayLike | None = None,
    threshold: float | None = None,
    settings: TraceSettings = DEFAULTS,
    seen: UInt8 | None = None,
) -> PictureTraces:
    """Trace cracks and joints on score maps.

    Parameters
    ----------
    maps : ScoreMaps
        (R, C) uint8 maps, 255 = certain.
    mm_per_px : float, optional
        Scale, if known; then the shortest crack kept is in millimetres.
    outline_px : (N, 2) of (row, col), optional
        Corners of the slab; what lies beyond is ignored, and joints are expected to reach it.
    threshold : float, optional
        0..1; probability from which a line is called crack, and a pixel beside it. Default: that of
        the method.
    settings : TraceSettings
    seen : (R, C) uint8, optional
        0 where no photo shows the slab: a joint is not blamed for not being seen there.

    Returns
    -------
    PictureTraces
        Cracks by falling length, joints by falling probability; masks (R, C) of 0 and 255 at about the
        true width of the lines.
    """
    if maps.crack.size > settings.reduce_over_px:
        return trace_reduced(maps, mm_per_px, outline_px, threshold, settings, seen)
    if threshold is None:
        network = maps.method is DetectMethod.NETWORK
        threshold = settings.network_threshold if network else settings.filters_threshold
    model = load_model(maps.method)
    outline = None if outline_px is None else np.asarray(outline_px, float)
    found = find_candidates(maps, threshold, model, outline, settings, seen)
    lines = [q for q in found.lines if q.probability >= settings.joint_probability]
    rim_px = 0.0 if outline is None or mm_per_px is None else settings.edge_rim_mm / mm_per_px
    if outline is not None and rim_px:
        lines = [q for q in lines if along_outline(q.points, outline, rim_px).mean() < 0.5]
    if mm_per_px is not None:
        least_px = settings.least_joint_mm / mm_per_px
        lines = [q for q in lines if q.reaches == 2 or q.length_px >= least_px]
    lines.sort(key=lambda q: -q.probability)
    runs = free_runs(found, lines, threshold, settings)
    if outline is not None and rim_px:
        runs = outside_rim(runs, outline, rim_px)
    rejected = [q for q in found.lines if q.probability < settings.joint_probability]
    probability = model.crack_probability(crack_features(runs, maps, rejected))
    groups = _kept_cracks(runs, probability, threshold, mm_per_px, settings)
    accepted = [b for g in groups for b, _ in g]
    chosen = {id(b) for b in accepted}
    others = [b for b in runs if id(b) not in chosen]
    high = max(1, round(255 * threshold * settings.mask_fraction))
    low = max(1, round(255 * threshold * settings.low_fraction))
    return PictureTraces(
        cracks=tuple(_as_crack(g) for g in groups),
        joints=tuple(
            PxJoint(_thinned(q.points), q.probability, joint_kind(q, lines, mm_per_px), 2.0 * q.half_px)
            for q in lines
        ),
        crack_mask=read_only(crack_mask(accepted, others, lines, found.crack, found.joint, high, low)),
        joint_mask=read_only(joint_mask(lines, found.joint, high)),
        maps=maps,
        slab_probability=_slab_probability(maps.slab, outline, seen),
        threshold=threshold,
    )


def trace_reduced(
    maps: ScoreMaps,
    mm_per_px: float | None,
    outline_px: npt.ArrayLike | None,
    threshold: float | None,
    settings: TraceSettings,
    seen: UInt8 | None,
) -> PictureTraces:
    """As :func:`trace_maps`, on maps of half the size: for pictures whose working memory would not fit.

    The greatest score of four pixels is kept, so that no hairline is lost; lines are exact to about a
    pixel, masks to two.
    """
    half = ScoreMaps(
        crack=_halved(maps.crack),
        joint=_halved(maps.joint),
        method=maps.method,
        patch=None if maps.patch is None else _halved(maps.patch),
        slab=None if maps.slab is None else _halved(maps.slab),
        weights_sha256=maps.weights_sha256,
    )
    found = trace_maps(
        half,
        None if mm_per_px is None else 2.0 * mm_per_px,
        None if outline_px is None else (np.asarray(outline_px, float) - 0.5) / 2.0,
        threshold,
        settings,
        None if seen is None else _halved(seen),
    )
    rows, cols = maps.crack.shape
    return PictureTraces(
        cracks=tuple(
            tuple(replace(b, points_px=read_only(2.0 * b.points_px + 0.5)) for b in group)
            for group in found.cracks
        ),
        joints=tuple(
            replace(
                q,
                points_px=read_only(2.0 * q.points_px + 0.5),
                width_px=None if q.width_px is None else 2.0 * q.width_px,
            )
            for q in found.joints
        ),
        crack_mask=read_only(_doubled(found.crack_mask)[:rows, :cols]),
        joint_mask=read_only(_doubled(found.joint_mask)[:rows, :cols]),
        maps=maps,
        slab_probability=found.slab_probability,
        threshold=found.threshold,
    )


def _halved(layer: UInt8) -> UInt8:
    """The greatest of each 2 x 2 px; an odd last row or column stands alone."""
    rows, cols = layer.shape
    if rows % 2 or cols % 2:
        layer = np.asarray(
            cv2.copyMakeBorder(layer, 0, rows % 2, 0, cols % 2, cv2.BORDER_REPLICATE), np.uint8
        )
    upper = np.maximum(layer[::2, ::2], layer[::2, 1::2])
    return np.maximum(upper, np.maximum(layer[1::2, ::2], layer[1::2, 1::2]))


def _doubled(mask: UInt8) -> UInt8:
    """Each pixel as 2 x 2 px."""
    size = (2 * mask.shape[1], 2 * mask.shape[0])
    return np.asarray(cv2.resize(mask, size, interpolation=cv2.INTER_NEAREST), np.uint8)


def find_candidates(
    maps: ScoreMaps,
    threshold: float,
    model: LineModel,
    outline: Float | None = None,
    settings: TraceSettings = DEFAULTS,
    seen: UInt8 | None = None,
) -> Candidates:
    """All ridges that might be lines, pruned and linked, and the straight lines fitted to them."""
    crack, joint = maps.crack, maps.joint
    if outline is not None:
        inside = fill_polygon(crack.shape, outline)
        crack = np.asarray(cv2.bitwise_and(crack, inside), np.uint8)
        joint = np.asarray(cv2.bitwise_and(joint, inside), np.uint8)
    either = np.asarray(cv2.max(crack, joint), np.uint8)
    seed = max(1, round(255 * threshold * settings.seed_fraction))
    low = max(1, round(255 * threshold * settings.low_fraction))
    mask = fill_holes(hysteresis(either, low, seed, settings.least_strong_px), settings.hole_px2)
    branches = trace(thin(mask), mask)
    branches = prune(branches, settings.spur_widths, settings.spur_px)
    branches = link_gaps(branches, either, threshold, settings)
    branches = prune(branches, settings.spur_widths, settings.spur_px)
    branches = split_mixed(branches, crack, joint, settings)
    pieces = straight_pieces(branches, crack, joint, settings)
    lines = fit_joints(pieces, crack, joint, threshold, model, settings, outline, seen)
    return Candidates(branches, lines, crack, joint, mask)


def free_runs(
    found: Candidates, lines: list[JointLine], threshold: float, settings: TraceSettings
) -> list[Branch]:
    """Runs that are not joint, once it is known which lines are.

    A crack beside a wide joint is one blob with it; so what touches one is thinned anew without it.
    """
    wide = [q for q in lines if q.half_px >= settings.wide_joint_half_px]
    if not wide:
        return outside_joints(found.branches, lines, settings)
    band = joint_bands(wide, found.crack, found.joint)
    merged = touching(found.mask, np.asarray(cv2.bitwise_and(band, 255 * found.mask), np.uint8))
    apart = np.asarray(cv2.bitwise_and(merged, cv2.bitwise_not(band)), np.uint8)
    branches = [b for b in found.branches if not merged[b.points[0, 0], b.points[0, 1]]]
    fresh = 1 + max((max(b.start, b.end) for b in branches), default=0)
    branches += [replace(b, start=b.start + fresh, end=b.end + fresh) for b in trace(thin(apart), apart)]
    branches = prune(branches, settings.spur_widths, settings.spur_px)
    either = np.asarray(cv2.max(found.crack, found.joint), np.uint8)
    branches = link_gaps(branches, either, threshold, settings)
    return outside_joints(branches, lines, settings)


def _slab_probability(slab: UInt8 | None, outline_px: Float | None, seen: UInt8 | None) -> float | None:
    """Mean score of the slab surface over the picture (inside the outline, where seen)."""
    if slab is None:
        return None
    where = None if outline_px is None else fill_polygon(slab.shape, outline_px)
    if seen is not None:
        where = seen if where is None else np.asarray(cv2.bitwise_and(where, seen), np.uint8)
    if where is not None and not where.any():
        return None
    return float(cv2.mean(slab, where)[0]) / 255.0


def _kept_cracks(
    runs: list[Branch],
    probability: Float,
    threshold: float,
    mm_per_px: float | None,
    settings: TraceSettings,
) -> list[list[tuple[Branch, float]]]:
    """Connected cracks of probable runs, the longest first, each run with its probability."""
    least = settings.least_crack_px
    if mm_per_px is not None:
        least = min(least, max(8.0, settings.least_crack_mm / mm_per_px))
    of = {id(b): float(p) for b, p in zip(runs, probability, strict=True)}
    likely = [b for b, p in zip(runs, probability, strict=True) if p >= threshold]
    kept = []
    for members in components(likely):
        group = [likely[i] for i in members]
        length = sum(b.length_px for b in group)
        if length >= least:
            kept.append((length, [(b, of[id(b)]) for b in group]))
    return [g for _, g in sorted(kept, key=lambda x: -x[0])]


def _as_crack(group: list[tuple[Branch, float]]) -> tuple[PxBranch, ...]:
    """The record of one crack; nodes are numbered from 0 in order of appearance."""
    numbers: dict[int, int] = {}
    out = []
    for b, probability in group:
        start = numbers.setdefault(b.start, len(numbers))
        end = numbers.setdefault(b.end, len(numbers))
        out.append(PxBranch(read_only(_smoothed(b.points)), probability, start, end))
    return tuple(out)


def _smoothed(points: npt.NDArray[np.int64]) -> Float:
    """The pixel chain with the steps of the grid averaged out over five points, ends kept."""
    p = points.astype(float)
    if len(p) < 5:
        return p
    out = p.copy()
    out[1:-1] = (p[:-2] + p[1:-1] + p[2:]) / 3.0
    out[2:-2] = (p[:-4] + p[1:-3] + p[2:-2] + p[3:-1] + p[4:]) / 5.0
    return out


def _thinned(points: Float) -> Float:
    """A fitted line with a point every 16 px or so, ends kept."""
    n = max(2, math.ceil(len(points) / 16))
    return read_only(np.ascontiguousarray(points[np.linspace(0, len(points) - 1, n).astype(int)]))
