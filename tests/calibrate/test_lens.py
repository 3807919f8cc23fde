"""Left-over lens distortion is found where the points can tell, and only there."""

import numpy as np
import pytest

from analyzer import frames
from analyzer.calibrate.adjustment import solve
from analyzer.calibrate.lens import left_over_distortion, lens_u_rel
from analyzer.calibrate.network import MarkBody, Network

SIZE = (1500, 2000)
TRUTH = np.array([[-0.03, -0.42, 1500.0], [0.45, 0.02, 100.0], [2e-5, 1.3e-4, 1.0]])


def network(k: float, n_side: int, seed: int = 1) -> Network:
    """A grid of marks seen through a lens that shifts points by k R (r / R)^3 along the radius."""
    x, y = np.meshgrid(np.linspace(0, 3500, n_side), np.linspace(0, 2800, n_side))
    plan = np.column_stack([x.ravel(), y.ravel()])
    px = frames.apply(TRUTH, plan)
    middle = (np.array(SIZE) - 1) / 2
    off = (px - middle) / np.linalg.norm(middle)
    px = px + k * np.linalg.norm(middle) * off * (off**2).sum(axis=1, keepdims=True)
    px = px + np.random.default_rng(seed).normal(0, 0.5, px.shape)
    return Network(
        marks=tuple(
            MarkBody(f"m{i}", (float(r), float(c)), 0.5, (float(p[0]), float(p[1])), 1.0)
            for i, ((r, c), p) in enumerate(zip(px, plan, strict=True))
        )
    )


@pytest.mark.parametrize("k", [-0.01, 0.006])
def test_distortion_comes_back(k: float) -> None:
    found = left_over_distortion(solve(network(k, 5), "photo"), SIZE)
    assert found is not None
    assert abs(found[0] - k) < 3 * found[1]
    assert abs(found[0]) > 3 * found[1]
    assert lens_u_rel(0.002, found) > 1.5 * abs(k)


def test_none_is_found_without_distortion() -> None:
    ratios = []
    for seed in range(12):
        found = left_over_distortion(solve(network(0.0, 4, seed), "photo"), SIZE)
        assert found is not None
        ratios.append(found[0] / found[1])
    assert np.abs(ratios).max() < 3.5
    assert 0.4 < np.std(ratios) < 1.7
    assert lens_u_rel(0.002, (0.001, 0.001)) == 0.002


def test_four_marks_cannot_tell() -> None:
    assert left_over_distortion(solve(network(0.01, 2), "photo"), SIZE) is None
    assert lens_u_rel(0.002, None) == 0.002
