"""Where joints and cracks run: kinds, spacing, projection."""

import numpy as np
import pytest

from analyzer.training.render import layout
from analyzer.training.render.cracks import CRACK_KINDS
from analyzer.training.render.joints import JOINT_KINDS
from analyzer.training.render.noise import generator


def same(points: np.ndarray) -> np.ndarray:
    return points


def test_every_joint_kind_and_grid_occurs() -> None:
    kinds, counts = set(), []
    for seed in range(60):
        found = layout.lay_joints(generator(seed), 256, 1.5 + 0.1 * seed, same)
        kinds |= {r.kind for r in found.ribbons}
        counts.append(len(found.ribbons))
        for r, (p, q) in zip(found.ribbons, found.lines, strict=True):
            d = (q - p) / np.hypot(*(q - p))
            off = (r.centre_px - p) @ np.array([d[1], -d[0]])
            assert np.abs(off).max() < 14
    assert kinds == set(JOINT_KINDS)
    assert min(counts) <= 1
    assert max(counts) > 8


def test_width_follows_scale() -> None:
    def typical(mm_per_px: float) -> float:
        return float(
            np.median(
                [
                    np.median(r.width_px)
                    for seed in range(25)
                    for r in layout.lay_joints(generator(seed), 256, mm_per_px, same).ribbons
                ]
            )
        )

    assert typical(0.3) > 2.5 * typical(2.5)


def test_projection_moves_lines_and_scales_widths() -> None:
    def twice(points: np.ndarray) -> np.ndarray:
        return 2 * points

    a = layout.lay_joints(generator(3), 256, 1.0, same)
    b = layout.lay_joints(generator(3), 256, 1.0, twice)
    assert b.ribbons[0].centre_px[0] == pytest.approx(2 * a.ribbons[0].centre_px[0], abs=6)
    assert np.median(b.ribbons[0].width_px) == pytest.approx(2 * np.median(a.ribbons[0].width_px), rel=0.2)


def test_crack_looks_and_widths_occur() -> None:
    kinds, widest, narrowest = set(), 0.0, 99.0
    for seed in range(120):
        rng = generator(seed)
        joints = layout.lay_joints(rng, 256, 1.0, same)
        for kind, ribbons in layout.plan_cracks(rng, 256, 0.7 * 1.036**seed, 3.0, joints, same):
            kinds.add(kind)
            for r in ribbons:
                assert np.isfinite(r.centre_px).all()
                widest = max(widest, float(np.median(r.width_px)))
                narrowest = min(narrowest, float(np.median(r.width_px)))
    assert kinds == {*CRACK_KINDS, "deep"}
    assert widest > 25
    assert narrowest < 0.7
