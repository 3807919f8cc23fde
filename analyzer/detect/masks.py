"""Lines painted back into masks of about their true width."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
import numpy.typing as npt

from analyzer.detect.graph import Branch
from analyzer.detect.joint_lines import JointLine

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


def crack_mask(
    runs: Sequence[Branch], lines: Sequence[JointLine], score: UInt8, high: int, low: int
) -> UInt8:
    """(R, C) uint8, 0 or 255: scores beside the accepted runs, and the runs themselves.

    Parameters
    ----------
    runs : sequence of Branch
    lines : sequence of JointLine
        A crack within a joint is the joint's: it is left out.
    score : (R, C) uint8
    high, low : int
        A pixel beside a run is crack from ``high``; beside a run that itself scores less, from ``low``.
    """
    sure = np.zeros(score.shape, np.uint8)
    faint = np.zeros(score.shape, np.uint8)
    core = np.zeros(score.shape, np.uint8)
    for b in runs:
        target = sure if float(score[b.points[:, 0], b.points[:, 1]].mean()) >= high else faint
        for a in range(0, max(1, len(b.points) - 1), _STRETCH):
            z = min(len(b.points), a + _STRETCH + 1)
            paint(target, b.points[a:z], 2.0 * float(b.half_px[a:z].max()) + 3.0)
        paint(core, b.points, 2.0)
    cv2.bitwise_and(sure, cv2.threshold(score, high - 1, 255, cv2.THRESH_BINARY)[1], dst=sure)
    cv2.bitwise_and(faint, cv2.threshold(score, low - 1, 255, cv2.THRESH_BINARY)[1], dst=faint)
    cv2.bitwise_or(core, sure, dst=core)
    cv2.bitwise_or(core, faint, dst=core)
    inside = np.zeros(score.shape, np.uint8)
    for q in lines:
        paint(inside, q.points, 2.0 * q.half_px + 1.0)
    return np.asarray(cv2.bitwise_and(core, cv2.bitwise_not(inside)), np.uint8)


def paint(target: UInt8, points: npt.ArrayLike, width_px: float) -> None:
    """Draw a polyline of (row, col) with 255."""
    xy = np.rint(np.asarray(points, float)[:, ::-1]).astype(np.int32)
    cv2.polylines(target, [xy[:, None, :]], False, 255, max(1, round(width_px)))
