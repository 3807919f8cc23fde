"""Exact area coverage of polygons on the pixel grid, and painting through it.

Pixel (row, col) is the unit square around integer (row, col). The coverage of a pixel is the exact
share of its square inside the polygon (a box filter), found by summing signed trapezoids of the
edges, as scan converters for fonts do. So a line of any width and direction darkens the picture by
width times contrast, which sampling on a sub-grid reaches only roughly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Stamp:
    """Coverage `alpha` (h, w) of a window whose upper left pixel is (`row`, `col`)."""

    row: int
    col: int
    alpha: F32

    @property
    def window(self) -> tuple[slice, slice]:
        """Slices of the picture that the stamp covers."""
        h, w = self.alpha.shape
        return slice(self.row, self.row + h), slice(self.col, self.col + w)

    @property
    def empty(self) -> bool:
        """True when nothing of the polygon lies in the picture."""
        return self.alpha.size == 0


def _split(start: F64, end: F64, cuts: F64) -> tuple[F64, F64]:
    """Cuts edges at the parameters `cuts` (edges, k), given in any order; drops empty pieces."""
    t = np.sort(np.clip(np.nan_to_num(cuts, nan=0.0, posinf=0.0, neginf=0.0), 0.0, 1.0), axis=1)
    n = len(start)
    t = np.concatenate([np.zeros((n, 1)), t, np.ones((n, 1))], axis=1)
    lo, hi = t[:, :-1], t[:, 1:]
    keep = hi > lo
    edge = np.nonzero(keep)[0]
    step = (end - start)[edge]
    return start[edge] + step * lo[keep][:, None], start[edge] + step * hi[keep][:, None]


def _grid_pieces(start: F64, end: F64) -> tuple[F64, F64]:
    """Cuts edges at every pixel border they cross."""
    n = len(start)
    owners, params = [np.arange(n), np.arange(n)], [np.zeros(n), np.ones(n)]
    for axis in (0, 1):
        a, b = start[:, axis], end[:, axis]
        low, high = np.floor(np.minimum(a, b)) + 1, np.ceil(np.maximum(a, b)) - 1
        count = np.maximum(high - low + 1, 0).astype(np.int64)
        owner = np.repeat(np.arange(n), count)
        if not len(owner):
            continue
        first = np.cumsum(count) - count
        border = low[owner] + (np.arange(len(owner)) - first[owner])
        owners.append(owner)
        params.append((border - a[owner]) / (b[owner] - a[owner]))
    owner, t = np.concatenate(owners), np.concatenate(params)
    order = np.lexsort((t, owner))
    owner, t = owner[order], t[order]
    same = owner[1:] == owner[:-1]
    o, t0, t1 = owner[1:][same], t[:-1][same], t[1:][same]
    step = (end - start)[o]
    return start[o] + step * t0[:, None], start[o] + step * t1[:, None]


def _signed_area(ring: F64) -> float:
    r, c = ring[:, 0], ring[:, 1]
    return float(0.5 * np.sum(r * np.roll(c, -1) - np.roll(r, -1) * c))


def cover(rings: Sequence[F64], shape: tuple[int, int]) -> Stamp:
    """Coverage 0..1 of the union of polygons, as the window of the picture that they touch.

    `rings` are closed polygons (n, 2) of (row, col) in px, not repeating the first point; each
    counts positive whatever its direction, and overlaps are clipped to 1. Holes are not supported.
    """
    starts, ends = [], []
    for ring in rings:
        if len(ring) < 3:
            continue
        ring = np.asarray(ring, dtype=np.float64)
        if _signed_area(ring) > 0:
            ring = ring[::-1]
        starts.append(ring)
        ends.append(np.roll(ring, -1, axis=0))
    nothing = Stamp(0, 0, np.zeros((0, 0), np.float32))
    if not starts:
        return nothing
    start, end = np.concatenate(starts) + 0.5, np.concatenate(ends) + 0.5
    top, left = np.maximum(np.floor(start.min(axis=0)), 0).astype(int)
    bottom = min(int(np.ceil(start[:, 0].max())), shape[0])
    right = min(int(np.ceil(start[:, 1].max())), shape[1])
    if bottom <= top or right <= left:
        return nothing
    rows, cols = bottom - top, right - left
    offset = np.array([top, left], dtype=np.float64)
    start, end = start - offset, end - offset
    # Parts left of the window act at its left border, parts right of it nowhere, parts above or
    # below not at all; cutting there first keeps far-away points from costing anything.
    outside = (
        (start.min(axis=1) < 0) | (end.min(axis=1) < 0) | (start[:, 0] > rows)
        | (end[:, 0] > rows) | (start[:, 1] > cols) | (end[:, 1] > cols)
    )  # fmt: skip
    if outside.any():
        a, b = start[outside], end[outside]
        with np.errstate(divide="ignore", invalid="ignore"):
            cuts = np.stack(
                [(line - a[:, axis]) / (b[:, axis] - a[:, axis])
                 for axis, line in ((0, 0.0), (0, float(rows)), (1, 0.0), (1, float(cols)))],
                axis=1,
            )  # fmt: skip
        a, b = _split(a, b, cuts)
        middle = (a[:, 0] + b[:, 0]) / 2
        keep = (middle > 0) & (middle < rows)
        a, b = a[keep], b[keep]
        a[:, 1], b[:, 1] = np.clip(a[:, 1], 0, cols), np.clip(b[:, 1], 0, cols)
        start = np.concatenate([start[~outside], a])
        end = np.concatenate([end[~outside], b])
    if not len(start):
        return nothing
    a, b = _grid_pieces(start, end)
    rise = b[:, 0] - a[:, 0]
    middle_r, middle_c = (a[:, 0] + b[:, 0]) / 2, (a[:, 1] + b[:, 1]) / 2
    i = np.clip(np.floor(middle_r).astype(np.int64), 0, rows - 1)
    j = np.clip(np.floor(middle_c).astype(np.int64), 0, cols)
    part = np.clip(middle_c - j, 0.0, 1.0)
    width = cols + 2
    flat = np.bincount(i * width + j, rise * (1 - part), rows * width)
    flat += np.bincount(i * width + j + 1, rise * part, rows * width)
    alpha = np.cumsum(flat.reshape(rows, width), axis=1)[:, :cols]
    return Stamp(int(top), int(left), np.clip(np.abs(alpha), 0.0, 1.0).astype(np.float32))


def full(stamp: Stamp, shape: tuple[int, int]) -> F32:
    """The coverage as an array of the whole picture."""
    out = np.zeros(shape, np.float32)
    if not stamp.empty:
        out[stamp.window] = stamp.alpha
    return out


def normals(line: F64) -> F64:
    """Unit normals (n, 2) at the points of a polyline, 90 degrees clockwise on (row, col)."""
    d = np.gradient(line, axis=0) if len(line) > 2 else np.repeat(line[1:] - line[:1], 2, axis=0)
    length = np.hypot(d[:, 0], d[:, 1])
    d = d / np.maximum(length, 1e-9)[:, None]
    return np.stack([d[:, 1], -d[:, 0]], axis=1)


def ribbon(line: F64, width_px: F64 | float, offset_px: F64 | float = 0.0) -> F64:
    """Ring of the band of `width_px` centred `offset_px` beside a polyline."""
    n = normals(line)
    half = np.broadcast_to(np.asarray(width_px, dtype=np.float64) / 2, (len(line),))[:, None]
    off = np.broadcast_to(np.asarray(offset_px, dtype=np.float64), (len(line),))[:, None]
    return np.concatenate([line + n * (off - half), (line + n * (off + half))[::-1]])


def disc(centre: tuple[float, float], radius_px: float, points: int = 24) -> F64:
    """Ring of a circle."""
    t = np.linspace(0, 2 * np.pi, points, endpoint=False)
    return np.stack([centre[0] + radius_px * np.sin(t), centre[1] + radius_px * np.cos(t)], axis=1)


def blend(rgb: F32, stamp: Stamp, colour: ArrayLike, strength: float = 1.0) -> None:
    """Paints `colour` (3,) or (h, w, 3) over the picture through a stamp, in place."""
    if stamp.empty:
        return
    a = (stamp.alpha * np.float32(strength))[..., None]
    view = rgb[stamp.window]
    view += a * (np.asarray(colour, dtype=np.float32) - view)


def gain(rgb: F32, stamp: Stamp, factor: ArrayLike) -> None:
    """Multiplies the picture by `factor` where the stamp is 1, in place."""
    if stamp.empty:
        return
    f = np.asarray(factor, dtype=np.float32) - np.float32(1)
    view = rgb[stamp.window]
    view *= 1 + stamp.alpha[..., None] * f
