"""Gaps closed along the ridge: free ends that point at each other, or at the side of a line."""

from __future__ import annotations

import math
from collections import defaultdict
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from analyzer.detect.graph import Branch, degrees, join_through
from analyzer.detect.settings import TraceSettings
from analyzer.detect.strips import best_paths

UInt8 = npt.NDArray[np.uint8]
Float = npt.NDArray[np.float64]

_MOST_LINKS = 1500


def link_gaps(
    branches: list[Branch], score: UInt8, threshold: float, settings: TraceSettings
) -> list[Branch]:
    """Close gaps between branches where the score along the best path speaks for it.

    Parameters
    ----------
    branches : list of Branch
    score : (R, C) uint8
    threshold : float
        0..1, score from which a pixel is line.
    settings : TraceSettings

    Returns
    -------
    list of Branch
        The branches with the links among them; a branch that was met from the side is split there.
    """
    ends = degrees(branches)
    tips = [
        (i, side)
        for i, b in enumerate(branches)
        for side in (0, -1)
        if ends[b.start if side == 0 else b.end] == 1
    ]
    if not tips:
        return branches
    place = np.array([branches[i].points[side] for i, side in tips], float)
    ahead = np.array([_direction(branches[i], side, settings.direction_px) for i, side in tips])
    room = np.array([branches[i].length_px for i, _ in tips])
    pairs = _facing(place, ahead, room, [i for i, _ in tips], settings)
    sides = _meeting(place, ahead, room, [i for i, _ in tips], branches, settings)
    wanted = sorted(
        [(gap, k, m, -1, -1) for gap, k, m in pairs] + [(gap, k, -1, i, at) for gap, k, i, at in sides]
    )[:_MOST_LINKS]
    if not wanted:
        return branches
    a = np.array([place[w[1]] for w in wanted])
    z = np.array([place[w[2]] if w[2] >= 0 else branches[w[3]].points[w[4]] for w in wanted], float)
    paths = best_paths(score, a, z, 255.0 * threshold)
    used: set[int] = set()
    links: list[Branch] = []
    cuts: dict[int, dict[int, int]] = defaultdict(dict)
    fresh = 1 + max(max(b.start, b.end) for b in branches)
    span = max(settings.link_px - settings.link_free_px, 1.0)
    for (gap, k, m, i, at), (points, mean) in zip(wanted, paths, strict=True):
        if k in used or m in used:
            continue
        if (
            mean < settings.link_score * min(1.0, (gap - settings.link_free_px) / span + 0.3)
            and gap > settings.link_free_px
        ):
            continue
        b, side = branches[tips[k][0]], tips[k][1]
        start = b.start if side == 0 else b.end
        half = float(b.half_px[side])
        if m >= 0:
            other, other_side = branches[tips[m][0]], tips[m][1]
            end = other.start if other_side == 0 else other.end
            half = min(half, float(other.half_px[other_side]))
            used.add(m)
        else:
            target = branches[i]
            if at in (0, len(target.points) - 1):
                end = target.start if at == 0 else target.end
            else:
                end = cuts[i].setdefault(at, fresh)
                fresh += end == fresh
        used.add(k)
        if len(points) >= 2:
            links.append(Branch(points, np.full(len(points), half, np.float32), start, end))
    out = links
    for i, b in enumerate(branches):
        out += _split(b, cuts[i]) if i in cuts else [b]
    return join_through(out)


def _direction(branch: Branch, side: int, stretch_px: float) -> Float:
    """Unit vector (row, col) in which a branch leaves at its first (0) or last (-1) point."""
    points = branch.points if side == 0 else branch.points[::-1]
    far = points[min(len(points) - 1, int(stretch_px))]
    # half-way back: the last pixels of a thinned line bend into its corner
    out = np.asarray(points[0] - far, float)
    return out / max(math.hypot(*out), 1e-9)


def _facing(
    place: Float, ahead: Float, room: Float, owner: list[int], settings: TraceSettings
) -> list[tuple[float, int, int]]:
    """Pairs of free ends that look at each other: (gap_px with turns added, first, second)."""
    found = cKDTree(place).query_pairs(settings.link_px, output_type="ndarray")
    if not len(found):
        return []
    k, m = found[:, 0], found[:, 1]
    gap = place[m] - place[k]
    length = np.hypot(gap[:, 0], gap[:, 1])
    unit = gap / np.maximum(length, 1e-9)[:, None]
    cos_k = (ahead[k] * unit).sum(1)
    cos_m = -(ahead[m] * unit).sum(1)
    least = math.cos(math.radians(settings.link_angle_deg))
    reach = settings.link_free_px + 0.5 * np.minimum(room[k] + room[m], 4 * np.minimum(room[k], room[m]))
    own = np.asarray(owner)
    good = (length <= 2.9) | ((cos_k >= least) & (cos_m >= least) & (length <= reach))
    good &= own[k] != own[m]
    turn = 1.0 + (2.0 - cos_k - cos_m)
    return [
        (float(g), int(a), int(b)) for g, a, b in zip((length * turn)[good], k[good], m[good], strict=True)
    ]


def _meeting(
    place: Float,
    ahead: Float,
    room: Float,
    owner: list[int],
    branches: list[Branch],
    settings: TraceSettings,
) -> list[tuple[float, int, int, int]]:
    """Free ends that point at the side of another branch: (gap_px, end, branch, point in it)."""
    every = np.concatenate([b.points for b in branches])
    of = np.repeat(np.arange(len(branches)), [len(b.points) for b in branches])
    first = np.concatenate([[0], np.cumsum([len(b.points) for b in branches])])
    reach = np.minimum(settings.link_px * 0.6, settings.link_free_px + 0.4 * room)
    least = math.cos(math.radians(settings.link_angle_deg))
    out = []
    for k, near in enumerate(cKDTree(every).query_ball_point(place, reach)):
        at = np.asarray(near)
        at = at[of[at] != owner[k]]
        if not len(at):
            continue
        gap = every[at] - place[k]
        length = np.maximum(np.hypot(gap[:, 0], gap[:, 1]), 1e-9)
        cosine = (gap @ ahead[k]) / length
        length = np.where(cosine >= least, length * (3.0 - 2.0 * cosine), np.inf)
        j = int(np.argmin(length))
        if np.isfinite(length[j]):
            i = int(of[at[j]])
            # an end meeting a side has less to speak for it than two ends that meet
            out.append((1.3 * float(length[j]), k, i, int(at[j] - first[i])))
    return out


def _split(branch: Branch, cuts: dict[int, int]) -> list[Branch]:
    """Cut a branch at point numbers; the new node numbers are the values."""
    places = [0, *sorted(cuts), len(branch.points) - 1]
    nodes = [branch.start, *(cuts[p] for p in sorted(cuts)), branch.end]
    return [
        Branch(branch.points[a : z + 1], branch.half_px[a : z + 1], nodes[i], nodes[i + 1])
        for i, (a, z) in enumerate(pairwise(places))
    ]
