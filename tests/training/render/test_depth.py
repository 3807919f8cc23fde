"""Wide cracks: dark in the middle, brighter walls, a middle that roams; nothing far away changes."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analyzer.training.render import cracks, depth
from analyzer.training.render.noise import generator
from analyzer.training.render.truth import mask_of

SHAPE = (200, 220)


def _ribbons(seed: int, width: float) -> list[cracks.Ribbon]:
    rng = generator(seed)
    style = depth.gap_style(rng, width, 4.0)
    line = cracks.course(rng, style, np.array([100.0, -20.0]), np.array([100.0, 240.0]))
    return cracks.open_up(rng, line, style, "deep")


def test_core_is_darker_than_walls_and_far_concrete_stays() -> None:
    core_darker = 0
    for seed in range(8):
        ribbons = _ribbons(seed, 24.0)
        rgb = np.full((*SHAPE, 3), 0.4, np.float32)
        depth.draw_deep(rgb, ribbons, generator(seed, 9), 0.7)
        mask = mask_of(ribbons, SHAPE)
        inside = cv2.distanceTransform(mask, cv2.DIST_L2, cv2.DIST_MASK_5)
        grey = rgb.mean(axis=2)
        core, wall = grey[inside > 7].mean(), grey[(inside > 0) & (inside < 3)].mean()
        core_darker += core < wall
        assert grey[inside > 7].mean() < 0.4
        far = cv2.distanceTransform(255 - mask, cv2.DIST_L2, cv2.DIST_MASK_5) > 90
        assert grey[far] == pytest.approx(0.4, abs=0.02)
        assert np.isfinite(rgb).all()
    assert core_darker >= 7  # a gap washed full of sand may be an exception


def test_middle_of_a_wide_crack_roams_further_than_a_joints_may() -> None:
    roams = []
    for seed in range(12):
        ribbons = _ribbons(seed, 20.0)
        centre = max(ribbons, key=lambda r: len(r.centre_px)).centre_px
        fit = np.polyval(np.polyfit(centre[:, 1], centre[:, 0], 1), centre[:, 1])
        roams.append(float(np.std(centre[:, 0] - fit)))
    assert np.median(roams) > 0.15 * 20


def test_softening_lowers_the_fine_contrast_in_place() -> None:
    rgb = generator(2).random((64, 64, 3)).astype(np.float32)
    before = np.abs(np.diff(rgb, axis=0)).mean()
    depth.soften(rgb, generator(3))
    assert np.abs(np.diff(rgb, axis=0)).mean() < 0.8 * before
