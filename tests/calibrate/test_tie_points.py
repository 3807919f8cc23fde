"""Tie points say what each reading leaves over."""

import numpy as np
import pytest

from analyzer import frames
from analyzer.calibrate.adjustment import solve
from analyzer.calibrate.network import MarkBody, Network
from analyzer.calibrate.tie_points import fitted_ties

TRUTH = np.array([[-0.03, -0.42, 1500.0], [0.45, 0.02, 100.0], [2e-5, 1.3e-4, 1.0]])


def test_residuals_are_distances_from_the_typed_places() -> None:
    plan = [(0.0, 0.0), (3000.0, 0.0), (3000.0, 2400.0), (0.0, 2400.0), (1500.0, 1200.0)]
    seen = frames.apply(TRUTH, plan)
    typed = [*plan[:4], (1520.0, 1200.0)]
    network = Network(
        marks=tuple(
            MarkBody("ABCDE"[i], (float(r), float(c)), 1.0, typed[i], 10.0) for i, (r, c) in enumerate(seen)
        )
    )
    fit = solve(network, "photo")
    ties, rms_mm = fitted_ties(fit)
    assert [t.name for t in ties] == list("ABCDE")
    back = frames.apply(fit.homography.plan_from_px, seen)
    expected = np.hypot(*(back - typed).T)
    np.testing.assert_allclose([t.residual_mm for t in ties], expected, atol=1e-9)
    assert rms_mm == pytest.approx(np.sqrt((expected**2).mean()))
    assert 3 < rms_mm < 15
