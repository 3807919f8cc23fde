"""Solves the equations of one photo and says how certain the homography is.

References
----------
.. [1] Nocedal & Wright, Numerical Optimization, 2nd ed. 2006, sec. 10.3 (Levenberg-Marquardt),
       from memory.
.. [2] Baarda, A testing procedure for use in geodetic networks, 1968 (standardised residuals),
       from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2 as chi2_distribution

from analyzer import frames
from analyzer.calibrate.homography import UncertainHomography, fit_homography
from analyzer.calibrate.network import (
    N_MATRIX,
    Equations,
    Network,
    SheetBody,
    equations,
    sheet_corners,
    start_unknowns,
)
from analyzer.errors import CalibrationError
from analyzer.records import Float

_TURN_STEP_DEG = 10.0
_ROUGH_TRIES = 4


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A solved network.

    ``cofactor`` (U, U) is the covariance of all unknowns before it was enlarged. ``standardised``
    are the residuals over their own standard deviation (0 where nothing checks a reading).
    ``inflation`` is by how much the homography's uncertainties were enlarged because the
    residuals are larger than they should be.
    """

    network: Network
    homography: UncertainHomography
    unknowns: Float
    cofactor: Float
    equations: Equations
    standardised: Float
    n_redundant: int
    inflation: float

    @property
    def chi2(self) -> float:
        """Sum of squared weighted residuals."""
        return float(self.equations.residuals @ self.equations.residuals)

    def sheet_pose(self, index: int) -> Float:
        """Fitted centre x, y in mm and turn in radians of a sheet."""
        at = self.network.sheet_at(index)
        return self.unknowns[at : at + 3]

    def printed_scale(self, group: int) -> float:
        """Fitted printed scale of a group of sheets."""
        return float(self.unknowns[self.network.scale_at(group)])

    def mark_place(self, index: int) -> Float:
        """Fitted place (2,) of a mark in mm."""
        at = self.network.mark_at(index)
        return self.unknowns[at : at + 2]

    def worst(self, kinds: frozenset[str]) -> tuple[float, tuple[str, str]]:
        """Largest standardised residual among the kinds of reading, and its label."""
        best = (0.0, ("", ""))
        for value, label in zip(np.abs(self.standardised), self.equations.labels, strict=True):
            if label[0] in kinds and value > best[0]:
                best = (float(value), label)
        return best


def solve(network: Network, subject: str, guesses: Sequence[Float] = ()) -> Fit:
    """Best homography for all readings, by Levenberg-Marquardt from several rough starts.

    ``guesses`` are further rough px_from_plan (3, 3).

    Raises
    ------
    CalibrationError
        No start leads to a view with every point in front of the camera, or the readings leave
        the homography open.
    """
    starts = []
    for rough in [*_rough_homographies(network), *guesses]:
        unknowns, to_plan, to_px = start_unknowns(network, rough)
        if np.isfinite(unknowns).all() and (eq := equations(network, unknowns, to_plan, to_px)):
            starts.append((float(eq.residuals @ eq.residuals), unknowns, to_plan, to_px))
    starts.sort(key=lambda s: s[0])
    best: tuple[float, Float, Float, Float, Equations] | None = None
    for _, start, to_plan, to_px in starts[:_ROUGH_TRIES]:
        unknowns, eq = _descend(network, start, to_plan, to_px)
        cost = float(eq.residuals @ eq.residuals)
        if best is None or cost < best[0]:
            best = (cost, unknowns, to_plan, to_px, eq)
    if best is None:
        raise CalibrationError(
            subject,
            "no camera position fits these points",
            "check that points and sheets carry the right names and places",
        )
    return _finish(network, *best[1:], subject)


def _rough_homographies(network: Network) -> list[Float]:
    """px_from_plan guesses: from the places alone, and from each large sheet at every turn."""
    placed_px, placed = [], []
    for sheet in network.sheets:
        if sheet.centre_mm is not None:
            placed_px.append(frames.apply(fit_homography(sheet.local_mm, sheet.px), [[0.0, 0.0]])[0])
            placed.append(sheet.centre_mm)
    for mark in network.marks:
        if mark.place_mm is not None:
            placed_px.append(np.array(mark.px))
            placed.append(mark.place_mm)
    guesses = []
    if len(placed) >= 4:
        guesses.append(_try_fit(np.array(placed), np.array(placed_px)))
    by_size = sorted(network.sheets, key=lambda s: -float(np.ptp(s.px, axis=0).prod()))
    for sheet in by_size[:2]:
        centre = np.array(sheet.centre_mm or (0.0, 0.0))
        scale = network.scales[sheet.scale_group][0]
        for turn in _turns(sheet):
            corners = sheet_corners(sheet.local_mm, np.array([*centre, turn]), scale)
            source, target = np.vstack([corners, *placed]), np.vstack([sheet.px, *placed_px])
            guesses.append(_try_fit(source, target))
            guesses.append(_try_fit(corners, sheet.px))
    return [g for g in guesses if g is not None]


def _turns(sheet: SheetBody) -> Float:
    if sheet.turn_rad is not None:
        return np.array([sheet.turn_rad])
    turns: Float = np.radians(np.arange(0.0, 360.0, _TURN_STEP_DEG))
    return turns


def _try_fit(plan: Float, px: Float) -> Float | None:
    try:
        guess = fit_homography(plan, px)
        np.linalg.inv(guess)
    except (CalibrationError, np.linalg.LinAlgError):
        return None
    return guess


def _descend(network: Network, unknowns: Float, to_plan: Float, to_px: Float) -> tuple[Float, Equations]:
    """Levenberg-Marquardt with the damping scaled by the diagonal (Marquardt 1963)."""
    eq = equations(network, unknowns, to_plan, to_px)
    assert eq is not None
    cost, damping = float(eq.residuals @ eq.residuals), 1e-3
    for _ in range(60):
        normal = eq.derivatives.T @ eq.derivatives
        gradient = eq.derivatives.T @ eq.residuals
        diagonal = np.diag(normal) + 1e-12 * np.diag(normal).max()
        try:
            step = np.linalg.solve(normal + damping * np.diag(diagonal), -gradient)
        except np.linalg.LinAlgError:
            damping = max(damping, 1e-9) * 10
            continue
        trial = unknowns + step
        trial_eq = equations(network, trial, to_plan, to_px)
        trial_cost = np.inf if trial_eq is None else float(trial_eq.residuals @ trial_eq.residuals)
        if trial_eq is not None and trial_cost <= cost:
            gain = cost - trial_cost
            unknowns, eq, cost, damping = trial, trial_eq, trial_cost, damping / 10
            if gain <= 1e-9 * (1.0 + cost):
                break
        elif damping > 1e12:
            break
        else:
            damping *= 10
    return unknowns, eq


def _finish(
    network: Network, unknowns: Float, to_plan: Float, to_px: Float, eq: Equations, subject: str
) -> Fit:
    """Covariance, standardised residuals and the enlargement that the residuals ask for."""
    size = np.sqrt((eq.derivatives**2).sum(axis=0))
    if (size == 0).any():
        size = np.where(size == 0, 1.0, size)
    scaled = eq.derivatives / size
    values, vectors = np.linalg.eigh(scaled.T @ scaled)
    if values[0] < 1e-12 * values[-1]:
        raise CalibrationError(
            subject,
            "the readings leave the perspective open",
            "give four marks of which no three lie in a line, or lay out marker sheets",
        )
    full = (vectors / values) @ vectors.T / np.outer(size, size)
    redundancy = 1.0 - np.einsum("ij,jk,ik->i", eq.derivatives, full, eq.derivatives)
    checked = redundancy > 1e-3
    standardised = np.where(checked, eq.residuals / np.sqrt(np.where(checked, redundancy, 1.0)), 0.0)
    n_redundant = len(eq.residuals) - network.n_unknowns
    chi2 = float(eq.residuals @ eq.residuals)
    inflation = 1.0
    if n_redundant > 0 and chi2 > chi2_distribution.ppf(0.95, n_redundant):
        inflation = float(np.sqrt(chi2 / n_redundant))
    homography = UncertainHomography(
        np.append(unknowns[:N_MATRIX], 1.0).reshape(3, 3),
        full[:N_MATRIX, :N_MATRIX] * inflation**2,
        to_plan,
        to_px,
    )
    return Fit(network, homography, unknowns, full, eq, standardised, n_redundant, inflation)
