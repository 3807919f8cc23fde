"""Blur and contrast recovered from what a blurred box shows; formulas against scipy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d
from scipy.special import erf

from analyzer.measure.floor import BLUR_PX, blur_by_edges, fit_floors

NONE = np.array([np.nan])
DARK = np.array([True])


def _seen(width: float, contrast: float, blur: float) -> tuple[float, float, float]:
    """Area, depth and shape of a finely sampled box blurred by scipy."""
    step = 0.01
    t = np.arange(-20, 20 + step / 2, step)
    box = contrast * np.clip((width / 2 - np.abs(t)) / step + 0.5, 0, 1)
    blurred = gaussian_filter1d(box, blur / step)
    depth = blurred.max()
    spread = [step * np.sum(blurred > q * depth) for q in (0.2, 0.8)]
    return step * blurred.sum(), depth, spread[0] / spread[1]


def test_depth_follows_the_error_function() -> None:
    # The module's second formula, against scipy.ndimage on a sampled box.
    area, depth, _ = _seen(2.5, 0.7, 1.2)
    assert area == pytest.approx(0.7 * 2.5, rel=1e-3)
    assert depth == pytest.approx(0.7 * erf(2.5 / (2 * math.sqrt(2) * 1.2)), rel=1e-3)


@pytest.mark.parametrize(("width", "contrast", "blur"), [(3.0, 0.85, 0.9), (3.0, 0.7, 1.1), (4.0, 0.8, 1.4)])
def test_contrast_of_a_thin_crack_is_recovered_within_its_uncertainty(width, contrast, blur) -> None:
    area, depth, shape = _seen(width, contrast, blur)
    floors = fit_floors(
        *(np.array([v]) for v in (area, depth, shape)), NONE, DARK, np.zeros(1, np.intp), NONE
    )
    assert abs(floors.contrast[0] / contrast - 1) < 2 * floors.contrast_u_rel[0] + 0.03
    assert area / floors.contrast[0] == pytest.approx(width, abs=0.7)
    assert floors.blur_px[0] == pytest.approx(blur, abs=0.25)


def test_a_known_blur_makes_the_contrast_more_certain() -> None:
    area, depth, shape = _seen(3.0, 0.8, 1.3)
    seen = [np.array([v]) for v in (area, depth, shape)]
    free = fit_floors(*seen, NONE, DARK, np.zeros(1, np.intp), NONE)
    known = fit_floors(*seen, NONE, DARK, np.zeros(1, np.intp), np.array([1.3]))
    assert known.contrast_u_rel[0] < free.contrast_u_rel[0]
    assert abs(known.contrast[0] / 0.8 - 1) < 1.5 * known.contrast_u_rel[0]


def test_what_a_wide_part_shows_outranks_the_fit() -> None:
    area, depth, shape = _seen(2.0, 0.8, 1.1)
    seen = [np.array([v]) for v in (area, depth, shape)]
    floors = fit_floors(*seen, np.array([0.8]), DARK, np.zeros(1, np.intp), NONE)
    assert floors.contrast[0] == 0.8
    assert floors.contrast_u_rel[0] < 0.05


def test_a_pale_line_may_be_a_wider_filled_crack() -> None:
    # The same profile counts as narrower when it is dark (a floor is usually nearly black).
    area, depth, shape = _seen(2.0, 0.4, 1.2)
    seen = [np.array([v]) for v in (area, depth, shape)]
    dark = fit_floors(*seen, NONE, DARK, np.zeros(1, np.intp), NONE)
    filled = fit_floors(*seen, NONE, ~DARK, np.zeros(1, np.intp), NONE)
    assert filled.contrast[0] < dark.contrast[0] <= 1.0


def test_nothing_seen_gives_no_contrast() -> None:
    floors = fit_floors(NONE, NONE, NONE, NONE, DARK, np.zeros(1, np.intp), NONE)
    assert np.isnan(floors.contrast[0])
    assert floors.blur_px[0] == pytest.approx(BLUR_PX, abs=0.05)


def test_blur_from_wide_edges() -> None:
    # Computed: a Gaussian edge goes from 20 to 80 % in 1.683 standard deviations.
    low = np.full(30, 12.0 + 1.683 * 1.2)
    high = np.full(30, 12.0 - 1.683 * 1.2)
    found = blur_by_edges(low, high, np.zeros(30, np.intp), 2)
    assert found[0] == pytest.approx(1.2, rel=0.01)
    assert np.isnan(found[1])
