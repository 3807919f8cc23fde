"""Marks that are no cracks change the picture; holes report where they are and are dark inside."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.training.render import marks
from analyzer.training.render.noise import generator

SHAPE = (200, 220)


@pytest.mark.parametrize("mark", marks.MARKS)
def test_every_mark_changes_part_of_the_picture(mark: object) -> None:
    changed = []
    for seed in range(6):
        rgb = np.full((*SHAPE, 3), 0.4, np.float32)
        mark(generator(seed), rgb, 0.5)  # type: ignore[operator]
        assert np.isfinite(rgb).all()
        changed.append(float((np.abs(rgb - 0.4).max(axis=2) > 0.01).mean()))
    assert 0.0005 < np.median(changed) < 0.5


def test_holes_are_dark_where_they_are_reported_and_half_sit_on_lines() -> None:
    darker, on_line, holes = 0, 0, 0
    line = np.stack([np.full(100, 100.0), np.linspace(0, 219, 100)], axis=1)
    for seed in range(12):
        rgb = np.full((*SHAPE, 3), 0.4, np.float32)
        area = marks.cavities(generator(seed), rgb, 0.5, [line])
        if area.max() < 0.9:
            continue
        holes += 1
        darker += rgb[area > 0.9].min() < 0.2
        on_line += area[100].max() > 0.5
        outside = rgb[area == 0]
        assert np.median(np.abs(outside - 0.4)) < 0.05
    assert darker >= 0.7 * holes
    assert on_line >= 0.3 * holes
