"""What the slab's outline does to lines: nothing beyond it, and no line along it."""

from __future__ import annotations

import math

import cv2
import numpy as np
import numpy.typing as npt

UInt8 = npt.NDArray[np.uint8]
Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

_PARALLEL_DEG = 20.0


def fill_polygon(shape: tuple[int, ...], corners_px: npt.ArrayLike) -> UInt8:
    """(R, C) uint8, 255 inside a polygon of (row, col) corners, its border included."""
    inside = np.zeros(shape[:2], np.uint8)
    xy = np.rint(np.asarray(corners_px, float)[:, ::-1]).astype(np.int32)
    cv2.fillPoly(inside, [xy[:, None, :]], 255)
    return inside


def along_outline(points: Float, corners_px: Float, rim_px: float) -> Bool:
    """Which points of a line run along the outline, closer than ``rim_px``.

    Parameters
    ----------
    points : (N, 2) of (row, col)
        About one px apart.
    corners_px : (M, 2) of (row, col)
    rim_px : float

    Returns
    -------
    (N,) bool
        True where the line lies in the rim and within 20 degrees of the edge's direction. A line
        that runs out to the edge crosses the rim and stays False.
    """
    if len(points) < 2:
        return np.zeros(len(points), bool)
    reach = max(2, min(len(points) // 2, math.ceil(rim_px / 2)))
    ahead = points[np.minimum(np.arange(len(points)) + reach, len(points) - 1)]
    ahead = ahead - points[np.maximum(np.arange(len(points)) - reach, 0)]
    ahead = ahead / np.maximum(np.hypot(ahead[:, 0], ahead[:, 1]), 1e-9)[:, None]
    out = np.zeros(len(points), bool)
    for a, z in zip(corners_px, np.roll(corners_px, -1, axis=0), strict=True):
        side = z - a
        length = float(np.hypot(*side))
        if length < 1e-9:
            continue
        side = side / length
        rel = points - a
        t = rel @ side
        off = np.abs(rel @ np.array([side[1], -side[0]]))
        near = (off <= rim_px) & (t >= -rim_px) & (t <= length + rim_px)
        out |= near & (np.abs(ahead @ side) >= math.cos(math.radians(_PARALLEL_DEG)))
    return out
