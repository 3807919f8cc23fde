"""The first look finds sign, width and middle to a pixel or two, from hairline to hand's width."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analyzer import frames
from analyzer.measure.along import lay_stations
from analyzer.measure.centerline import fit_centerline
from analyzer.measure.profiles import Source, set_footing
from analyzer.measure.rough import look_across
from analyzer.records import Photo


def _look(kit, photo, center_px):
    plan = kit.straight_down(1.0)
    line = fit_centerline(frames.apply(plan, kit.pixel_chain(center_px)), 1.0)
    stations = lay_stations([line], 1.5, [(False, False)])
    source = Source(photo, frames.invert(plan), 0.0)
    zero = np.zeros(len(stations.branch), dtype=np.intp)
    return look_across(
        stations, set_footing(stations.points_mm, stations.normal_mm, zero, (source,)), (source,)
    )


@pytest.mark.parametrize("width", [2.0, 6.0, 15.0, 30.0, 60.0])
def test_width_within_two_pixels(kit, width) -> None:
    drawn = kit.draw(width, 25.0, size=240, seed=4)
    first = _look(kit, drawn.photo, drawn.center_px)
    assert (first.sign > 0).all()
    assert np.nanmedian(first.width_px) == pytest.approx(width, abs=2.0)


def test_a_filled_crack_is_brighter(kit) -> None:
    drawn = kit.draw(6.0, 70.0, floor=1.7, seed=5)
    first = _look(kit, drawn.photo, drawn.center_px)
    assert (first.sign < 0).all()
    assert np.nanmedian(first.width_px) == pytest.approx(6.0, abs=1.5)


def test_a_trace_beside_the_crack_finds_its_middle(kit) -> None:
    drawn = kit.draw(8.0, 0.0, seed=6)
    first = _look(kit, drawn.photo, drawn.center_px + np.array([2.0, 0.0]))
    assert abs(np.nanmedian(first.middle_px)) == pytest.approx(2.0, abs=0.8)


def test_the_edge_of_a_shadow_beside_the_crack_is_not_its_wall(kit) -> None:
    drawn = kit.draw(5.0, 0.0, seed=7, texture=0.03)
    rgb = drawn.photo.rgb.astype(float)
    rgb[108:] *= 0.55
    shaded = Photo("P1", "x.png", cv2.GaussianBlur(rgb, (0, 0), 1.0).astype(np.uint8), "0" * 64, 1)
    first = _look(kit, shaded, drawn.center_px)
    assert np.nanmedian(first.width_px) == pytest.approx(5.0, abs=2.0)


def test_no_crack_gives_no_great_width() -> None:
    rng = np.random.default_rng(8)
    grey = np.clip(128 + 6 * rng.normal(size=(200, 200)), 0, 255).astype(np.uint8)
    photo = Photo("P1", "x.png", np.repeat(grey[:, :, None], 3, axis=2), "0" * 64, 1)
    line = fit_centerline(np.stack([np.linspace(30, 170, 141), np.full(141, -100.0)], axis=1), 1.0)
    stations = lay_stations([line], 1.5, [(False, False)])
    source = Source(photo, frames.invert([[0, 1, 0], [-1, 0, 0], [0, 0, 1]]), 0.0)
    zero = np.zeros(len(stations.branch), dtype=np.intp)
    first = look_across(
        stations, set_footing(stations.points_mm, stations.normal_mm, zero, (source,)), (source,)
    )
    known = np.isfinite(first.width_px)
    assert not known.any() or np.median(first.width_px[known]) < 5.0
