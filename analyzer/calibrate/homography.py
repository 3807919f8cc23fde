"""Homographies by normalised direct linear transform, and how their errors spread over the slab.

References
----------
.. [1] Hartley & Zisserman, Multiple View Geometry, 2nd ed. 2004, algorithm 4.2 (normalised DLT)
       and sec. 5.2 (covariance propagation), from memory.
.. [2] JCGM 100:2008, sec. 5.1.2 and 5.2.2 (propagation of uncertainty), from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analyzer import frames
from analyzer.errors import CalibrationError
from analyzer.records import Float


def normaliser(points: npt.ArrayLike) -> Float:
    """Similarity (3, 3) that puts the mean of points (N, 2) at 0 and their mean distance at sqrt 2."""
    pts = np.asarray(points, dtype=float)
    centre = pts.mean(axis=0)
    distance = float(np.linalg.norm(pts - centre, axis=1).mean())
    scale = np.sqrt(2.0) / distance if distance > 0 else 1.0
    return np.array([[scale, 0, -scale * centre[0]], [0, scale, -scale * centre[1]], [0, 0, 1]])


def fit_homography(
    source: npt.ArrayLike, target: npt.ArrayLike, weights: npt.ArrayLike | None = None
) -> Float:
    """target_from_source (3, 3) by the normalised direct linear transform, w > 0 at the points.

    Parameters
    ----------
    source, target : (N, 2)
        Same points in both frames, N >= 4.
    weights : (N,), optional
        Weight of each point's two equations.

    Raises
    ------
    CalibrationError
        Fewer than four points, or points that do not fix a homography (three of four in a line).
    """
    src, dst = np.asarray(source, dtype=float), np.asarray(target, dtype=float)
    if len(src) < 4:
        raise CalibrationError("points", f"{len(src)} points do not fix a perspective", "give four or more")
    to_source, to_target = normaliser(src), normaliser(dst)
    s, t = frames.apply(to_source, src), frames.apply(to_target, dst)
    ones, zeros = np.ones(len(s)), np.zeros((len(s), 3))
    hom = np.column_stack([s, ones])
    rows = np.concatenate(
        [np.hstack([hom, zeros, -t[:, :1] * hom]), np.hstack([zeros, hom, -t[:, 1:] * hom])]
    )
    if weights is not None:
        rows = rows * np.tile(np.asarray(weights, dtype=float), 2)[:, None]
    _, singular, vt = np.linalg.svd(rows)
    if singular[7] < 1e-9 * singular[0]:
        raise CalibrationError(
            "points", "they do not fix a perspective", "choose four points of which no three lie in a line"
        )
    matrix: Float = np.linalg.inv(to_target) @ vt[-1].reshape(3, 3) @ to_source
    w = np.column_stack([src, ones]) @ matrix[2]
    matrix = matrix * (1.0 if np.sum(w) > 0 else -1.0)
    return matrix / np.linalg.norm(matrix)


def project(matrix: Float, points: Float) -> tuple[Float, Float, Float]:
    """Map points (N, 2) and differentiate.

    Returns
    -------
    mapped : (N, 2)
    by_matrix : (N, 2, 8)
        Derivative by the first eight elements of the matrix, row by row, the ninth held fixed.
    by_point : (N, 2, 2)
        Derivative by the point.
    """
    hom = np.column_stack([points, np.ones(len(points))])
    numerator = hom @ matrix.T
    w = numerator[:, 2]
    mapped = numerator[:, :2] / w[:, None]
    by_matrix = np.zeros((len(points), 2, 8))
    scaled = hom / w[:, None]
    by_matrix[:, 0, 0:3] = scaled
    by_matrix[:, 1, 3:6] = scaled
    by_matrix[:, :, 6:8] = -mapped[:, :, None] * scaled[:, None, :2]
    by_point = (matrix[None, :2, :2] - mapped[:, :, None] * matrix[None, 2:3, :2]) / w[:, None, None]
    return mapped, by_matrix, by_point


def plan_shift(px_from_plan: Float, plan: Float) -> Float:
    """How a place in plan, as read from a fixed pixel, moves with the homography.

    Parameters
    ----------
    px_from_plan : (3, 3)
        Scaled so that its last element is 1.
    plan : (N, 2)

    Returns
    -------
    (N, 2, 8)
        Derivative of (x, y) by the first eight elements of ``px_from_plan``.
    """
    _, by_matrix, by_point = project(px_from_plan, plan)
    return -np.linalg.solve(by_point, by_matrix).astype(np.float64, copy=False)


def position_covariance(px_from_plan: Float, covariance: Float, plan: Float) -> Float:
    """Covariance (N, 2, 2) in mm2 of places read from the photo, from that of the matrix (8, 8)."""
    shift = plan_shift(px_from_plan, plan)
    spread: Float = shift @ covariance @ shift.transpose(0, 2, 1)
    return spread


def length_u_rel(px_from_plan: Float, covariance: Float, plan: Float, step_mm: float = 10.0) -> Float:
    """Relative standard uncertainty (N,) of short lengths at places (N, 2), worst direction.

    The error of the homography moves places; its gradient is a strain, and the strain along a
    direction is the relative error of a length in that direction. Directions every 22.5 degrees
    are tried; a local rotation does not count.
    """
    dx, dy = np.array([step_mm, 0.0]), np.array([0.0, step_mm])
    along_x = (plan_shift(px_from_plan, plan + dx) - plan_shift(px_from_plan, plan - dx)) / (2 * step_mm)
    along_y = (plan_shift(px_from_plan, plan + dy) - plan_shift(px_from_plan, plan - dy)) / (2 * step_mm)
    worst = np.zeros(len(plan))
    for angle in np.arange(8) * np.pi / 8:
        e = np.array([np.cos(angle), np.sin(angle)])
        strain = np.einsum("i,nik->nk", e, e[0] * along_x + e[1] * along_y)
        worst = np.maximum(worst, np.einsum("nk,kl,nl->n", strain, covariance, strain))
    return np.sqrt(worst)


@dataclass(frozen=True, slots=True, eq=False)
class UncertainHomography:
    """A homography with its covariance, held between normalised frames.

    ``matrix`` (3, 3) is px_from_plan from ``to_plan @ (x, y, 1)`` to ``to_px @ (row, col, 1)``, its
    last element 1; ``covariance`` (8, 8) is that of its other elements. Normalised, so that the
    last element is never near zero: the origin lies among the points that were seen.
    """

    matrix: Float
    covariance: Float
    to_plan: Float
    to_px: Float

    @property
    def px_from_plan(self) -> Float:
        """Matrix (3, 3) from (x_mm, y_mm, 1) to (row, col, w) with w > 0 in front of the camera."""
        full: Float = np.linalg.inv(self.to_px) @ self.matrix @ self.to_plan
        return full

    @property
    def plan_from_px(self) -> Float:
        """Inverse of :attr:`px_from_plan`, of unit norm, determinant positive seen from above."""
        inverse = np.linalg.inv(self.px_from_plan).astype(np.float64, copy=False)
        return inverse / float(np.linalg.norm(inverse))

    @property
    def centre_mm(self) -> Float:
        """Middle (2,) of the points that were seen, in plan."""
        centre: Float = -self.to_plan[:2, 2] / self.to_plan[0, 0]
        return centre

    def depth(self, plan: Float) -> Float:
        """Homogeneous coordinate (N,), positive in front of the camera."""
        w: Float = np.column_stack([frames.apply(self.to_plan, plan), np.ones(len(plan))]) @ self.matrix[2]
        return w

    def position_u_mm(self, plan: Float) -> Float:
        """Standard uncertainty (N,) of places (N, 2) in plan, along the worst direction."""
        spread = position_covariance(self.matrix, self.covariance, frames.apply(self.to_plan, plan))
        worst: Float = np.sqrt(np.linalg.eigvalsh(spread)[:, -1]) / self.to_plan[0, 0]
        return worst

    def length_u_rel(self, plan: Float) -> Float:
        """Relative standard uncertainty (N,) of short lengths at places (N, 2)."""
        scaled = frames.apply(self.to_plan, plan)
        return length_u_rel(self.matrix, self.covariance, scaled, 10.0 * self.to_plan[0, 0])
