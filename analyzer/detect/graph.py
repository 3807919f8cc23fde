"""The ridge as a graph: branches between junctions and free ends, without spurs.

Points are (row, col) px. A node is a junction, a free end, or an arbitrary point of a ring.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from analyzer.detect.ridge import UInt8, half_widths

Float = npt.NDArray[np.float64]
Int = npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Branch:
    """A run of ridge pixels between two nodes.

    ``points`` (N, 2) of (row, col), N >= 2, from ``start`` to ``end``; ``half_px`` (N,) is the half
    width of the line there.
    """

    points: Int
    half_px: npt.NDArray[np.float32]
    start: int
    end: int

    @cached_property
    def middle_half_px(self) -> float:
        """Median of the half width."""
        return float(np.sort(self.half_px)[len(self.half_px) // 2])

    @cached_property
    def length_px(self) -> float:
        """Length over chords of about five pixels, which takes the steps of the grid out."""
        n = len(self.points)
        steps = max(1, n // 5)
        return polyline_length(self.points[np.arange(steps + 1) * (n - 1) // steps])

    def reversed(self) -> Branch:
        """The same run walked the other way."""
        return Branch(self.points[::-1], self.half_px[::-1], self.end, self.start)


def polyline_length(points: npt.ArrayLike) -> float:
    """Length of a polyline (N, 2) in its own unit."""
    p = np.asarray(points, dtype=float)
    steps = p[1:] - p[:-1]
    return float(np.hypot(steps[:, 0], steps[:, 1]).sum())


def trace(ridge: UInt8, mask: UInt8) -> list[Branch]:
    """Branches of a one-pixel ridge.

    Parameters
    ----------
    ridge : (R, C) uint8, 0 or 1, thinned
    mask : (R, C) uint8, 0 or 1
        What the ridge was thinned from; gives the half widths.

    Returns
    -------
    list of Branch
        Every ridge pixel with a neighbour is on a branch. Touching junction pixels are one node.
    """
    rows, cols = ridge.shape
    w = cols + 2
    padded = np.zeros((rows + 2, w), np.uint8)
    padded[1:-1, 1:-1] = ridge
    flat = padded.reshape(-1)
    pixels = np.flatnonzero(flat.view(np.bool_))
    if len(pixels) < 2:
        return []
    links, first = _neighbours(flat, pixels, w)
    chains = _walk(links, first, len(pixels))
    points = np.stack(np.divmod(pixels, w), axis=1) - 1
    half = half_widths(mask, points)
    nodes = _merge_touching(chains)
    return [
        Branch(points[c], half[c], nodes.get(c[0], c[0]), nodes.get(c[-1], c[-1]))
        for c in chains
        if nodes.get(c[0], c[0]) != nodes.get(c[-1], c[-1]) or len(c) > 4
    ]


def prune(branches: list[Branch], widths: float, least_px: float, rounds: int = 3) -> list[Branch]:
    """Remove short side branches and join what they had divided.

    A branch with one free end goes if it is shorter than ``least_px`` or than ``widths`` times the
    full width at its junction. Of two branches between the same two nodes that enclose no more than
    the line's own raggedness the longer goes.
    """
    for _ in range(rounds):
        ends = degrees(branches)
        kept = []
        for b in branches:
            loose = (ends[b.start] == 1) != (ends[b.end] == 1)
            if loose:
                at = b.half_px[-1] if ends[b.start] == 1 else b.half_px[0]
                # the part of a spur inside the line it leaves is no length of its own
                if b.length_px < max(least_px, 2.0 * widths * float(at)):
                    continue
            kept.append(b)
        kept = _drop_small_loops(kept, least_px)
        joined = join_through(kept)
        if len(joined) == len(branches):
            return joined
        branches = joined
    return branches


def join_through(branches: list[Branch]) -> list[Branch]:
    """Join branches at nodes where exactly two ends meet."""
    at: dict[int, list[int]] = defaultdict(list)
    for i, b in enumerate(branches):
        at[b.start].append(i)
        at[b.end].append(i)
    used = np.zeros(len(branches), bool)
    out = []
    order = sorted(range(len(branches)), key=lambda i: len(at[branches[i].start]) == 2)
    for seed in order:
        if used[seed]:
            continue
        used[seed] = True
        run = [branches[seed]]
        for forward in (True, False):
            while True:
                tip = run[-1].end if forward else run[0].start
                if run[0].start == run[-1].end or len(at[tip]) != 2:
                    break
                others = [i for i in at[tip] if not used[i]]
                if not others:
                    break
                used[others[0]] = True
                b = branches[others[0]]
                if forward:
                    run.append(b if b.start == tip else b.reversed())
                else:
                    run.insert(0, b if b.end == tip else b.reversed())
        out.append(run[0] if len(run) == 1 else _concatenate(run))
    return out


def degrees(branches: list[Branch]) -> dict[int, int]:
    """Number of branch ends at each node."""
    count: dict[int, int] = defaultdict(int)
    for b in branches:
        count[b.start] += 1
        count[b.end] += 1
    return count


def components(branches: list[Branch]) -> list[list[int]]:
    """Indices of branches that hang together, in order of their first branch."""
    parent: dict[int, int] = {}

    def find(a: int) -> int:
        while parent.setdefault(a, a) != a:
            parent[a] = parent[parent[a]]
            a = parent[a]
        return a

    for b in branches:
        parent[find(b.start)] = find(b.end)
    groups: dict[int, list[int]] = defaultdict(list)
    for i, b in enumerate(branches):
        groups[find(b.start)].append(i)
    return list(groups.values())


def _concatenate(run: list[Branch]) -> Branch:
    """One branch from consecutive ones; a node's pixel is kept once."""
    points, half = [run[0].points], [run[0].half_px]
    for b in run[1:]:
        skip = int(np.array_equal(points[-1][-1], b.points[0]))
        points.append(b.points[skip:])
        half.append(b.half_px[skip:])
    return Branch(np.concatenate(points), np.concatenate(half), run[0].start, run[-1].end)


def _drop_small_loops(branches: list[Branch], least_px: float) -> list[Branch]:
    """Of branches that share both nodes and lie closer than the line is wide, keep the shortest."""
    pairs: dict[tuple[int, int], list[int]] = defaultdict(list)
    for i, b in enumerate(branches):
        pairs[min(b.start, b.end), max(b.start, b.end)].append(i)
    gone: set[int] = set()
    for (a, z), members in pairs.items():
        if len(members) < 2 and a != z:
            continue
        members.sort(key=lambda i: len(branches[i].points))
        for i in members if a == z else members[1:]:
            b = branches[i]
            if b.length_px < 2.0 * (least_px + 2.0 * float(b.half_px.max())):
                gone.add(i)
    return [b for i, b in enumerate(branches) if i not in gone]


def _neighbours(flat: UInt8, pixels: Int, w: int) -> tuple[list[int], list[int]]:
    """Neighbour lists of the ridge pixels: concatenated, with the first position of each.

    Diagonal neighbours count only where no pixel shares a side with both, so that a staircase is a
    chain and not a row of triangles.
    """
    heads, tails = [], []
    for step in (1, w, w + 1, w - 1):
        on = flat[pixels + step].view(np.bool_)
        if step > w:
            on &= ~(flat[pixels + 1] | flat[pixels + w]).view(np.bool_)
        elif step == w - 1:
            on &= ~(flat[pixels - 1] | flat[pixels + w]).view(np.bool_)
        a = np.flatnonzero(on)
        heads.append(a)
        tails.append(np.searchsorted(pixels, pixels[a] + step))
    head = np.concatenate(heads + tails)
    tail = np.concatenate(tails + heads)
    order = np.argsort(head, kind="stable")
    first = np.searchsorted(head[order], np.arange(len(pixels) + 1))
    return tail[order].tolist(), first.tolist()


def _walk(links: list[int], first: list[int], count: int) -> list[list[int]]:
    """Chains of pixel numbers between pixels that do not have exactly two neighbours, and rings."""
    degree = [first[i + 1] - first[i] for i in range(count)]
    seen = bytearray(count)
    chains = []

    def follow(origin: int, here: int) -> list[int]:
        chain = [origin]
        before = origin
        while degree[here] == 2 and not seen[here]:
            seen[here] = 1
            chain.append(here)
            a = links[first[here]]
            before, here = here, (a if a != before else links[first[here] + 1])
        chain.append(here)
        return chain

    for node in range(count):
        if degree[node] == 2:
            continue
        for neighbour in links[first[node] : first[node + 1]]:
            if degree[neighbour] == 2:
                if not seen[neighbour]:
                    chains.append(follow(node, neighbour))
            elif node < neighbour:
                chains.append([node, neighbour])
    for pixel in range(count):
        if degree[pixel] == 2 and not seen[pixel]:
            seen[pixel] = 1
            chains.append(follow(pixel, links[first[pixel]]))
    return chains


def _merge_touching(chains: list[list[int]]) -> dict[int, int]:
    """Node number of each end pixel; junction pixels at most three px apart are one node."""
    times: dict[int, int] = defaultdict(int)
    for c in chains:
        times[c[0]] += 1
        times[c[-1]] += 1
    parent: dict[int, int] = {}

    def find(a: int) -> int:
        while parent.setdefault(a, a) != a:
            parent[a] = parent[parent[a]]
            a = parent[a]
        return a

    for c in chains:
        if len(c) <= 4 and times[c[0]] > 1 and times[c[-1]] > 1:
            parent[find(c[0])] = find(c[-1])
    return {a: find(a) for a in list(parent)}
