"""Stations along branches and means over their neighbours, never across from branch to branch."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from analyzer.measure.centerline import Centerline, points_at
from analyzer.measure.profiles import Int, Stations
from analyzer.records import Float

SPACING_PX = 1.5
"""Distance between neighbouring profiles along a branch, in pixels of the photo."""


def lay_stations(
    lines: Sequence[Centerline],
    spacing_mm: npt.ArrayLike,
    junctions: Sequence[tuple[bool, bool]],
) -> Stations:
    """Put stations on centrelines.

    Parameters
    ----------
    lines : sequence of Centerline
        One per branch.
    spacing_mm : (B,) array
        Distance between stations on each branch.
    junctions : sequence of (bool, bool)
        Whether the branch starts, ends at a junction, where profiles see the other branch too.
    """
    spacings = np.broadcast_to(np.asarray(spacing_mm, dtype=float), (len(lines),))
    points, normals, alongs, clears, counts = [], [], [], [], []
    for line, spacing, (at_start, at_end) in zip(lines, spacings, junctions, strict=True):
        n = max(1, int(line.length_mm / spacing))
        along: Float = (np.arange(n, dtype=float) + 0.5) * (line.length_mm / n)
        point, tangent = points_at(line, along)
        points.append(point)
        normals.append(np.stack([-tangent[:, 1], tangent[:, 0]], axis=1))
        alongs.append(along)
        from_start = along if at_start else np.full(n, np.inf)
        from_end = line.length_mm - along if at_end else np.full(n, np.inf)
        clears.append(np.minimum(from_start, from_end))
        counts.append(n)
    count = np.array(counts, dtype=np.intp)
    first = np.cumsum(count) - count
    return Stations(
        points_mm=np.concatenate(points) if points else np.zeros((0, 2)),
        normal_mm=np.concatenate(normals) if points else np.zeros((0, 2)),
        branch=np.repeat(np.arange(len(lines)), count),
        start=np.repeat(first, count),
        stop=np.repeat(first + count, count),
        along_mm=np.concatenate(alongs) if points else np.zeros(0),
        clear_mm=np.concatenate(clears) if points else np.zeros(0),
    )


def thin_out(stations: Stations, every: int) -> tuple[Int, Int, Int]:
    """Every n-th station of each branch, at least one: indices, and their own start and stop."""
    nth = (np.arange(len(stations.branch)) - stations.start) % every == 0
    pick = np.flatnonzero(nth)
    _, first, count = np.unique(stations.branch[pick], return_index=True, return_counts=True)
    return pick, np.repeat(first, count), np.repeat(first + count, count)


def running_mean(values: npt.NDArray[np.floating], start: Int, stop: Int, half: int) -> Float:
    """Mean over the stations within ``half`` of each one, of the same branch; nan is left out.

    ``values`` is (M,) or (M, K). All-nan windows give nan.
    """
    n = len(values)
    known = np.isfinite(values)
    shape = (n + 1, *values.shape[1:])
    total, count = np.zeros(shape), np.zeros(shape)
    np.cumsum(np.where(known, values, 0.0), axis=0, out=total[1:])
    np.cumsum(known, axis=0, out=count[1:])
    here = np.arange(n)
    low, high = np.maximum(here - half, start), np.minimum(here + half + 1, stop)
    number = count[high] - count[low]
    result: Float = np.where(number > 0, (total[high] - total[low]) / np.maximum(number, 1), np.nan)
    return result


def running_median(values: Float, start: Int, stop: Int, half: int) -> Float:
    """Median over the stations within ``half`` of each one (M,), of the same branch; nan is left out.

    Near the ends of a branch the window is cut, not mirrored.
    """
    index = np.arange(len(values))[:, None] + np.arange(-half, half + 1)
    inside = (index >= start[:, None]) & (index < stop[:, None])
    window = np.where(inside, values[np.clip(index, 0, max(len(values) - 1, 0))], np.nan)
    ordered = np.sort(window, axis=1)
    number = np.isfinite(ordered).sum(axis=1)
    rows = np.arange(len(values))
    low = ordered[rows, np.maximum((number - 1) // 2, 0)]
    high = ordered[rows, np.minimum(number // 2, ordered.shape[1] - 1)]
    return np.where(number > 0, (low + high) / 2.0, np.nan)


def per_branch(values: Float, branch: Int, n_branches: int, quantile: float) -> Float:
    """Quantile of the finite values of each branch (B,); nan where a branch has none."""
    keep = np.isfinite(values)
    value, owner = values[keep], branch[keep]
    order = np.lexsort((value, owner))
    value, owner = value[order], owner[order]
    count = np.bincount(owner, minlength=n_branches)
    first = np.cumsum(count) - count
    at = first + np.rint(quantile * np.maximum(count - 1, 0)).astype(np.intp)
    out = np.full(n_branches, np.nan)
    some = count > 0
    out[some] = value[at[some]]
    return out
