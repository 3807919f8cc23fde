"""Upright walls with openings beside a slab, drawn through the same camera."""

from __future__ import annotations

import numpy as np

from .noise import F32, fractal, lattice
from .plan import WallPlan
from .projection import Camera
from .raster import Stamp, blend, cover, gain

Rng = np.random.Generator
BRICK_MM = (225.0, 75.0)
"""Length and height of a brick with its joint: common practice, no source."""
MORTAR_MM = 10.0


def wall_camera(wall: WallPlan, camera: Camera) -> Camera:
    """The camera as it sees the wall's own plane: (s, z) in mm along the wall and up.

    The third axis of the plan follows from the homography of the ground and the place of the
    camera: ``H = [r1 r2 -R c]`` up to the pinhole's own matrix (Hartley & Zisserman, Multiple View
    Geometry, sec. 8.1, from memory).
    """
    h, (x, y, z) = camera.px_from_plan, camera.position_mm
    up = -(h[:, 2] + h[:, 0] * x + h[:, 1] * y) / z
    a, b = np.array(wall.start_mm, float), np.array(wall.end_mm, float)
    along = (b - a) / np.hypot(*(b - a))
    own = np.stack([h[:, :2] @ along, up, h @ np.array([a[0], a[1], 1.0])], axis=1)
    return Camera(own, camera.focal_px, camera.size_px, (0.0, 0.0, z), camera.k1, camera.k2)


def draw(wall: WallPlan, camera: Camera, rng: Rng, rgb: F32) -> None:
    """Draw one wall into ``rgb`` in place; what stands behind it is covered."""
    seen = wall_camera(wall, camera)
    shape = (rgb.shape[0], rgb.shape[1])
    a, b = np.array(wall.start_mm, float), np.array(wall.end_mm, float)
    length = float(np.hypot(*(b - a)))
    stamp = _area(seen, (0.0, length, 0.0, wall.height_mm), shape)
    if stamp.empty:
        return
    s, z, scale = _places(seen, stamp)
    face = _brick(rng, s, z, scale) if wall.kind == "brick" else _plaster(rng, s, z)
    blend(rgb, stamp, np.clip(face, 0.005, 1))
    for s0, s1, z0, z1, colour in wall.openings:
        blend(rgb, _area(seen, (s0 - 60, s1 + 60, max(z0 - 45, 0), z1 + 60), shape), np.full(3, 0.42))
        blend(rgb, _area(seen, (s0, s1, z0, z1), shape), np.asarray(colour, np.float32))
    gain(rgb, _area(seen, (0.0, length, 0.0, 14.0), shape), 0.3)  # shade of the gap at its foot


def _area(seen: Camera, box: tuple[float, float, float, float], shape: tuple[int, int]) -> Stamp:
    s0, s1, z0, z1 = box
    ring = seen.ring_px(np.array([[s0, z0], [s1, z0], [s1, z1], [s0, z1]], float))
    if not len(ring):
        return Stamp(0, 0, np.zeros((0, 0), np.float32))
    return cover([ring], shape)


def _places(seen: Camera, stamp: Stamp) -> tuple[F32, F32, F32]:
    """Along, up and mm per px of the pixels of a window."""
    rows, cols = stamp.alpha.shape
    r, c = np.mgrid[stamp.row : stamp.row + rows, stamp.col : stamp.col + cols].astype(np.float64)
    inverse = np.linalg.inv(seen.px_from_plan)
    q = np.stack([r, c, np.ones_like(r)], axis=-1) @ inverse.T
    w = np.where(np.abs(q[..., 2]) > 1e-12, q[..., 2], 1e-12)
    s, z = q[..., 0] / w, q[..., 1] / w
    scale = np.hypot(np.gradient(s, axis=1), np.gradient(z, axis=1)) if cols > 1 else np.ones_like(s)
    return s.astype(np.float32), z.astype(np.float32), np.asarray(scale, np.float32)


def _brick(rng: Rng, s: F32, z: F32, scale: F32) -> F32:
    length, height = BRICK_MM
    course = np.floor(z / height).astype(np.int64)
    shifted = s / length + 0.5 * (course % 2)
    number = np.floor(shifted).astype(np.int64)
    v = z - course * height
    u = (shifted - number) * length
    gap = np.minimum(np.minimum(u, length - u), np.minimum(v, height - v))
    soft = np.maximum(scale, 0.5)
    mortar = np.clip((MORTAR_MM / 2 - gap) / soft + 0.5, 0, 1)[..., None]
    own = np.exp(rng.normal(0, 0.16, (997, 1))) * (1 + rng.normal(0, 0.03, (997, 3)))
    face = np.array([0.27, 0.12, 0.075]) * own[(course * 7919 + number * 104729) % 997]
    shape = (s.shape[0], s.shape[1])
    face = face * (1 + 0.08 * lattice(rng, shape, (3.0, 3.0))[..., None])
    return np.asarray(face + mortar * (np.array([0.34, 0.32, 0.28]) - face), np.float32)


def _plaster(rng: Rng, s: F32, z: F32) -> F32:
    shape = (s.shape[0], s.shape[1])
    tone = 1 + 0.05 * fractal(rng, shape, 180, 4)[..., None]
    dirty = 1 - 0.25 * np.exp(-np.maximum(z, 0) / 130.0)[..., None]  # splashed at its foot
    return np.asarray(np.array([0.52, 0.49, 0.43]) * tone * dirty, np.float32)
