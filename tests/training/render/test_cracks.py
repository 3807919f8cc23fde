"""Cracks: integrated darkness against width times contrast, and every look and network."""

import numpy as np
import pytest

from analyzer.training.render import cracks
from analyzer.training.render.noise import generator
from analyzer.training.render.truth import make_ribbon

BASE = np.array([0.4, 0.4, 0.4], np.float32)


def flat(shape: tuple[int, int] = (120, 160)) -> np.ndarray:
    return np.ones((*shape, 3), np.float32) * BASE


@pytest.mark.parametrize("angle_deg", [0, 10, 22.5, 30, 45])
@pytest.mark.parametrize("width_px", [0.3, 0.6, 1.0, 2.5])
def test_integrated_darkness_is_width_times_contrast(angle_deg: float, width_px: float) -> None:
    """A row crosses the line over width / cos(angle); geometry."""
    a = np.deg2rad(angle_deg)
    d = np.array([np.cos(a), np.sin(a)])
    line = np.array([60.2, 80.6]) + d * np.linspace(-150, 150, 200)[:, None]
    r = make_ribbon("dark", line, np.full(200, width_px))
    rgb = flat()
    look = cracks.CrackLook((0.1, 0.1, 0.1), mottle=0.0)
    cracks.draw(rgb, [r], look, generator(1), 0.5)
    drop = (0.4 - rgb[20:100, :, 1]).sum(axis=1)
    assert drop.mean() == pytest.approx(width_px / np.cos(a) * 0.3, rel=2e-3)


@pytest.mark.parametrize("kind", cracks.CRACK_KINDS)
def test_every_look_is_drawn(kind: str) -> None:
    rng = generator(7)
    style = cracks.random_style(rng, 5.0, 3.0)
    line = cracks.course(rng, style, np.array([10.0, 10.0]), np.array([110.0, 150.0]))
    ribbons = cracks.open_up(rng, line, style, kind)
    rgb = flat()
    cracks.draw(rgb, ribbons, cracks.random_look(rng, kind, 5.0, BASE), rng, 0.5)
    changed = np.abs(rgb - 0.4).max(axis=2) > 0.02
    assert 100 < changed.sum() < 0.5 * changed.size
    middle = ribbons[0].centre_px[len(ribbons[0].centre_px) // 2].round().astype(int)
    lighter = rgb[middle[0], middle[1], 1] > 0.4
    assert lighter == (kind == "light_filled")


def test_course_joins_its_ends_and_wanders() -> None:
    rng = generator(3)
    a, b = np.array([5.0, 5.0]), np.array([400.0, 300.0])
    line = cracks.course(rng, cracks.CrackStyle(2.0, sway_px=1.5), a, b)
    assert line[0] == pytest.approx(a, abs=1e-6)
    assert line[-1] == pytest.approx(b, abs=1e-6)
    d = (b - a) / np.hypot(*(b - a))
    off = (line - a) @ np.array([d[1], -d[0]])
    assert 3 < np.abs(off).max() < 200


@pytest.mark.parametrize("width_px", [0.6, 3.0, 20.0, 45.0])
def test_opening_is_as_asked_on_average(width_px: float) -> None:
    rng = generator(9)
    style = cracks.CrackStyle(width_px, ragged=0.3, vary=0.3)
    line = np.stack([np.linspace(0, 4000, 2700), np.zeros(2700)], axis=1)
    found = cracks.open_up(rng, line, style, "dark")
    width = np.concatenate([r.width_px for r in found])
    assert np.median(width) == pytest.approx(width_px, rel=0.25)
    assert width.std() > 0.1 * width_px
    r = found[0]
    assert np.hypot(*(r.left_px - r.right_px).T) == pytest.approx(r.width_px, rel=0.02, abs=0.02)


def test_gaps_interrupt_and_tapers_close() -> None:
    rng = generator(9)
    line = np.stack([np.linspace(0, 600, 400), np.zeros(400)], axis=1)
    assert len(cracks.open_up(rng, line, cracks.CrackStyle(3.0, gaps=0.3), "dark")) > 2
    whole = cracks.open_up(rng, line, cracks.CrackStyle(3.0), "dark", taper=(0.0, 0.5))
    width = np.concatenate([r.width_px for r in whole])
    assert width[-20:].mean() < 0.5 * width[:200].mean()


def test_branches_leave_the_main_crack() -> None:
    rng = generator(2)
    style = cracks.CrackStyle(4.0)
    main = np.stack([np.linspace(0, 400, 270), np.zeros(270)], axis=1)
    found = cracks.branch_out(rng, style, main, "dark", 4)
    assert len(found) == 4
    for r in found:
        assert np.hypot(*(main - r.centre_px[0]).T).min() < 5
        assert np.median(r.width_px) < 4.0


def test_map_network_is_many_cells() -> None:
    rng = generator(2)
    found = cracks.map_network(rng, cracks.CrackStyle(1.5), "dark", np.array([200.0, 200.0]), 180.0, 40.0)
    assert len(found) > 25
    everything = np.concatenate([r.centre_px for r in found])
    assert np.hypot(*(everything - 200).T).max() < 260
