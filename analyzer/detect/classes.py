"""Cutting branches where they enter a joint or run along the slab's edge."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import cv2
import numpy as np
import numpy.typing as npt

from analyzer.detect.graph import Branch, join_through
from analyzer.detect.joint_lines import JointLine, distances
from analyzer.detect.outline import along_outline
from analyzer.detect.settings import TraceSettings

UInt8 = npt.NDArray[np.uint8]
Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]


def outside_joints(
    branches: Sequence[Branch], lines: Sequence[JointLine], settings: TraceSettings
) -> list[Branch]:
    """Branches without their runs inside joints; a crack that follows a joint is that joint's crack.

    A branch of which more than ``settings.along_joint_fraction`` lies in joints goes whole.
    """
    if not lines:
        return list(branches)
    half = np.array([q.half_px for q in lines])
    # beside a wide joint the score map, not a margin, says what is crack (see `free_runs`)
    corridor = half + np.where(half >= settings.wide_joint_half_px, 0.0, settings.straight_px + 1.0)
    ends = np.array([[q.points[0], q.points[-1]] for q in lines])
    rim = (corridor + settings.bow_fraction * np.array([q.length_px for q in lines]))[:, None]
    low, high = ends.min(1) - rim, ends.max(1) + rim
    flags = []
    for b in branches:
        points = b.points.astype(float)
        inside = np.zeros(len(points), bool)
        near = np.flatnonzero(((points.min(0) <= high) & (points.max(0) >= low)).all(1)).tolist()
        if near:
            away = distances(points, [lines[k] for k in near])
            for column, k in enumerate(near):
                # a crack that only crosses the joint is in the corridor for about its width
                inside |= long_runs(away[:, column] <= corridor[k], 3.0 * float(corridor[k]))
        if inside.mean() >= settings.along_joint_fraction:
            inside[:] = True
        flags.append(inside)
    return join_through(_without(branches, flags))


def split_mixed(
    branches: Sequence[Branch], crack: UInt8, joint: UInt8, settings: TraceSettings
) -> list[Branch]:
    """Cut branches where a long stretch that is clearly joint passes into one that is clearly crack.

    The two parts share the node of the cut.
    """
    out: list[Branch] = []
    fresh = 1 + max((max(b.start, b.end) for b in branches), default=0)
    window = settings.mixed_px
    for b in branches:
        n = len(b.points)
        if n < 2 * window:
            out.append(b)
            continue
        r, c = b.points[:, 0], b.points[:, 1]
        lead = cv2.blur((crack[r, c].astype(np.float32) - joint[r, c]).reshape(1, -1) / 255.0, (window, 1))[0]
        # between sure stretches the change is where the lead is nil; unsure stretches change nothing
        sure = np.flatnonzero(np.abs(lead) >= settings.mixed_lead)
        turns = np.flatnonzero(np.diff(np.sign(lead[sure])))
        cuts = [int(sure[k] + np.abs(lead[sure[k] : sure[k + 1] + 1]).argmin()) for k in turns]
        cuts = [k for k in cuts if window // 2 < k < n - window // 2]
        nodes = [b.start, *range(fresh, fresh + len(cuts)), b.end]
        fresh += len(cuts)
        for i, (a, z) in enumerate(pairwise([0, *cuts, n - 1])):
            out.append(Branch(b.points[a : z + 1], b.half_px[a : z + 1], nodes[i], nodes[i + 1]))
    return out


def outside_rim(branches: Sequence[Branch], outline: Float, rim_px: float) -> list[Branch]:
    """Branches without their runs along the outline of the slab."""
    flags = [
        long_runs(along_outline(b.points.astype(float), outline, rim_px), min(rim_px, 24.0)) for b in branches
    ]
    return _without(branches, flags)


def long_runs(flags: Bool, least: float) -> Bool:
    """``flags`` without the runs shorter than ``least`` points; short gaps between long runs are filled."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.view(np.int8), [0]])))
    out = np.zeros(len(flags), bool)
    last = -1
    for a, z in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if z - a >= min(least, len(flags)):
            out[a:z] = True
            if last >= 0 and a - last <= least:
                out[last:a] = True
            last = z
    return out


def _without(branches: Sequence[Branch], flags: Sequence[Bool]) -> list[Branch]:
    """What is left of branches when the flagged points are taken out; a cut is a new free end."""
    out = []
    fresh = 1 + max((max(b.start, b.end) for b in branches), default=0)
    for b, gone in zip(branches, flags, strict=True):
        if not gone.any():
            out.append(b)
            continue
        edges = np.flatnonzero(np.diff(np.concatenate([[0], (~gone).view(np.int8), [0]])))
        for a, z in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
            if z - a < 2:
                continue
            start, end = b.start if a == 0 else fresh, b.end if z == len(gone) else fresh + 1
            fresh += 2
            out.append(Branch(b.points[a:z], b.half_px[a:z], start, end))
    return out
