"""A scale from two points and their distance, on the word that the camera looked straight down."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from scipy.optimize import least_squares

from analyzer import frames
from analyzer.calibrate.homography import UncertainHomography
from analyzer.calibrate.limits import ScaleLimits
from analyzer.calibrate.network import MarkBody, TapeBody
from analyzer.errors import CalibrationError
from analyzer.records import Float


def fit_straight_down(
    marks: tuple[MarkBody, ...],
    tapes: tuple[TapeBody, ...],
    size: tuple[int, int],
    focal_px: float,
    limits: ScaleLimits,
    subject: str,
) -> UncertainHomography:
    """Similarity from two or three marks, with an allowance for a camera that was not quite level.

    Parameters
    ----------
    marks : two or more; with places in plan, or without any (then the first mark is the origin)
    tapes : distances between them; at least one where fewer than two marks have a place
    size : (n_rows, n_cols) of the photo
    focal_px : focal length, turns a tilt into a change of scale across the picture

    Notes
    -----
    A camera tilted by a small angle t about an axis sees q / (1 + t q / f) to first order: two
    perspective unknowns with prior 0 +- tan(tilt) / f. They leave the scale between the two
    points as measured and make it less certain the farther a spot lies from them.

    Raises
    ------
    CalibrationError
        The marks coincide, or places and distances contradict each other.
    """
    middle = (np.array(size, dtype=float) - 1) / 2
    q = (frames.xy_from_rc([m.px for m in marks]) - middle[::-1]) * [1.0, -1.0]
    placed = [i for i, m in enumerate(marks) if m.place_mm is not None]
    places = np.array([m.place_mm or (0.0, 0.0) for m in marks], dtype=float)
    if min(float(np.linalg.norm(q[i] - q[j])) for i, j in combinations(range(len(marks)), 2)) < 1.0:
        raise CalibrationError(subject, "two marks lie on one spot", "mark two points far apart")
    if len(placed) >= 2:
        i, j = placed[0], placed[1]
        factor = complex(*(places[j] - places[i])) / complex(*(q[j] - q[i]))
    else:
        lengths = [t.mm / float(np.linalg.norm(q[t.first] - q[t.second])) for t in tapes]
        factor = complex(float(np.mean(lengths)), 0.0)
    s = abs(factor)
    tilt_u = np.tan(np.radians(limits.straight_down_tilt_u)) / focal_px

    def plan_of(unknowns: Float, points: Float) -> Float:
        a, b, tx, ty, p, r = unknowns * [s, s, 1.0, 1.0, tilt_u, tilt_u]
        v = points / (1.0 + points @ np.array([p, r]))[:, None]
        return np.column_stack([tx + a * v[:, 0] - b * v[:, 1], ty + b * v[:, 0] + a * v[:, 1]])

    def rest(unknowns: Float) -> Float:
        plan = plan_of(unknowns, q)
        rows = [unknowns[4:6]]
        for i in placed:
            rows.append((plan[i] - places[i]) / np.hypot(marks[i].place_u_mm, marks[i].u_px * s))
        for t in tapes:
            u_mm = np.hypot(t.u_mm, np.sqrt(2.0) * marks[t.first].u_px * s)
            rows.append(np.atleast_1d((np.linalg.norm(plan[t.first] - plan[t.second]) - t.mm) / u_mm))
        if len(placed) < 2:
            # Nothing says where and how it is turned: the first mark is the origin, upright.
            rows += [(plan[0] - places[0]) / 0.01, np.atleast_1d(unknowns[1] / 1e-6)]
        return np.concatenate(rows)

    anchor = placed[0] if placed else 0
    turned = factor * complex(*q[anchor])
    start = np.array([factor.real / s, factor.imag / s, *(places[anchor] - [turned.real, turned.imag]), 0, 0])
    found = least_squares(rest, start, x_scale=[1.0, 1.0, 1e3, 1e3, 1.0, 1.0])
    chi = float(np.sqrt(2.0 * found.cost))
    if chi > limits.contradiction:
        raise CalibrationError(
            subject,
            "the distance between the marks does not agree with their places in plan",
            "measure again, or leave out what is wrong",
            found=chi,
        )
    covariance = np.linalg.inv(found.jac.T @ found.jac)
    return _as_homography(found.x * [s, s, 1.0, 1.0, tilt_u, tilt_u], covariance, s, tilt_u, middle)


def _as_homography(
    unknowns: Float, covariance: Float, s: float, tilt_u: float, middle: Float
) -> UncertainHomography:
    """The six unknowns and their covariance as a homography with covariance (8, 8)."""
    half = float(np.linalg.norm(middle)) / np.sqrt(2.0)
    to_px = np.array([[1 / half, 0, -middle[0] / half], [0, 1 / half, -middle[1] / half], [0, 0, 1]])
    k = 1.0 / (s * half)
    to_plan = np.array([[k, 0, -k * unknowns[2]], [0, k, -k * unknowns[3]], [0, 0, 1.0]])
    q_from_px = np.array([[0, 1, -middle[1]], [-1, 0, middle[0]], [0, 0, 1.0]])

    def matrix_of(u: Float) -> Float:
        a, b, tx, ty, p, r = u
        # plan = T (q / (1 + p.q)) as one matrix: the translation is carried by the denominator.
        plan_from_q = np.array([[a + tx * p, -b + tx * r, tx], [b + ty * p, a + ty * r, ty], [p, r, 1.0]])
        full = to_px @ np.linalg.inv(plan_from_q @ q_from_px) @ np.linalg.inv(to_plan)
        matrix: Float = full / full[2, 2]
        return matrix

    units = np.array([s, s, 1.0, 1.0, tilt_u, tilt_u])
    steps = units * np.array([1e-5, 1e-5, 1e-2, 1e-2, 1e-2, 1e-2])
    by = np.stack(
        [
            (matrix_of(unknowns + d) - matrix_of(unknowns - d)).ravel()[:8] / (2 * d.sum())
            for d in np.diag(steps)
        ],
        axis=1,
    )
    by = by * units
    return UncertainHomography(matrix_of(unknowns), by @ covariance @ by.T, to_plan, to_px)
