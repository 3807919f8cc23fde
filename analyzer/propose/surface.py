"""The old surface as arrays, the finished surface as a sum of basis functions, and cutting along creases.

A continuous surface of planes over straight crease lines that run right across is

    z(p) = a x + b y + c + sum over creases l of d_l max(0, n_l . p - o_l)

so that every height and slope is linear in (a, b, c, d_1, ...): one plane is the case without
creases.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analyzer.records import Float, LevelMap
from analyzer.records.tin import Int, barycentric, triangle_areas

_ON_LINE_MM = 0.5


@dataclass(frozen=True, eq=False)
class OldSurface:
    """Vertices of the old surface: names, places (N, 2), heights, uncertainties, triangles (T, 3)."""

    names: tuple[str, ...]
    xy: Float
    z: Float
    u: Float
    triangles: Int

    @cached_property
    def areas(self) -> Float:
        """Areas of the triangles, mm2, shape (T,)."""
        return triangle_areas(self.xy, self.triangles)

    @cached_property
    def weights(self) -> Float:
        """A third of the area of the triangles around each vertex, mm2, shape (N,)."""
        out = np.zeros(len(self.xy))
        np.add.at(out, self.triangles.ravel(), np.repeat(self.areas / 3.0, 3))
        return out

    def at(self, points: Float) -> tuple[Float, Float]:
        """Height and its uncertainty at points (Q, 2), each (Q,); off the slab at the nearest edge."""
        weights, index = barycentric(self.xy, self.triangles, points)
        corners = self.triangles[index]
        height: Float = np.einsum("qi,qi->q", weights, self.z[corners])
        u: Float = np.sqrt(np.einsum("qi,qi->q", weights**2, self.u[corners] ** 2))
        return height, u


def old_surface(levels: LevelMap) -> OldSurface:
    """The triangulated surface of a level map as arrays."""
    points = levels.surface
    return OldSurface(
        tuple(p.station_id for p in points),
        np.array([(p.x_mm, p.y_mm) for p in points]),
        np.array([p.z_mm for p in points]),
        np.array([p.z_u_mm for p in points]),
        np.array(levels.triangles, dtype=np.int64).reshape(-1, 3),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A crease: points with normal . p = offset; ``normal`` has length 1 and points to the bent side."""

    normal: tuple[float, float]
    offset: float
    why: str

    def distance(self, points: Float) -> Float:
        """Signed distance (Q,) of points (Q, 2), positive on the bent side."""
        out: Float = points @ np.array(self.normal) - self.offset
        return out


@dataclass(frozen=True, slots=True, eq=False)
class Basis:
    """Basis functions of a finished surface with given creases; lengths scaled by ``scale_mm``."""

    centre: Float
    scale_mm: float
    lines: tuple[Line, ...]

    @property
    def size(self) -> int:
        """Number of coefficients."""
        return 3 + len(self.lines)

    def heights(self, points: Float) -> Float:
        """Rows (Q, n): height at each point is row . coefficients."""
        local = (points - self.centre) / self.scale_mm
        bends = [np.maximum(0.0, line.distance(points)) / self.scale_mm for line in self.lines]
        return np.column_stack([local, np.ones(len(points)), *bends])

    def slopes(self, points: Float, way: Float) -> Float:
        """Rows (Q, n): rise over run along the unit vector ``way`` at points inside the parts."""
        rows = np.zeros((len(points), self.size))
        rows[:, :2] = way / self.scale_mm
        for k, line in enumerate(self.lines):
            bend = float(np.dot(line.normal, way)) / self.scale_mm
            rows[:, 3 + k] = np.where(line.distance(points) > 0, bend, 0.0)
        return rows

    def one_per_part(self, points: Float) -> Float:
        """One of the points (Q, 2) for each part of the surface that they lie in."""
        if not len(points):
            return points
        code = np.zeros(len(points), dtype=np.int64)
        for line in self.lines:
            code = 2 * code + (line.distance(points) > 0)
        _, first = np.unique(code, return_index=True)
        return points[first]

    def gradient(self, coefficients: Float, point: Float) -> Float:
        """Slope vector (2,) of the finished surface at a point inside a part."""
        at = point.reshape(1, 2)
        return np.array(
            [
                float((self.slopes(at, axis) @ coefficients)[0])
                for axis in (np.array([1.0, 0]), np.array([0, 1.0]))
            ]
        )


def cut(old: OldSurface, lines: tuple[Line, ...]) -> OldSurface:
    """The same surface with its triangles cut along lines, so that none lies on both sides of one."""
    for k, line in enumerate(lines):
        old = _cut_one(old, line, k)
    return old


def _cut_one(old: OldSurface, line: Line, number: int) -> OldSurface:
    distance = line.distance(old.xy)
    side = np.where(np.abs(distance) <= _ON_LINE_MM, 0, np.sign(distance)).astype(int)
    corner_side = side[old.triangles]
    crossed = (corner_side.min(axis=1) < 0) & (corner_side.max(axis=1) > 0)
    if not crossed.any():
        return old
    new_points: dict[tuple[int, int], int] = {}
    names, xy, z, u = list(old.names), [*old.xy], list(old.z), list(old.u)

    def crossing(i: int, j: int) -> int:
        key = (min(i, j), max(i, j))
        if key not in new_points:
            t = distance[i] / (distance[i] - distance[j])
            new_points[key] = len(xy)
            names.append(f"crease {number + 1} point {len(new_points)}")
            xy.append(old.xy[i] + t * (old.xy[j] - old.xy[i]))
            z.append(old.z[i] + t * (old.z[j] - old.z[i]))
            u.append(float(np.hypot((1 - t) * old.u[i], t * old.u[j])))
        return new_points[key]

    pieces: list[tuple[int, int, int]] = []
    for triangle in old.triangles[crossed].tolist():
        for sign in (1, -1):
            loop: list[int] = []
            for a, b in zip(triangle, triangle[1:] + triangle[:1], strict=True):
                if side[a] * sign >= 0:
                    loop.append(a)
                if side[a] * side[b] < 0:
                    loop.append(crossing(a, b))
            pieces += [(loop[0], loop[k], loop[k + 1]) for k in range(1, len(loop) - 1)]
    triangles = np.vstack([old.triangles[~crossed], np.array(pieces, dtype=np.int64)])
    return OldSurface(tuple(names), np.array(xy), np.array(z), np.array(u), triangles)
