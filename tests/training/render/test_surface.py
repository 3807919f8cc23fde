"""Finishes and surface damage: each is drawn, each is its own, none leaves the range of light."""

import numpy as np
import pytest

from analyzer.training.render import surface
from analyzer.training.render.noise import generator

SHAPE = (160, 200)


def flat(level: float = 0.35) -> np.ndarray:
    return np.full((*SHAPE, 3), level, np.float32)


@pytest.mark.parametrize("finish", surface.FINISHES)
@pytest.mark.parametrize("mm_per_px", [0.15, 1.0, 3.0])
def test_every_finish_is_a_textured_grey(finish: str, mm_per_px: float) -> None:
    colour = np.array([0.36, 0.35, 0.33], np.float32)
    rgb = surface.concrete(generator(4), SHAPE, mm_per_px, finish, 0.6, colour)
    assert rgb.dtype == np.float32
    assert rgb.min() >= 0.01
    assert rgb.max() <= 1.0
    assert 0.15 < rgb.mean() < 0.6
    assert rgb.std() > 0.004


def test_finishes_differ() -> None:
    made = {surface.concrete(generator(4), SHAPE, 0.8, f).tobytes() for f in surface.FINISHES}
    assert len(made) == len(surface.FINISHES)


def test_colours_are_those_of_concrete() -> None:
    colours = np.array([surface.base_colour(generator(k)) for k in range(200)])
    assert 0.25 < colours.mean() < 0.42
    chroma = colours.max(axis=1) - colours.min(axis=1)
    assert np.median(chroma) < 0.08


def test_stone_size_grows_as_asked() -> None:
    """The autocorrelation length of the picture follows the stones."""

    def reach(size: float) -> float:
        rgb = flat()
        surface.stones(generator(5), rgb, size, 0.5)
        g = rgb[..., 1] - rgb[..., 1].mean()
        return float(np.corrcoef(g[:, :-4].ravel(), g[:, 4:].ravel())[0, 1])

    assert reach(5.0) < reach(12.0) < reach(40.0)


def test_stones_stay_in_their_area() -> None:
    rgb, area = flat(), np.zeros(SHAPE, np.float32)
    area[:, 100:] = 1
    surface.stones(generator(5), rgb, 8.0, 0.5, 1.0, area)
    assert rgb[:, :100] == pytest.approx(0.35)
    assert rgb[:, 100:].std() > 0.02


def test_board_seams_run_straight_and_dark() -> None:
    rgb = flat()
    surface.boards(generator(12), rgb, 40.0, 0.5)
    assert rgb.std() > 0.005


def test_scaling_and_popouts_report_where_they_are() -> None:
    for seed in range(6):
        rgb = flat()
        area = surface.scaling(generator(seed), rgb, 3.0, 0.5)
        changed = np.abs(rgb - 0.35).max(axis=2) > 0.02
        assert not (changed & (area < 0.01)).sum() > 0.12 * changed.size
    rgb = flat()
    area = surface.popouts(generator(1), rgb, 6, 9.0, 0.5)
    changed = np.abs(rgb - 0.35).max(axis=2) > 0.01
    assert (area > 0.5).sum() > 100
    assert (changed & (area > 0.5)).sum() > 0.7 * (area > 0.5).sum()


def test_pores_are_dark() -> None:
    rgb = flat()
    surface.pores(generator(1), rgb, 60, (1.0, 4.0), 0.5)
    assert rgb.min() < 0.3
    assert np.median(rgb) == pytest.approx(0.35)


def test_flecks_have_another_tone() -> None:
    shares = []
    for seed in range(6):
        rgb = flat()
        surface.flecks(generator(seed), rgb, 6.0, 0.3)
        shares.append((np.abs(rgb[..., 1] - 0.35) > 0.005).mean())
    assert max(shares) > 0.01
    assert max(shares) < 0.9


def test_broom_marks_run_along_the_given_angle() -> None:
    rgb = flat()
    surface.broom(generator(3), rgb, 4.0, 0.5, 0.0)
    g = rgb[..., 1]
    assert np.abs(np.diff(g, axis=0)).mean() < 0.4 * np.abs(np.diff(g, axis=1)).mean()
