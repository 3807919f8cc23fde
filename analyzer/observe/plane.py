"""Weighted least-squares plane with covariance, and which panels lie on one plane with the rest."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import special

from analyzer.records import Float

_LEAST_BREADTH = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class PlaneFit:
    """z = a x + b y + c.

    ``coefficients`` (3,) and their covariance ``covariance`` (3, 3), in mm and mm per mm. The
    covariance is scaled by the scatter of the points about the plane where that is larger than
    their reading uncertainty explains (Birge ratio). ``scatter_mm`` is that unexplained
    roughness of the surface, ``chi2`` the weighted residual sum of squares, ``dof`` the degrees
    of freedom.
    """

    coefficients: Float
    covariance: Float
    residuals: Float
    chi2: float
    dof: int
    scatter_mm: float

    def at(self, xy: Float) -> Float:
        """Height of the plane at points (N, 2), shape (N,)."""
        out: Float = xy @ self.coefficients[:2] + self.coefficients[2]
        return out

    def u_at(self, xy: Float) -> Float:
        """Standard uncertainty of the plane's height at points (N, 2), shape (N,)."""
        design = np.column_stack([xy, np.ones(len(xy))])
        out: Float = np.sqrt(np.einsum("ni,ij,nj->n", design, self.covariance, design))
        return out


def fit_plane(xy: Float, z: Float, u: Float) -> PlaneFit | None:
    """Fit the plane of least weighted squares to points (N, 2) of height z (N,) with uncertainty u (N,).

    Returns None where fewer than three points are given or they lie (nearly) on one line: their
    breadth is then under 1 % of their length.

    Notes
    -----
    Ordinary weighted least squares with weights 1/u2; covariance (A^T W A)^-1 (JCGM 100:2008,
    H.3, from memory). Coordinates are centred and scaled first.
    """
    if len(xy) < 3:
        return None
    centre = xy.mean(axis=0)
    spread = np.linalg.svd(xy - centre, compute_uv=False)
    if spread[0] <= 0 or spread[-1] < _LEAST_BREADTH * spread[0]:
        return None
    scale = float(np.abs(xy - centre).max())
    weight = 1.0 / np.maximum(u, 1e-6)
    design = np.column_stack([(xy - centre) / scale, np.ones(len(xy))])
    weighted = design * weight[:, None]
    inverse = np.linalg.inv(weighted.T @ weighted)
    z_mean = float(z.mean())
    local = inverse @ (weighted.T @ ((z - z_mean) * weight))
    residuals = z - z_mean - design @ local
    dof = len(xy) - 3
    chi2 = float(np.sum((residuals * weight) ** 2))
    birge = max(1.0, chi2 / dof) if dof > 0 else 1.0
    back = np.array(
        [
            [1.0 / scale, 0.0, 0.0],
            [0.0, 1.0 / scale, 0.0],
            [-centre[0] / scale, -centre[1] / scale, 1.0],
        ]
    )
    coefficients = back @ local
    coefficients[2] += z_mean
    excess = float(residuals @ residuals) / dof - float(np.mean(u**2)) if dof > 0 else 0.0
    return PlaneFit(
        coefficients, back @ inverse @ back.T * birge, residuals, chi2, dof, math.sqrt(max(0.0, excess))
    )


def sound_stations(
    xy: Float, z: Float, u: Float, panel_of: tuple[str | None, ...], alpha: float
) -> tuple[np.ndarray[tuple[int], np.dtype[np.bool_]], tuple[str, ...]]:
    """Find the stations that lie on one plane, panel by panel.

    Stations on a joint belong to no panel and cannot tell which side they speak for: they are
    left out where the others define a plane. Then panels whose stations do not fit the plane of
    all others are left out one after the other, the worst first, by Chow's predictive F test at
    level ``alpha`` over the number of panels, as long as at least half of the stations remain.

    Returns
    -------
    mask : (N,) bool
        Stations of the sound part.
    settled : tuple of str
        Panels left out, in the order in which they were.

    References
    ----------
    .. [1] Chow, Tests of equality between sets of coefficients in two linear regressions,
       Econometrica 28 (1960) 591-605 (predictive test; from memory).
    """
    labels = np.array([p or "" for p in panel_of], dtype=object)
    panels = sorted({p for p in panel_of if p})
    mask = labels != ""
    if 2 * int(mask.sum()) < len(z) or fit_plane(xy[mask], z[mask], u[mask]) is None:
        mask = np.ones(len(z), dtype=bool)
    whole_count = int(mask.sum())
    settled: list[str] = []
    while len(panels) - len(settled) > 1:
        whole = fit_plane(xy[mask], z[mask], u[mask])
        if whole is None:
            break
        found: list[tuple[float, float, str]] = []
        for panel in panels:
            out = mask & (labels == panel)
            rest = mask & ~out
            n_out = int(out.sum())
            if panel in settled or not n_out or 2 * int(rest.sum()) < whole_count:
                continue
            fit = fit_plane(xy[rest], z[rest], u[rest])
            if fit is None or fit.dof < 1:
                continue
            scale = max(fit.chi2 / fit.dof, 1.0)
            ratio = max(0.0, whole.chi2 - fit.chi2) / n_out / scale
            if special.fdtrc(n_out, fit.dof, ratio) < alpha / len(panels):
                # Of two panels that could each be the odd one, the lower one is taken.
                found.append((round(math.log(scale), 3), float((z[out] - fit.at(xy[out])).mean()), panel))
        if not found:
            break
        worst = min(found)[2]
        settled.append(worst)
        mask &= labels != worst
    return mask, tuple(settled)
