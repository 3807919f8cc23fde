"""From score maps to lines: crack graphs, joints and masks of one picture.

One graph is drawn over *all* lines, whatever their class, and each line is then judged as a whole:
first joints are fitted, then what runs inside a joint is taken from the cracks, and what is left is
crack or leftover by its mean scores. So a map that wavers between crack and joint along one line
does not break it into both.
"""

from __future__ import annotations

from itertools import pairwise

import cv2
import numpy as np
import numpy.typing as npt

from analyzer.detect.graph import Branch, components, join_through, prune, trace
from analyzer.detect.joint_lines import JointLine, distances
from analyzer.detect.joints import fit_joints, straight_pieces
from analyzer.detect.kinds import joint_kind
from analyzer.detect.links import link_gaps
from analyzer.detect.outline import along_outline, fill_polygon
from analyzer.detect.ridge import fill_holes, hysteresis, thin
from analyzer.detect.settings import DEFAULTS, TraceSettings
from analyzer.records.picture import PictureTraces, PxBranch, PxJoint, ScoreMaps, read_only
from analyzer.terms import DetectMethod

UInt8 = npt.NDArray[np.uint8]
Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]


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
        0..1; score from which a pixel is crack. Default: that of the method.
    settings : TraceSettings
    seen : (R, C) uint8, optional
        0 where no photo shows the slab: a joint is not blamed for not being seen there.

    Returns
    -------
    PictureTraces
        Cracks by falling length, joints by falling probability; masks (R, C) of 0 and 255 at about the
        true width of the lines.
    """
    if threshold is None:
        network = maps.method is DetectMethod.NETWORK
        threshold = settings.network_threshold if network else settings.filters_threshold
    outline = None if outline_px is None else np.asarray(outline_px, float)
    crack, joint = maps.crack, maps.joint
    if outline is not None:
        inside = fill_polygon(crack.shape, outline)
        crack, joint = cv2.bitwise_and(crack, inside), cv2.bitwise_and(joint, inside)
    either = cv2.max(crack, joint)
    high = max(1, round(255 * threshold))
    low = max(1, round(255 * threshold * settings.low_fraction))
    mask = fill_holes(hysteresis(either, low, high, settings.least_strong_px), settings.hole_px2)
    branches = trace(thin(mask), mask)
    branches = prune(branches, settings.spur_widths, settings.spur_px)
    branches = link_gaps(branches, either, threshold, settings)
    branches = prune(branches, settings.spur_widths, settings.spur_px)
    pieces = straight_pieces(branches, crack, joint, settings)
    lines = fit_joints(pieces, crack, joint, threshold, settings, outline, seen)
    if outline is not None and mm_per_px is not None:
        rim_px = settings.edge_rim_mm / mm_per_px
        lines = [q for q in lines if along_outline(q.points, outline, rim_px).mean() < 0.5]
        branches = _without_rim(branches, outline, rim_px)
    # the filters' joint score is no more than straightness: what no joint line took is crack
    lead = either if maps.method is DetectMethod.FILTERS else crack
    free, left = _split_by_class(branches, lines, lead, joint, settings)
    groups = _kept_cracks(free, crack, joint, threshold, mm_per_px, settings)
    crack_mask, joint_mask = _masks(groups, lines, left, crack, joint, high)
    return PictureTraces(
        cracks=tuple(_as_crack(g, either) for g in groups),
        joints=tuple(
            PxJoint(_thinned(q.points), q.probability, joint_kind(q, lines, mm_per_px), 2.0 * q.half_px)
            for q in lines
        ),
        crack_mask=read_only(crack_mask),
        joint_mask=read_only(joint_mask),
        maps=maps,
        slab_probability=_slab_probability(maps.slab, outline, seen),
        threshold=threshold,
    )


def _slab_probability(slab: UInt8 | None, outline_px: Float | None, seen: UInt8 | None) -> float | None:
    """Mean score of the slab surface over the picture (inside the outline, where seen)."""
    if slab is None:
        return None
    where = None if outline_px is None else fill_polygon(slab.shape, outline_px)
    if seen is not None:
        where = seen if where is None else cv2.bitwise_and(where, seen)
    if where is not None and not where.any():
        return None
    return float(cv2.mean(slab, where)[0]) / 255.0


def _without_rim(branches: list[Branch], outline: Float, rim_px: float) -> list[Branch]:
    """Branches without their runs along the outline; a new end is a free end."""
    out = []
    fresh = 1 + max((max(b.start, b.end) for b in branches), default=0)
    for b in branches:
        rim = _long_runs(along_outline(b.points.astype(float), outline, rim_px), min(rim_px, 24.0))
        edges = np.flatnonzero(np.diff(np.concatenate([[0], (~rim).view(np.int8), [0]])))
        for a, z in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
            if z - a < 2:
                continue
            start, end = b.start if a == 0 else fresh, b.end if z == len(rim) else fresh + 1
            fresh += 2
            out.append(Branch(b.points[a:z], b.half_px[a:z], start, end))
    return out


_JOINT, _CRACK, _LEFT = 0, 1, 2


def _split_by_class(
    branches: list[Branch],
    lines: list[JointLine],
    crack: UInt8,
    joint: UInt8,
    settings: TraceSettings,
) -> tuple[list[Branch], list[Branch]]:
    """Cut branches where they enter or leave a joint: (free cracks, leftovers that look like joints)."""
    cracks: list[Branch] = []
    left: list[Branch] = []
    fresh = 1 + max((max(b.start, b.end) for b in branches), default=0)
    for b in branches:
        label = _labels(b, lines, crack, joint, settings)
        changes = np.flatnonzero(np.diff(label)) + 1
        bounds = [0, *changes.tolist(), len(label)]
        for a, z in pairwise(bounds):
            if label[a] == _JOINT or z - a < 2:
                continue
            start, end = b.start, b.end
            if a > 0:
                start, fresh = fresh, fresh + 1
            if z < len(label):
                end, fresh = fresh, fresh + 1
            part = Branch(b.points[a:z], b.half_px[a:z], start, end)
            (cracks if label[a] == _CRACK else left).append(part)
    return join_through(cracks), left


def _labels(
    b: Branch,
    lines: list[JointLine],
    crack: UInt8,
    joint: UInt8,
    settings: TraceSettings,
) -> npt.NDArray[np.int8]:
    """Class of each point of a branch, constant over long runs."""
    points = b.points.astype(float)
    low, high = points.min(0), points.max(0)
    inside = np.zeros(len(points), bool)
    for q in lines:
        corridor = q.half_px + settings.straight_px + 1.0
        ends = q.points[[0, -1]]
        rim = corridor + settings.straight_fraction * q.length_px
        if (ends.min(0) - rim > high).any() or (ends.max(0) + rim < low).any():
            continue
        near = distances(points, [q])[:, 0] <= corridor
        # a crack that only crosses the joint is in the corridor for about its width
        inside |= _long_runs(near, 3.0 * corridor)
    if inside.mean() >= settings.along_joint_fraction:
        return np.full(len(points), _JOINT, np.int8)
    r, c = b.points[:, 0], b.points[:, 1]
    lead = crack[r, c].astype(float) - joint[r, c]
    window = min(len(points), 41)
    smooth = np.convolve(np.pad(lead, window // 2, mode="edge"), np.ones(window) / window, "valid")[
        : len(points)
    ]
    return np.asarray(np.where(inside, _JOINT, np.where(smooth >= 0, _CRACK, _LEFT)), np.int8)


def _long_runs(flags: Bool, least: float) -> Bool:
    """``flags`` without the runs shorter than ``least`` points; short gaps between long runs are filled."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.view(np.int8), [0]])))
    out = np.zeros(len(flags), bool)
    last = -1
    for a, z in zip(edges[::2], edges[1::2], strict=True):
        if z - a >= min(least, len(flags)):
            out[a:z] = True
            if last >= 0 and a - last <= least:
                out[last:a] = True
            last = z
    return out


def _kept_cracks(
    branches: list[Branch],
    crack: UInt8,
    joint: UInt8,
    threshold: float,
    mm_per_px: float | None,
    settings: TraceSettings,
) -> list[list[Branch]]:
    """Connected cracks that are long enough for their score, the longest first."""
    least = settings.least_crack_px
    if mm_per_px is not None:
        least = min(least, max(8.0, settings.least_crack_mm / mm_per_px))
    kept = []
    for members in components(branches):
        group = [branches[i] for i in members]
        length = sum(b.length_px for b in group)
        points = np.concatenate([b.points for b in group])
        score = (
            float(np.mean(np.maximum(crack[points[:, 0], points[:, 1]], joint[points[:, 0], points[:, 1]])))
            / 255.0
        )
        sureness = np.clip((score - threshold) / max(1.0 - threshold, 1e-6), 0.0, 1.0)
        half = float(np.mean(np.concatenate([b.half_px for b in group])))
        if length >= max(least + settings.length_evidence_px * (1.0 - sureness), 4.0 * half):
            kept.append((length, group))
    return [g for _, g in sorted(kept, key=lambda x: -x[0])]


def _masks(
    groups: list[list[Branch]],
    lines: list[JointLine],
    left: list[Branch],
    crack: UInt8,
    joint: UInt8,
    high: int,
) -> tuple[UInt8, UInt8]:
    """Final masks 0/255: scores over the threshold beside the accepted ridges, and the ridges."""
    shape = crack.shape
    either = cv2.max(crack, joint)
    over = cv2.threshold(either, high - 1, 255, cv2.THRESH_BINARY)[1]
    in_joint = np.zeros(shape, np.uint8)
    for q in lines:
        _paint(in_joint, q.points, 2.0 * q.half_px + 2.0)
    near = np.zeros(shape, np.uint8)
    core = np.zeros(shape, np.uint8)
    for group in groups:
        for b in group:
            for a in range(0, max(1, len(b.points) - 1), 24):
                z = min(len(b.points), a + 25)
                _paint(near, b.points[a:z], 2.0 * float(b.half_px[a:z].max()) + 3.0)
            _paint(core, b.points, 2.0)
    crack_mask = cv2.bitwise_or(cv2.bitwise_and(near, over), core)
    crack_mask = cv2.bitwise_and(crack_mask, cv2.bitwise_not(in_joint))
    beside = np.zeros(shape, np.uint8)
    for b in left:
        _paint(beside, b.points, 2.0 * float(b.half_px.max()) + 3.0)
    beside = cv2.bitwise_and(beside, cv2.threshold(joint, high - 1, 255, cv2.THRESH_BINARY)[1])
    joint_mask = cv2.bitwise_or(in_joint, beside)
    return np.asarray(crack_mask, np.uint8), np.asarray(joint_mask, np.uint8)


def _paint(target: UInt8, points: npt.ArrayLike, width_px: float) -> None:
    """Draw a polyline of (row, col) with 255."""
    xy = np.rint(np.asarray(points, float)[:, ::-1]).astype(np.int32)
    cv2.polylines(target, [xy[:, None, :]], False, 255, max(1, round(width_px)))


def _as_crack(group: list[Branch], score: UInt8) -> tuple[PxBranch, ...]:
    """The record of one crack; nodes are numbered from 0 in order of appearance."""
    numbers: dict[int, int] = {}
    out = []
    for b in group:
        start = numbers.setdefault(b.start, len(numbers))
        end = numbers.setdefault(b.end, len(numbers))
        probability = float(score[b.points[:, 0], b.points[:, 1]].mean()) / 255.0
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
    n = max(2, len(points) // 16 + 1)
    return read_only(np.ascontiguousarray(points[np.linspace(0, len(points) - 1, n).astype(int)]))
