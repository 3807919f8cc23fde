"""Lays a photo on a plan grid, averaging where the photo is finer than the grid."""

from __future__ import annotations

import cv2
import numpy as np

from analyzer import frames
from analyzer.records import Float, PlanGrid, UInt8

_TILE = 512
_MOST_SAMPLES = 4
_NOTHING = 128
_SHARP = 1.3
"""Bilinear sampling still sees every photo pixel up to about this many of them per cell."""


def lay_on_grid(rgb: UInt8, plan_from_px: Float, window: PlanGrid) -> UInt8:
    """Photo (R, C, 3) on a grid: (n_rows, n_cols, 3) uint8.

    Worked in tiles. Where a cell covers several photo pixels the tile is sampled from a photo
    reduced by area averaging (powers of two, no more than the coarser axis allows) and at
    several points per cell, which are averaged: a hairline keeps its share of darkness instead
    of falling between samples. Outside the photo its border is mirrored, which makes no lines;
    tiles far outside are plain grey.
    """
    out = np.empty((window.n_rows, window.n_cols, 3), np.uint8)
    px_from_cell = np.linalg.inv(plan_from_px) @ frames.plan_from_grid(window)
    halves: dict[int, UInt8] = {0: rgb}
    for r0 in range(0, window.n_rows, _TILE):
        for c0 in range(0, window.n_cols, _TILE):
            n_r, n_c = min(_TILE, window.n_rows - r0), min(_TILE, window.n_cols - c0)
            shift = np.array([[1.0, 0, r0], [0, 1, c0], [0, 0, 1]])
            out[r0 : r0 + n_r, c0 : c0 + n_c] = _tile(halves, px_from_cell @ shift, n_r, n_c)
    return out


def _tile(halves: dict[int, UInt8], px_from_cell: Float, n_r: int, n_c: int) -> UInt8:
    """One tile of cells; ``halves`` holds the photo reduced by 2**key, filled when needed."""
    rows, cols = np.meshgrid(np.linspace(0, n_r - 1, 5), np.linspace(0, n_c - 1, 5))
    cells = np.column_stack([rows.ravel(), cols.ravel()])
    px_per_cell = frames.mm_per_px_at(px_from_cell, cells)
    px = frames.apply(px_from_cell, cells)
    size = np.array(halves[0].shape[:2])
    near = np.isfinite(px).all(axis=1) & ((px > -0.2 * size) & (px < 1.2 * size)).all(axis=1)
    if not near.any():
        return np.full((n_r, n_c, 3), _NOTHING, np.uint8)
    finest, coarsest = float(px_per_cell[near, 0].max()), float(px_per_cell[near, 1].min())
    # One power less than the cell allows: two or more samples a cell average what is left exactly.
    level = max(0, int(np.floor(np.log2(max(coarsest, 1e-6)))) - 1)
    samples = int(np.clip(np.ceil(finest / 2**level / _SHARP), 1, _MOST_SAMPLES))
    while level not in halves:
        known = max(halves)
        last = halves[known]
        if min(last.shape[:2]) < 2:
            level = known
            break
        even = last[: last.shape[0] // 2 * 2, : last.shape[1] // 2 * 2]
        halves[known + 1] = cv2.resize(
            even, (even.shape[1] // 2, even.shape[0] // 2), interpolation=cv2.INTER_AREA
        )
    source = halves[level]
    half = 2.0**level
    matrix = _refined(1 / half) @ px_from_cell @ np.linalg.inv(_refined(samples))
    box = _source_box(matrix, n_r * samples, n_c * samples, source.shape[:2])
    if box is not None:
        r0, r1, c0, c1 = box
        source = source[r0:r1, c0:c1]
        matrix = np.array([[1.0, 0, -r0], [0, 1, -c0], [0, 0, 1]]) @ matrix
    sampled = cv2.warpPerspective(
        source,
        frames.matrix_xy_from_rc(matrix)[[1, 0, 2]],
        (n_c * samples, n_r * samples),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REFLECT_101,
    )
    if samples > 1:
        sampled = cv2.resize(sampled, (n_c, n_r), interpolation=cv2.INTER_AREA)
    tile: UInt8 = sampled
    return tile


def _refined(factor: float) -> Float:
    """From (row, col) of a raster to that of one with ``factor`` times as many cells each way; the
    outer edges stay, so centres shift by half a cell."""
    shift = (factor - 1) / 2
    return np.array([[factor, 0, shift], [0, factor, shift], [0, 0, 1.0]])


def _source_box(matrix: Float, n_r: int, n_c: int, size: tuple[int, ...]) -> tuple[int, int, int, int] | None:
    """Part of the source that a tile needs, if the tile lies wholly inside: OpenCV takes at most
    32767 pixels a side, and a small source stays in the cache."""
    corners = np.array([[0.0, 0.0], [0.0, n_c - 1], [n_r - 1, n_c - 1], [n_r - 1, 0.0]])
    if not (np.column_stack([corners, np.ones(4)]) @ matrix[2] * np.sign(matrix[2, 2]) > 0).all():
        return None
    px = frames.apply(matrix, corners)
    low, high = np.floor(px.min(axis=0)).astype(int) - 2, np.ceil(px.max(axis=0)).astype(int) + 3
    if (low < 0).any() or (high > np.array(size[:2])).any():
        return None
    return int(low[0]), int(high[0]), int(low[1]), int(high[1])
