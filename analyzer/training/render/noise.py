"""Random fields that surfaces, stains and shadows are made of.

All fields are float32 arrays of shape (rows, cols) with zero mean and about unit standard
deviation unless stated otherwise. They are synthesised coarse to fine on small lattices that
OpenCV enlarges, because a white field of full size costs more than all coarser octaves together.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

F32 = NDArray[np.float32]
Shape = tuple[int, int]


def generator(seed: int, *stream: int) -> np.random.Generator:
    """Random generator for a seed and an optional stream number; same numbers on every machine."""
    return np.random.Generator(np.random.SFC64(np.random.SeedSequence((abs(int(seed)), *stream))))


def white(rng: np.random.Generator, shape: Shape) -> F32:
    """White Gaussian field."""
    return rng.standard_normal(shape, dtype=np.float32)


def lattice(
    rng: np.random.Generator, shape: Shape, cell_px: tuple[float, float], angle_rad: float = 0.0
) -> F32:
    """Smooth noise with cells of `cell_px` (along, across) turned by `angle_rad`.

    `angle_rad` is the direction of the first cell axis, measured from the row axis towards the
    column axis. Long thin cells give brush strokes, wood grain and streaks.
    """
    rows, cols = shape
    finest = min(cell_px)
    if finest >= 8.0 and min(shape) >= 64:  # smooth enough to be made small and enlarged
        coarser = 4.0 if finest >= 12.0 else 2.0
        small_shape = (math.ceil(rows / coarser) + 1, math.ceil(cols / coarser) + 1)
        small_cell = (cell_px[0] / coarser, cell_px[1] / coarser)
        small = lattice(rng, small_shape, small_cell, angle_rad)
        large = (round(small_shape[1] * coarser), round(small_shape[0] * coarser))
        return np.ascontiguousarray(cv2.resize(small, large)[:rows, :cols], np.float32)
    reach = math.hypot(rows, cols)
    n_along = int(reach / cell_px[0]) + 5
    n_across = int(reach / cell_px[1]) + 5
    grid = rng.standard_normal((n_along, n_across), dtype=np.float32)
    shift_along, shift_across = rng.random(2)
    cos, sin = math.cos(angle_rad), math.sin(angle_rad)
    # lattice coordinate (across = x, along = y) of a picture pixel (col = x, row = y)
    a = np.array(
        [
            [cos / cell_px[1], -sin / cell_px[1], n_across / 2 + shift_across],
            [sin / cell_px[0], cos / cell_px[0], n_along / 2 + shift_along],
        ]
    )
    centre = np.array([(cols - 1) / 2, (rows - 1) / 2])
    a[:, 2] -= a[:, :2] @ centre + 0.5
    out = cv2.warpAffine(
        grid,
        a,
        (cols, rows),
        flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REFLECT,
    )
    out *= 1.4  # cubic interpolation of unit white noise keeps about half of its variance
    return np.asarray(out, dtype=np.float32)


def fractal(
    rng: np.random.Generator,
    shape: Shape,
    coarse_px: float,
    fine_px: float = 2.0,
    persistence: float = 0.75,
) -> F32:
    """Multi-octave noise with features from `coarse_px` down to `fine_px`.

    `persistence` is the amplitude of an octave relative to the next coarser one.
    """
    rows, cols = shape
    fine_px = max(fine_px, 1.0)
    octaves = max(1, round(math.log2(max(coarse_px, fine_px) / fine_px)) + 1)
    field: F32 | None = None
    amplitude, power = 1.0, 0.0
    for k in range(octaves):
        cell = fine_px * 2.0 ** (octaves - 1 - k)
        size = (math.ceil(rows / cell) + 2, math.ceil(cols / cell) + 2)
        layer = rng.standard_normal(size, dtype=np.float32)
        if field is not None:
            # enlarge with a margin so that octaves do not share lattice lines at the border
            field = np.asarray(
                cv2.resize(field, (size[1], size[0]), interpolation=cv2.INTER_CUBIC),
                dtype=np.float32,
            )
            field += np.float32(amplitude) * layer
        else:
            field = layer
        power += amplitude * amplitude
        amplitude *= persistence
    assert field is not None
    if fine_px > 1.0:
        wide = cv2.resize(
            field,
            (round(field.shape[1] * fine_px), round(field.shape[0] * fine_px)),
            interpolation=cv2.INTER_CUBIC,
        )
        r0 = int(rng.integers(0, wide.shape[0] - rows + 1))
        c0 = int(rng.integers(0, wide.shape[1] - cols + 1))
        field = np.ascontiguousarray(wide[r0 : r0 + rows, c0 : c0 + cols])
    else:
        field = np.ascontiguousarray(field[:rows, :cols])
    return np.asarray(field * np.float32(1.15 / math.sqrt(power)), dtype=np.float32)


def streaks(
    rng: np.random.Generator,
    shape: Shape,
    width_px: float,
    length_px: float,
    angle_rad: float,
    octaves: int = 3,
) -> F32:
    """Several octaves of long thin noise along `angle_rad` (broom marks, wood grain, drips)."""
    out = np.zeros(shape, np.float32)
    amplitude, power = 1.0, 0.0
    for _ in range(octaves):
        out += np.float32(amplitude) * lattice(
            rng, shape, (max(length_px, 1.0), max(width_px, 1.0)), angle_rad
        )
        power += amplitude**2
        amplitude *= 0.8
        width_px /= 2.1
        length_px /= 1.7
        if width_px < 0.8:
            break
    return np.asarray(out / np.float32(math.sqrt(power)), dtype=np.float32)


def smoothstep(field: F32, low: float, high: float) -> F32:
    """0 below `low`, 1 above `high`, smooth between."""
    t = np.clip((field - np.float32(low)) / np.float32(high - low), 0.0, 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t), dtype=np.float32)


def emboss(height: F32, light_rad: float, gain: float) -> F32:
    """Shading of a height field lit from `light_rad` (row axis towards column axis): mean 0."""
    d_row = np.float32(math.cos(light_rad) * gain)
    d_col = np.float32(math.sin(light_rad) * gain)
    kernel = np.zeros((3, 3), np.float32)
    kernel[1, 0], kernel[1, 2] = -d_col / 2, d_col / 2
    kernel[0, 1], kernel[2, 1] = -d_row / 2, d_row / 2
    return np.asarray(cv2.filter2D(height, -1, kernel, borderType=cv2.BORDER_REFLECT), dtype=np.float32)


def cells(
    rng: np.random.Generator,
    shape: Shape,
    spacing_px: float,
    irregular: float = 0.25,
    jitter: float = 0.45,
) -> tuple[NDArray[np.int32], F32]:
    """Voronoi cells of jittered points: labels from 0 and distance to the cell border in px.

    `irregular` (share of the spacing) bends the borders so that cells look broken, not cut.
    """
    rows, cols = shape
    n_r, n_c = int(rows / spacing_px) + 4, int(cols / spacing_px) + 4
    grid_r, grid_c = np.meshgrid(np.arange(n_r), np.arange(n_c), indexing="ij")
    pts_r = (grid_r + rng.uniform(-jitter, jitter, grid_r.shape) - 1.5) * spacing_px
    pts_c = (grid_c + rng.uniform(-jitter, jitter, grid_c.shape) + (grid_r % 2) / 2 - 2) * spacing_px
    margin = int(spacing_px * 1.2) + 2
    seeds = np.full((rows + 2 * margin, cols + 2 * margin), 255, np.uint8)
    r = np.round(pts_r).astype(int) + margin
    c = np.round(pts_c).astype(int) + margin
    inside = (r >= 0) & (r < seeds.shape[0]) & (c >= 0) & (c < seeds.shape[1])
    seeds[r[inside], c[inside]] = 0
    _, label = cv2.distanceTransformWithLabels(
        seeds, cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL
    )
    if irregular > 0:
        bend = np.float32(irregular * spacing_px)
        size = (seeds.shape[0], seeds.shape[1])
        cell = (max(spacing_px * 0.7, 2.0),) * 2
        map_c = lattice(rng, size, cell) * bend * np.float32(0.4)
        map_r = lattice(rng, size, cell) * bend * np.float32(0.4)
        map_c += np.arange(size[1], dtype=np.float32)[None, :]
        map_r += np.arange(size[0], dtype=np.float32)[:, None]
        label = cv2.remap(
            label.astype(np.float32), map_c, map_r, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REFLECT
        ).astype(np.int32)
    edge = np.zeros(label.shape, bool)
    edge[:, 1:] |= label[:, 1:] != label[:, :-1]
    edge[1:, :] |= label[1:, :] != label[:-1, :]
    distance = cv2.distanceTransform((~edge).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_3)
    window = (slice(margin, margin + rows), slice(margin, margin + cols))
    return (
        np.ascontiguousarray(label[window]).astype(np.int32),
        np.ascontiguousarray(distance[window]).astype(np.float32),
    )
