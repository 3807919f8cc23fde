"""The largest gap under a straightedge laid on the triangulated surface, resting on high spots."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from analyzer.records import Float

Int = npt.NDArray[np.int64]
_BUDGET = 4_000_000
_TOUCH_MM = 1e-6


@dataclass(frozen=True, slots=True)
class Gap:
    """Largest gap, its standard uncertainty, where it is and the two vertices it rests on."""

    gap_mm: float
    u_mm: float
    at_mm: tuple[float, float]
    rests: tuple[int, int]


def largest_gap(xy: Float, z: Float, u: Float, triangles: Int, straightedge_mm: float) -> Gap | None:
    """Lay an unlevelled straightedge over every pair of vertices within its length.

    It rests on both where no part of the surface under it, along its whole length, stands
    higher; the gap is the greatest height of its underside over the surface between them.

    Parameters
    ----------
    xy, z, u : (N, 2), (N,), (N,)
        Vertices, heights and their standard uncertainties.
    triangles : (T, 3)
    straightedge_mm : float

    Returns
    -------
    Gap or None
        None where no two vertices are within reach. A gap of 0 is a result.

    Notes
    -----
    Exact for the surface of plane triangles as long as pairs times edges stay under four
    million; beyond, the pairs with the largest gap at their middle are looked at.
    """
    first, second = np.triu_indices(len(xy), 1)
    span = np.linalg.norm(xy[first] - xy[second], axis=1)
    reach = (span <= straightedge_mm * (1 + 1e-9)) & (span > 1.0)
    first, second, span = first[reach], second[reach], span[reach]
    if not len(first):
        return None
    edges = np.unique(
        np.sort(np.vstack([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1), axis=0
    )
    most = max(1, _BUDGET // max(1, len(edges)))
    if len(first) > most:
        promise = _middle_gap(xy, z, first, second)
        chosen = np.argsort(-promise)[:most]
        first, second, span = first[chosen], second[chosen], span[chosen]
    ends = xy[edges]
    middle = ends.mean(axis=1)
    half = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1) / 2.0
    order = np.argsort(first, kind="stable")
    first, second, span = first[order], second[order], span[order]
    starts = np.append(np.flatnonzero(np.diff(first, prepend=-1)), len(first))
    best: tuple[float, int, int, float] = (0.0, 0, -1, 0.0)
    for low, high in pairwise(starts.tolist()):
        # Only edges within reach of the first vertex can lie under this straightedge.
        near = np.linalg.norm(middle - xy[first[low]], axis=1) <= straightedge_mm + half
        part = slice(low, high)
        found = _gaps(xy, z, edges[near], first[part], second[part], span[part], straightedge_mm)
        if found[0] > best[0]:
            best = (found[0], low + found[1], int(np.flatnonzero(near)[found[2]]), found[3])
    gap, pair, edge, along = best
    i, j = int(first[pair]), int(second[pair])
    if edge < 0:
        return Gap(0.0, float(np.hypot(u[i], u[j])), (float(xy[i, 0]), float(xy[i, 1])), (i, j))
    a, b = int(edges[edge, 0]), int(edges[edge, 1])
    at = xy[i] + along * (xy[j] - xy[i])
    length = float(np.linalg.norm(xy[b] - xy[a]))
    s = float(np.linalg.norm(at - xy[a])) / length
    weights = np.zeros(len(z))
    for vertex, weight in ((i, 1 - along), (j, along), (a, s - 1), (b, -s)):
        weights[vertex] += weight
    return Gap(
        gap, float(np.sqrt(np.sum((weights * u) ** 2))), (float(at[0]), float(at[1])), (min(i, j), max(i, j))
    )


def _gaps(
    xy: Float, z: Float, edges: Int, first: Int, second: Int, span: Float, straightedge_mm: float
) -> tuple[float, int, int, float]:
    """Largest gap among pairs (P,): gap, pair, edge under it (-1 = none), part of the way along."""
    start, way = xy[first], xy[second] - xy[first]
    a, b = xy[edges[:, 0]], xy[edges[:, 1]]
    e = b - a
    cross = way[:, None, 0] * e[None, :, 1] - way[:, None, 1] * e[None, :, 0]
    d = a[None] - start[:, None]
    crossing = np.abs(cross) > 1e-9
    safe = np.where(crossing, cross, 1.0)
    t = (d[..., 0] * e[None, :, 1] - d[..., 1] * e[None, :, 0]) / safe
    s = (d[..., 0] * way[:, None, 1] - d[..., 1] * way[:, None, 0]) / safe
    meets = crossing & (s >= -1e-9) & (s <= 1 + 1e-9)
    surface = z[edges[:, 0]][None] + s * (z[edges[:, 1]] - z[edges[:, 0]])[None]
    chord = z[first][:, None] + t * (z[second] - z[first])[:, None]
    gap = np.where(meets, chord - surface, 0.0)
    over = meets & (gap < -_TOUCH_MM)
    along = t * span[:, None]
    between = (along > 0) & (along < span[:, None])
    lifted = (over & between).any(axis=1)
    # The rest of the straightedge overhangs on one side, the other or both.
    beyond = np.where(over & (along >= span[:, None]), along - span[:, None], np.inf).min(axis=1)
    before = np.where(over & (along <= 0), -along, np.inf).min(axis=1)
    lifted |= beyond + before < straightedge_mm - span
    gap = np.where(between & ~lifted[:, None], gap, 0.0)
    flat = int(gap.argmax())
    pair, edge = divmod(flat, gap.shape[1])
    if gap[pair, edge] <= 0:
        return 0.0, 0, -1, 0.0
    return float(gap[pair, edge]), pair, edge, float(t[pair, edge])


def _middle_gap(xy: Float, z: Float, first: Int, second: Int) -> Float:
    """Chord height over the surface at the middle of each pair (linear interpolation)."""
    from scipy.interpolate import LinearNDInterpolator

    surface = LinearNDInterpolator(xy, z)((xy[first] + xy[second]) / 2.0)
    out: Float = np.nan_to_num((z[first] + z[second]) / 2.0 - surface, nan=-np.inf)
    return out
