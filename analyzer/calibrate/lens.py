"""How much lens distortion is left in a photo, as far as its known points can tell."""

from __future__ import annotations

import numpy as np

from analyzer.calibrate.adjustment import Fit
from analyzer.records import Float

_LEAST_REDUNDANT = 4
_SIGNIFICANT = 3.0


def left_over_distortion(fit: Fit, size: tuple[int, int]) -> tuple[float, float] | None:
    """Radial distortion at the picture's corner as part of its distance from the middle.

    Returns
    -------
    (value, u) or None
        Positive where points lie too far out (pincushion). None where too few readings are left
        over to tell.

    Notes
    -----
    One more unknown k with the picture shift k R (r / R)^3 along the radius (first Brown-Conrady
    term, from memory), solved for after the fit: the shift is freed of what the fitted unknowns
    can take up and regressed on the residuals.
    """
    if fit.n_redundant < _LEAST_REDUNDANT:
        return None
    middle = (np.array(size, dtype=float) - 1) / 2
    radius = float(np.linalg.norm(middle))
    shift = np.zeros(len(fit.equations.residuals))
    row = 0
    for px, u_px in _points(fit):
        off = (px - middle) / radius
        shift[row : row + 2] = radius * off * (off @ off) / u_px
        row += 2
    by = fit.equations.derivatives
    free = shift - by @ (fit.cofactor @ (by.T @ shift))
    strength = float(free @ free)
    if strength <= 1e-9 * float(shift @ shift) or strength == 0.0:
        return None
    k = float(free @ fit.equations.residuals) / strength
    return k, fit.inflation / float(np.sqrt(strength))


def lens_u_rel(assumed: float, found: tuple[float, float] | None) -> float:
    """Relative uncertainty of a length from the lens: the assumed one and what was found.

    A found distortion counts where it is at least three times its own uncertainty. Lengths along
    the radius change by up to three times the distortion, of which a homography takes up about
    one.
    """
    if found is None or abs(found[0]) < _SIGNIFICANT * found[1]:
        return assumed
    return float(np.hypot(assumed, 2.0 * found[0]))


def _points(fit: Fit) -> list[tuple[Float, float]]:
    """Picture points in the order of the first equations, each with its uncertainty."""
    points = []
    for sheet in fit.network.sheets:
        points += list(zip(sheet.px, sheet.u_px.tolist(), strict=True))
    points += [(np.array(m.px), m.u_px) for m in fit.network.marks]
    return points
