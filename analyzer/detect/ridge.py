"""From a score map to the one-pixel ridge of its lines, at a cost that follows the lines' area.

A 12-megapixel map holds about 1 % of line pixels; everything here works on the list of those
pixels instead of the frame.

References
----------
.. [1] Canny, IEEE PAMI 8(6), 1986: thresholding with hysteresis (from memory).
.. [2] Lam, Lee, Suen, IEEE PAMI 14(9), 1992, p. 879: thinning in two sub-iterations, the variant of
       Guo and Hall 1989 (from memory); the result equals ``skimage.morphology.thin``.
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
import numpy.typing as npt

UInt8 = npt.NDArray[np.uint8]
Int = npt.NDArray[np.int64]
Float32 = npt.NDArray[np.float32]

_BAND_ROWS = 1024


def hysteresis(score: UInt8, low: int, high: int, least_strong_px: int = 1) -> UInt8:
    """Pixels of ``score`` >= ``low`` that hang together with enough pixels >= ``high``.

    Parameters
    ----------
    score : (R, C) uint8
    low, high : int
        1..255, ``low <= high``.
    least_strong_px : int
        Pixels >= ``high`` that a component needs.

    Returns
    -------
    (R, C) uint8, 0 or 1. Connection is judged on cells of 2 x 2 px (4 x 4 px over 40 megapixels), so
    that breaks of one pixel do not separate.
    """
    mask = cv2.threshold(score, low - 1, 1, cv2.THRESH_BINARY)[1]
    strong = cv2.threshold(score, high - 1, 1, cv2.THRESH_BINARY)[1]
    return touching(np.asarray(mask, np.uint8), np.asarray(strong, np.uint8), least_strong_px)


def touching(mask: UInt8, seeds: UInt8, least_px: int = 1) -> UInt8:
    """Components of ``mask`` that hold at least ``least_px`` pixels of ``seeds``.

    Both (R, C) uint8, 0 or not; returns 0 or 1. Connection as in :func:`hysteresis`.
    """
    rows, cols = mask.shape
    cell = 2 if mask.size < 40e6 else 4
    small = _pool_any(mask, cell)
    count, labels = cv2.connectedComponents(small, connectivity=8, ltype=cv2.CV_32S)
    r, c = np.divmod(np.flatnonzero(seeds.view(np.bool_)), cols)
    votes = np.bincount(labels[r // cell, c // cell], minlength=count)
    keep = (votes >= least_px).astype(np.uint8)
    keep[0] = 0
    whole = (small.shape[1] * cell, small.shape[0] * cell)
    kept = cv2.resize(keep[labels], whole, interpolation=cv2.INTER_NEAREST)
    return np.asarray(cv2.min(mask, kept[:rows, :cols]), np.uint8)


def fill_holes(mask: UInt8, hole_px2: int) -> UInt8:
    """Close notches of one pixel and holes of up to ``hole_px2`` px2 in a 0/1 mask (R, C)."""
    closed = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    contours, tree = cv2.findContours(closed, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    if tree is None:
        return np.asarray(closed, np.uint8)
    holes = [
        contours[i]
        for i in np.flatnonzero(tree[0, :, 3] >= 0)
        if cv2.contourArea(contours[i]) <= 2 * hole_px2
    ]
    if holes:
        cv2.drawContours(closed, holes, -1, 1, cv2.FILLED)
    return np.asarray(closed, np.uint8)


def thin(mask: UInt8) -> UInt8:
    """One-pixel, 8-connected ridge of a 0/1 mask (R, C), as 0/1 uint8."""
    rows, cols = mask.shape
    padded = np.zeros((rows + 2, cols + 2), np.uint8)
    padded[1:-1, 1:-1] = mask
    flat = padded.reshape(-1)
    where = np.flatnonzero(flat.view(np.bool_))
    # neighbours anticlockwise from east, as in [2]
    w = cols + 2
    steps = (1, 1 - w, -w, -w - 1, -1, w - 1, w, w + 1)
    first, second = _thinning_tables()
    dirty = np.zeros_like(flat)
    check = where
    while len(check):
        removed = []
        for table in (first, second):
            gone = check[table[_codes(flat, check, steps)]]
            flat[gone] = 0
            removed.append(gone)
            check = check[flat[check].view(np.bool_)]
        gone = np.concatenate(removed)
        if not len(gone):
            break
        # only neighbours of removed pixels can change now
        for step in steps:
            dirty[gone + step] = 1
        where = where[flat[where].view(np.bool_)]
        check = where[dirty[where].view(np.bool_)]
        dirty[where] = 0
        dirty[gone] = 0
    return padded[1:-1, 1:-1]


def half_widths(mask: UInt8, points: Int) -> Float32:
    """Distance in px from each of ``points`` (N, 2) of (row, col) to the border of ``mask``.

    The border lies half a pixel before the first pixel outside. Computed in bands of rows, so that
    memory stays small on large pictures; beyond 64 px the value is only a lower bound.
    """
    out = np.zeros(len(points), np.float32)
    if not len(points):
        return out
    rim = 64
    band = points[:, 0] // _BAND_ROWS
    for b in np.unique(band):
        top = max(0, int(b) * _BAND_ROWS - rim)
        window = mask[top : (int(b) + 1) * _BAND_ROWS + rim]
        distance = cv2.distanceTransform(window, cv2.DIST_L2, cv2.DIST_MASK_5)
        at = band == b
        out[at] = np.maximum(distance[points[at, 0] - top, points[at, 1]] - 0.5, 0.5)
    return out


def _pool_any(mask: UInt8, cell: int) -> UInt8:
    """1 where any pixel of a ``cell`` x ``cell`` block is 1; ragged borders are padded with 0."""
    rows, cols = mask.shape
    pad_r, pad_c = -rows % cell, -cols % cell
    if pad_r or pad_c:
        mask = cv2.copyMakeBorder(mask, 0, pad_r, 0, pad_c, cv2.BORDER_CONSTANT, value=0)
    while cell > 1:
        mask = mask[0::2] | mask[1::2]
        mask = mask[:, 0::2] | mask[:, 1::2]
        cell //= 2
    return np.ascontiguousarray(mask)


def _codes(flat: UInt8, at: Int, steps: tuple[int, ...]) -> UInt8:
    """Neighbourhood of each pixel as 8 bits."""
    code = np.zeros(len(at), np.uint8)
    for bit, step in enumerate(steps):
        code |= flat[at + step] << bit
    return code


@cache
def _thinning_tables() -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """Which of the 256 neighbourhoods are removed in the first and in the second sub-iteration."""
    x1, x2, x3, x4, x5, x6, x7, x8 = ((np.arange(256) >> k & 1).astype(np.bool_) for k in range(8))
    pairs = ((x1, x2, x3), (x3, x4, x5), (x5, x6, x7), (x7, x8, x1))
    crossings = sum((~a & (b | c)).astype(int) for a, b, c in pairs)
    n1 = (x1 | x2).astype(int) + (x3 | x4) + (x5 | x6) + (x7 | x8)
    n2 = (x2 | x3).astype(int) + (x4 | x5) + (x6 | x7) + (x8 | x1)
    fewest = np.minimum(n1, n2)
    common = (crossings == 1) & (fewest >= 2) & (fewest <= 3)
    return common & ~((x2 | x3 | ~x8) & x1), common & ~((x6 | x7 | ~x4) & x5)
