"""Score maps read along lines: straightened strips, and the best path through one.

A strip is a map resampled to (step along the line, offset across it), so that a minimal path is a
short recurrence over columns and many gaps are solved at once.

References
----------
.. [1] Bellman 1957, dynamic programming; as minimal path through an image strip: Montanari,
       Comm. ACM 14(5), 1971 (both from memory).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

UInt8 = npt.NDArray[np.uint8]
Float = npt.NDArray[np.float64]


def read_strip(score: UInt8, line: Float, half_px: int) -> UInt8:
    """Sample a map beside a polyline.

    Parameters
    ----------
    score : (R, C) uint8
    line : (N, 2) of (row, col)
        Points about one px apart.
    half_px : int
        Offsets run from ``-half_px`` to ``half_px``, positive to the right of the walk on a screen.

    Returns
    -------
    (N, 2 * half_px + 1) uint8, nearest pixel; 0 outside the map.
    """
    ahead = np.gradient(line, axis=0)
    ahead /= np.maximum(np.hypot(ahead[:, 0], ahead[:, 1]), 1e-9)[:, None]
    across = np.stack([ahead[:, 1], -ahead[:, 0]], axis=1)
    offsets = np.arange(-half_px, half_px + 1)
    at = line[:, None, :] + offsets[None, :, None] * across[:, None, :]
    return _read(score, at)


def best_paths(
    score: UInt8, starts: Float, ends: Float, saturate: float
) -> list[tuple[npt.NDArray[np.int64], float]]:
    """Best path across each gap, from the scores between its ends.

    Parameters
    ----------
    score : (R, C) uint8
    starts, ends : (B, 2) of (row, col)
    saturate : float
        Score (0..255) from which a pixel costs nothing.

    Returns
    -------
    list of (points (N, 2) of (row, col), mean score 0..1 relative to ``saturate``), one per gap; the
    points include both ends.
    """
    out: list[tuple[npt.NDArray[np.int64], float] | None] = [None] * len(starts)
    gaps = np.maximum(2, np.ceil(np.hypot(*(ends - starts).T)).astype(int))
    # gaps of similar length are solved together
    for size in np.unique(-(-gaps // 8)):
        members = np.flatnonzero(-(-gaps // 8) == size)
        steps = int(size) * 8 + 1
        half = 2 + int(0.3 * steps)
        t = np.linspace(0.0, 1.0, steps)
        a, z = starts[members], ends[members]
        chord = z - a
        length = np.maximum(np.hypot(chord[:, 0], chord[:, 1]), 1.0)
        normal = np.stack([chord[:, 1], -chord[:, 0]], axis=1) / length[:, None]
        middle = a[:, None, :] + t[None, :, None] * chord[:, None, :]
        offsets = np.arange(-half, half + 1, dtype=float)
        at = middle[:, :, None, :] + offsets[None, None, :, None] * normal[:, None, None, :]
        value = np.minimum(_read(score, at) / saturate, 1.0)
        cost = 1.05 - value
        # both ends are fixed: a path may leave the chord only as fast as it can return
        tent = 1.0 + np.minimum(np.arange(steps), np.arange(steps)[::-1])
        cost[:, np.abs(offsets)[None, :] > tent[:, None]] = 1e3
        for j, path in zip(members, _dynamic(cost, half), strict=True):
            i = int(np.flatnonzero(members == j)[0])
            rows = np.arange(steps)
            points = np.rint(at[i, rows, path]).astype(np.int64)
            points = np.clip(points, 0, np.array(score.shape) - 1)
            points[0], points[-1] = np.rint(starts[j]), np.rint(ends[j])
            fresh = np.concatenate([[True], np.any(np.diff(points, axis=0) != 0, axis=1)])
            inner = value[i, rows, path][1:-1]
            out[j] = (points[fresh], float(inner.mean()) if len(inner) else 1.0)
    return [o for o in out if o is not None]


def _read(score: UInt8, at: Float) -> UInt8:
    """Nearest-pixel values at (..., 2); 0 outside."""
    rc = np.rint(at).astype(np.int64)
    r, c = rc[..., 0], rc[..., 1]
    inside = (r >= 0) & (c >= 0) & (r < score.shape[0]) & (c < score.shape[1])
    out = np.zeros(r.shape, np.uint8)
    out[inside] = score[r[inside], c[inside]]
    return out


def _dynamic(cost: Float, half: int) -> npt.NDArray[np.int64]:
    """Cheapest path with sideways steps of at most one, from offset 0 to offset 0; (B, steps)."""
    count, steps, width = cost.shape
    total = np.full((count, width), 1e6)
    total[:, half] = 0.0
    back = np.zeros((count, steps, width), np.int8)
    for k in range(1, steps):
        left = np.pad(total, ((0, 0), (1, 0)), constant_values=1e6)[:, :-1] + 0.2
        right = np.pad(total, ((0, 0), (0, 1)), constant_values=1e6)[:, 1:] + 0.2
        best = np.minimum(np.minimum(left, right), total)
        back[:, k] = np.where(best == total, 0, np.where(best == left, -1, 1))
        total = best + cost[:, k]
    path = np.zeros((count, steps), np.int64)
    path[:, -1] = half
    every = np.arange(count)
    for k in range(steps - 1, 0, -1):
        path[:, k - 1] = path[:, k] + back[every, k, path[:, k]]
    return path
