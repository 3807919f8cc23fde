"""The two frames of a job and the transforms between them.

``px``   pixel of an upright photo: (row, col), row downwards, the centre of the first pixel at
         (0, 0) (as scikit-image has it).
``plan`` the slab seen from above: (x_mm, y_mm), x to the right, y upwards (towards the top of
         the sketch), right-handed. Origin and axes are those of the outline in the field book.

Transforms are named *target_from_source*: ``plan_from_px @ (row, col, 1)``. With these axes an
unmirrored photo taken from above the slab has a positive determinant. Other libraries want
(x, y) = (col, row); :func:`xy_from_rc` and :func:`matrix_xy_from_rc` are the only swap.

References
----------
.. [1] Hartley & Zisserman, Multiple View Geometry, 2nd ed. 2004, sec. 2.3 (from memory).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analyzer.records.picture import PlanGrid

Float = npt.NDArray[np.float64]
_SWAP: Float = np.array([[0.0, 1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])


def apply(target_from_source: npt.ArrayLike, points: npt.ArrayLike) -> Float:
    """Map points (N, 2) through a homography (3, 3).

    Points on the horizon come out as nan.
    """
    matrix = np.asarray(target_from_source, dtype=float)
    pts = np.atleast_2d(np.asarray(points, dtype=float))
    mapped = pts @ matrix[:, :2].T + matrix[:, 2]
    w = mapped[:, 2:3]
    with np.errstate(divide="ignore", invalid="ignore"):
        out: Float = np.where(np.abs(w) > 1e-15, mapped[:, :2] / w, np.nan)
    return out


def invert(target_from_source: npt.ArrayLike) -> Float:
    """Return source_from_target, scaled so that its last element is 1 where it can be.

    Raises
    ------
    numpy.linalg.LinAlgError
        The matrix is singular.
    """
    inverse: Float = np.linalg.inv(np.asarray(target_from_source, dtype=float))
    return inverse / inverse[2, 2] if abs(inverse[2, 2]) > 1e-15 else inverse


def plan_from_grid(grid: PlanGrid) -> Float:
    """Matrix (3, 3) from (row, col, 1) of a plan grid to (x_mm, y_mm, 1)."""
    s = grid.mm_per_px
    return np.array([[0.0, s, grid.x0_mm], [-s, 0.0, grid.y0_mm], [0.0, 0.0, 1.0]])


def grid_from_plan(grid: PlanGrid) -> Float:
    """Matrix (3, 3) from (x_mm, y_mm, 1) to (row, col, 1) of a plan grid."""
    s = grid.mm_per_px
    return np.array([[0.0, -1.0 / s, grid.y0_mm / s], [1.0 / s, 0.0, -grid.x0_mm / s], [0.0, 0.0, 1.0]])


def xy_from_rc(points: npt.ArrayLike) -> Float:
    """Swap (N, 2) of (row, col) to (x, y) = (col, row) for libraries that want it, and back."""
    return np.atleast_2d(np.asarray(points, dtype=float))[:, ::-1]


def matrix_xy_from_rc(target_from_px: npt.ArrayLike) -> Float:
    """The matrix that acts on (col, row, 1) as ``target_from_px`` acts on (row, col, 1)."""
    return np.asarray(target_from_px, dtype=float) @ _SWAP


def mm_per_px_at(plan_from_px: npt.ArrayLike, points_px: npt.ArrayLike) -> Float:
    """Plan size of a pixel at points (N, 2): columns (across the longest, the shortest axis).

    These are the singular values of the Jacobian of the homography, in mm per px, shape (N, 2),
    the larger first. The larger one limits what a photo can show there.
    """
    matrix = np.asarray(plan_from_px, dtype=float)
    pts = np.atleast_2d(np.asarray(points_px, dtype=float))
    mapped = pts @ matrix[:, :2].T + matrix[:, 2]
    w = mapped[:, 2]
    xy = mapped[:, :2] / w[:, None]
    jacobian = (matrix[None, :2, :2] - xy[:, :, None] * matrix[None, 2:3, :2]) / w[:, None, None]
    # Closed form for two by two: sum of squares and product of the singular values are known.
    product = np.abs(jacobian[:, 0, 0] * jacobian[:, 1, 1] - jacobian[:, 0, 1] * jacobian[:, 1, 0])
    squares = (jacobian**2).sum(axis=(1, 2))
    larger = np.sqrt((squares + np.sqrt(np.maximum(squares**2 - 4 * product**2, 0.0))) / 2)
    values: Float = np.stack([larger, product / larger], axis=1)
    return values
