"""From the pixel chain of a traced branch to a centreline whose length is right.

A chain of pixels is a staircase: summed as it stands it reads up to 8 % long, at 22.5 degrees.
The chain is resampled evenly and smoothed with a discrete natural smoothing spline, whose
response 1 / (1 + (wavelength_cut / wavelength)^4) takes the stairs away and leaves the true bends
of the crack, and whose free ends do not shrink.

References
----------
.. [1] P. H. C. Eilers, A perfect smoother, Analytical Chemistry 75 (2003), 3631-3636 (from
   memory): penalised least squares with differences of the second order.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.linalg import solveh_banded
from shapely import LineString

from analyzer.errors import RecordError
from analyzer.records import Float

CUT_WAVELENGTH_PX = 10.0
"""Bends of this wavelength keep half of their amplitude; stairs are shorter, real bends longer."""

SIMPLIFY_PX = 0.3
"""Largest distance between the stored polyline and the smooth centreline."""


@dataclass(frozen=True, slots=True, eq=False)
class Centerline:
    """A smooth centreline in plan.

    ``points_mm`` (N, 2) are evenly spaced, about one pixel apart; ``along_mm`` (N,) is the
    distance from the start; ``fit_rms_mm`` is what the smoothing took away, across the line.
    """

    points_mm: Float
    along_mm: Float
    fit_rms_mm: float
    closed: bool

    @property
    def length_mm(self) -> float:
        """Length along the line."""
        return float(self.along_mm[-1])


def fit_centerline(points_mm: npt.ArrayLike, pixel_mm: float) -> Centerline:
    """Smooth a ridge chain.

    Parameters
    ----------
    points_mm : (N, 2) array
        Ridge points in plan order, (x, y), at least two different ones.
    pixel_mm : float
        Size of the pixels in which the ridge was traced; sets what counts as staircase.

    Raises
    ------
    RecordError
        Fewer than two different points, a point that is not finite, or no pixel size.
    """
    points = np.asarray(points_mm, dtype=float)
    if points.ndim != 2 or points.shape[1] != 2 or not np.isfinite(points).all():
        raise RecordError("crack branch", "its points are not an (N, 2) array of numbers", "trace it again")
    if not pixel_mm > 0:
        raise RecordError("crack branch", f"the pixel size is {pixel_mm} mm", "give a size above zero")
    steps = np.hypot(*np.diff(points, axis=0).T)
    points = points[np.concatenate([[True], steps > 1e-9])]
    if len(points) < 2:
        raise RecordError("crack branch", "it has fewer than two different points", "trace it again")
    gap_mm = float(np.hypot(*(points[-1] - points[0])))
    # A ring is a chain that comes back to its first pixel (or the next) after going round.
    closed = len(points) > 8 and gap_mm <= 1.6 * pixel_mm
    if closed and gap_mm > 1e-9:
        points = np.vstack([points, points[:1]])
    raw, step_mm = _resample(points, pixel_mm)
    if closed:
        around = len(raw) - 1
        pad = min(around, int(4 * CUT_WAVELENGTH_PX))
        padded = np.vstack([raw[-pad - 1 : -1], raw, raw[1 : pad + 1]])
        smooth = _smooth(padded, CUT_WAVELENGTH_PX * pixel_mm / step_mm)[pad : pad + len(raw)]
        smooth[-1] = smooth[0]
    else:
        smooth = _smooth(raw, CUT_WAVELENGTH_PX * pixel_mm / step_mm)
    off = raw - smooth
    normal = normals(smooth)
    rms = float(np.sqrt(np.mean(np.sum(off * normal, axis=1) ** 2)))
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(smooth, axis=0).T))])
    return Centerline(smooth, along, rms, closed)


def normals(points_mm: Float) -> Float:
    """Unit normals (N, 2), to the left of the direction of travel."""
    tangent = np.gradient(points_mm, axis=0)
    tangent /= np.maximum(np.hypot(tangent[:, 0], tangent[:, 1]), 1e-12)[:, None]
    return np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)


def points_at(line: Centerline, along_mm: Float) -> tuple[Float, Float]:
    """Points and unit tangents, (M, 2) each, at distances from the start (M,)."""
    tangent = np.gradient(line.points_mm, axis=0)
    columns = [np.interp(along_mm, line.along_mm, line.points_mm[:, i]) for i in (0, 1)]
    slopes = [np.interp(along_mm, line.along_mm, tangent[:, i]) for i in (0, 1)]
    direction = np.stack(slopes, axis=1)
    direction /= np.maximum(np.hypot(direction[:, 0], direction[:, 1]), 1e-12)[:, None]
    return np.stack(columns, axis=1), direction


def simplify(line: Centerline, pixel_mm: float) -> tuple[tuple[float, float], ...]:
    """The centreline with few points, nowhere farther off than ``SIMPLIFY_PX`` pixels."""
    kept = LineString(line.points_mm).simplify(SIMPLIFY_PX * pixel_mm, preserve_topology=False)
    return tuple((float(x), float(y)) for x, y in kept.coords)


def direction_deg(lines_mm: list[Float]) -> float:
    """Direction of a line or of several together: anticlockwise from x, 0 up to 180 degrees.

    The mean of the doubled angles of all steps, weighted by their length (axial data: a step and
    its reverse count the same; Mardia & Jupp, Directional Statistics, 2000, from memory).
    """
    steps = np.concatenate([np.diff(line, axis=0) for line in lines_mm])
    size = np.hypot(steps[:, 0], steps[:, 1])
    doubled = 2.0 * np.arctan2(steps[:, 1], steps[:, 0])
    angle = 0.5 * np.arctan2(np.sum(size * np.sin(doubled)), np.sum(size * np.cos(doubled)))
    return float(np.degrees(angle) % 180.0)


def _resample(points: Float, spacing_mm: float) -> tuple[Float, float]:
    """Even points on the chain, about ``spacing_mm`` apart, both ends kept; and their spacing."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    n = max(3, round(float(along[-1]) / spacing_mm) + 1)
    at = np.linspace(0.0, along[-1], n)
    even = np.stack([np.interp(at, along, points[:, i]) for i in (0, 1)], axis=1)
    return even, float(along[-1]) / (n - 1)


def _smooth(points: Float, cut_wavelength: float) -> Float:
    """Minimise the squared distances plus lam times the squared second differences."""
    n = len(points)
    lam = (cut_wavelength / (2.0 * np.pi)) ** 4
    bands = np.zeros((3, n))
    # Upper bands of D'D for second differences, from the outside in.
    bands[0, 2:] = 1.0
    bands[1, 1:] = -4.0
    bands[1, [1, -1]] = -2.0
    bands[2, :] = 6.0
    bands[2, [1, -2]] = 5.0
    bands[2, [0, -1]] = 1.0
    if n == 3:
        bands[2, :] = (1.0, 4.0, 1.0)
    bands *= lam
    bands[2] += 1.0
    solved: Float = solveh_banded(bands, points, check_finite=False)
    return solved
