"""Pinhole camera over the plan: which point of the slab each pixel sees, exactly.

Plan: (x, y) in mm, x to the right, y up, seen from above; heights up from the slab's surface.
Pixels: (row, col), centres at integers. Homogeneous pixel vectors are (row, col, 1).
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from .curves import F64


@dataclass(frozen=True, slots=True)
class Camera:
    """A camera above the slab.

    `px_from_plan` (3, 3) maps (x_mm, y_mm, 1) to (row, col, w), w > 0 in front of the camera.
    Radial distortion `k1`, `k2` (of the radius in focal lengths) moves ideal to real pixels.
    """

    px_from_plan: F64
    focal_px: float
    size_px: tuple[int, int]
    position_mm: tuple[float, float, float]
    k1: float = 0.0
    k2: float = 0.0

    @property
    def plan_from_px(self) -> F64:
        """Maps ideal (row, col, 1) to (x_mm, y_mm, w); w > 0 on visible ground."""
        h = np.linalg.inv(self.px_from_plan)
        corner = np.array([self.size_px[0] - 1.0, (self.size_px[1] - 1) / 2, 1.0])
        h = h / abs(h[2] @ corner)
        return np.asarray(h if h[2] @ corner > 0 else -h)

    @property
    def centre_px(self) -> F64:
        """Principal point (row, col)."""
        return (np.array(self.size_px, dtype=np.float64) - 1) / 2

    def distort(self, ideal_px: F64) -> F64:
        """Real pixels (n, 2) of ideal ones."""
        if self.k1 == 0 and self.k2 == 0:
            return ideal_px
        d = (ideal_px - self.centre_px) / self.focal_px
        r2 = np.sum(d * d, axis=-1, keepdims=True)
        return np.asarray(self.centre_px + d * (1 + self.k1 * r2 + self.k2 * r2 * r2) * self.focal_px)

    def undistort(self, real_px: F64) -> F64:
        """Ideal pixels (n, 2) of real ones, by fixed-point iteration."""
        if self.k1 == 0 and self.k2 == 0:
            return real_px
        d = (real_px - self.centre_px) / self.focal_px
        u = d
        for _ in range(12):
            r2 = np.sum(u * u, axis=-1, keepdims=True)
            u = d / (1 + self.k1 * r2 + self.k2 * r2 * r2)
        return np.asarray(self.centre_px + u * self.focal_px)

    def depth(self, plan_mm: F64) -> F64:
        """Distance along the optical axis in mm of plan points (n, 2); negative behind."""
        return np.asarray(plan_mm @ self.px_from_plan[2, :2] + self.px_from_plan[2, 2])

    def project(self, plan_mm: F64) -> F64:
        """Real pixels (n, 2) of plan points (n, 2) in front of the camera."""
        q = plan_mm @ self.px_from_plan[:, :2].T + self.px_from_plan[:, 2]
        return self.distort(np.asarray(q[:, :2] / q[:, 2:]))

    def locate(self, real_px: F64) -> F64:
        """Plan points (n, 2) in mm seen at real pixels (n, 2)."""
        h = self.plan_from_px
        q = self.undistort(real_px) @ h[:, :2].T + h[:, 2]
        return np.asarray(q[:, :2] / q[:, 2:])

    def in_front(self, line_mm: F64, least_mm: float | None = None) -> list[F64]:
        """Parts of a polyline that lie at least `least_mm` in front of the camera."""
        least = 0.02 * self.position_mm[2] if least_mm is None else least_mm
        d = self.depth(line_mm)
        if (d >= least).all():
            return [line_mm]
        ok = d >= least
        parts: list[F64] = []
        points: list[F64] = []
        for i in range(len(line_mm)):
            if i and ok[i] != ok[i - 1]:
                t = (least - d[i - 1]) / (d[i] - d[i - 1])
                points.append(line_mm[i - 1] + t * (line_mm[i] - line_mm[i - 1]))
            if ok[i]:
                points.append(line_mm[i])
            elif points:
                parts.append(np.array(points))
                points = []
        if points:
            parts.append(np.array(points))
        return [p for p in parts if len(p) > 1]

    def ring_px(self, ring_mm: F64, step_px: float = 40.0) -> F64:
        """A closed plan polygon in pixels, cut at the camera's plane; empty when unseen."""
        closed = np.concatenate([ring_mm, ring_mm[:1]])
        parts = self.in_front(closed)
        if not parts:
            return np.zeros((0, 2))
        if len(parts) > 1 and np.allclose(parts[-1][-1], parts[0][0]):
            parts = [np.concatenate([parts[-1], parts[0][1:]]), *parts[1:-1]]
        line = np.concatenate(parts)
        if self.k1 or self.k2:  # straight edges bend: put points on them
            line = np.concatenate([line, line[:1]])
            t = np.linspace(0, 1, 32, endpoint=False)[:, None]
            line = np.concatenate([a + (b - a) * t for a, b in itertools.pairwise(line)])
        return self.project(line)

    def mm_per_px(self, at_px: F64) -> float:
        """Geometric mean plan scale at one real pixel (2,)."""
        p = self.locate(at_px + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
        a, b = p[1] - p[0], p[2] - p[0]
        return float(np.sqrt(abs(a[0] * b[1] - a[1] * b[0])))


def look_at_camera(
    position_mm: tuple[float, float, float],
    target_mm: tuple[float, float],
    focal_px: float,
    size_px: tuple[int, int],
    roll_rad: float = 0.0,
    k1: float = 0.0,
    k2: float = 0.0,
) -> Camera:
    """Camera at (x, y, height) looking at a plan point; upright picture of (rows, cols).

    Looking straight down, the top of the picture is plan y up. `roll_rad` turns the camera about its
    axis. Raises ValueError when the camera is not above the slab.
    """
    if position_mm[2] <= 0:
        raise ValueError(f"camera height is {position_mm[2]} mm: it must be above the slab (> 0)")
    place = np.array(position_mm, dtype=np.float64)
    forward = np.array([target_mm[0], target_mm[1], 0.0]) - place
    forward /= np.linalg.norm(forward)
    up = np.array([0.0, 0.0, 1.0])
    if np.hypot(forward[0], forward[1]) < 1e-9:
        up = np.array([0.0, 1.0, 0.0])
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    c, s = np.cos(roll_rad), np.sin(roll_rad)
    right, down = c * right + s * down, c * down - s * right
    mid = (np.array(size_px, dtype=np.float64) - 1) / 2
    axes = np.stack([down * focal_px + forward * mid[0], right * focal_px + forward * mid[1], forward])
    h = np.empty((3, 3))
    h[:, :2] = axes[:, :2]
    h[:, 2] = -axes @ place
    return Camera(h, float(focal_px), size_px, position_mm, k1, k2)
