"""Lines painted back into masks of about their true width."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
import numpy.typing as npt

from analyzer.detect.graph import Branch
from analyzer.detect.joint_lines import JointLine
from analyzer.detect.ridge import touching

UInt8 = npt.NDArray[np.uint8]

_STRETCH = 24


def joint_mask(lines: Sequence[JointLine], joint: UInt8, high: int) -> UInt8:
    """(R, C) uint8, 0 or 255: the fitted lines in their width, with what scores as joint beside them."""
    painted = np.zeros(joint.shape, np.uint8)
    for q in lines:
        paint(painted, q.points, 2.0 * q.half_px + 1.0)
    beside = np.zeros(joint.shape, np.uint8)
    for q in lines:
        paint(beside, q.points, 4.0 * q.half_px + 6.0)
    over = cv2.threshold(joint, high - 1, 255, cv2.THRESH_BINARY)[1]
    return np.asarray(cv2.bitwise_or(painted, cv2.bitwise_and(beside, over)), np.uint8)


def joint_bands(lines: Sequence[JointLine], crack: UInt8, joint: UInt8) -> UInt8:
    """(R, C) uint8, 0 or 255: the pixels of joints; beside them only what is clearly crack is none."""
    out, beside = np.zeros(joint.shape, np.uint8), np.zeros(joint.shape, np.uint8)
    for q in lines:
        paint(out, q.points, 2.0 * q.half_px + 1.0)
        paint(beside, q.points, 4.0 * q.half_px + 6.0)
    cv2.bitwise_and(beside, cv2.compare(crack, joint, cv2.CMP_LE), dst=beside)
    return np.asarray(cv2.bitwise_or(out, beside), np.uint8)


def crack_mask(
    runs: Sequence[Branch],
    others: Sequence[Branch],
    lines: Sequence[JointLine],
    crack: UInt8,
    joint: UInt8,
    high: int,
    low: int,
) -> UInt8:
    """(R, C) uint8, 0 or 255: what scores around the accepted runs, and the runs themselves.

    Parameters
    ----------
    runs, others : sequence of Branch
        Accepted runs, and those that were looked at and not accepted.
    lines : sequence of JointLine
        A crack within a joint is the joint's: it is left out.
    crack, joint : (R, C) uint8
    high, low : int
        A pixel is crack from ``high``; beside a run that itself scores less, from ``low``.
    """
    score = np.asarray(cv2.max(crack, joint), np.uint8)
    near, faint, core = (np.zeros(score.shape, np.uint8) for _ in range(3))
    barred = joint_bands(lines, crack, joint)
    for b in others:
        _paint_wide(barred, b, 1.0)
    for b in runs:
        _paint_wide(near, b, 3.0)
        if float(score[b.points[:, 0], b.points[:, 1]].mean()) < high:
            _paint_wide(faint, b, 3.0)
        paint(core, b.points, 2.0)
    over = cv2.threshold(score, high - 1, 255, cv2.THRESH_BINARY)[1]
    cv2.bitwise_and(near, over, dst=near)
    # the axis of a wide line ends before the line does: the rest of the component belongs to it
    cv2.bitwise_and(over, cv2.bitwise_not(barred), dst=over)
    cv2.bitwise_or(over, near, dst=over)
    cv2.bitwise_and(faint, cv2.threshold(score, low - 1, 255, cv2.THRESH_BINARY)[1], dst=faint)
    out = touching(np.asarray(over, np.uint8), core)
    cv2.bitwise_or(cv2.bitwise_or(out, core), faint, dst=out)
    inside = np.zeros(score.shape, np.uint8)
    for q in lines:
        paint(inside, q.points, 2.0 * q.half_px + 1.0)
    out = np.asarray(cv2.bitwise_and(out, cv2.bitwise_not(inside)), np.uint8)
    return np.asarray(cv2.threshold(out, 0, 255, cv2.THRESH_BINARY)[1], np.uint8)


def _paint_wide(target: UInt8, b: Branch, more_px: float) -> None:
    """Draw a branch in its own width and ``more_px``."""
    for a in range(0, max(1, len(b.points) - 1), _STRETCH):
        z = min(len(b.points), a + _STRETCH + 1)
        paint(target, b.points[a:z], 2.0 * float(b.half_px[a:z].max()) + more_px)


def paint(target: UInt8, points: npt.ArrayLike, width_px: float) -> None:
    """Draw a polyline of (row, col) with 255."""
    xy = np.rint(np.asarray(points, float)[:, ::-1]).astype(np.int32)
    cv2.polylines(target, [xy[:, None, :]], False, 255, max(1, round(width_px)))
