"""Blown-out and black pictures are told; well-lit concrete is not."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.detect import detect_picture
from analyzer.detect.exposure import read_share


def _grey(level: float, spread: float = 12.0) -> np.ndarray:
    noise = np.random.default_rng(1).normal(level, spread, (300, 400))
    return np.repeat(np.clip(noise, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


@pytest.mark.parametrize(("level", "low", "high"), [(150, 0.99, 1.0), (275, 0.0, 0.05), (-20, 0.0, 0.05)])
def test_share_of_pixels_that_show_something(level: float, low: float, high: float) -> None:
    assert low <= read_share(_grey(level)) <= high


def test_only_the_asked_part_counts() -> None:
    rgb = _grey(150)
    rgb[:, 200:] = 255
    where = np.zeros((300, 400), bool)
    where[:, :200] = True
    assert read_share(rgb) == pytest.approx(0.5, abs=0.01)
    assert read_share(rgb, where) > 0.99
    assert read_share(rgb, np.zeros((300, 400), bool)) == 0.0


def test_a_blown_out_picture_is_doubted_by_the_detector() -> None:
    white = detect_picture(_grey(275)).slab_probability
    assert white is not None
    assert white < 0.1


def test_a_page_of_text_is_doubted() -> None:
    # skimage.data.page: a scanned page, from the library's own data, whitened as a screenshot is.
    from skimage import data

    page = np.repeat(data.page()[..., None], 3, axis=2)
    white = np.where(page > 120, 255, page).astype(np.uint8)
    found = detect_picture(white).slab_probability
    assert found is not None
    assert found < 0.5
