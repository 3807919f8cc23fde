"""Relative darkness: shade drops out, areas and lengths are those of the box that was drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyzer import frames
from analyzer.measure.along import lay_stations
from analyzer.measure.centerline import fit_centerline
from analyzer.measure.darkness import darken
from analyzer.measure.profiles import Source, set_footing
from analyzer.measure.rough import look_across


def _darkness(kit, drawn):
    plan = kit.straight_down(1.0)
    line = fit_centerline(frames.apply(plan, kit.pixel_chain(drawn.center_px)), 1.0)
    stations = lay_stations([line], 1.5, [(False, False)])
    source = Source(drawn.photo, frames.invert(plan), 0.0)
    zero = np.zeros(len(stations.branch), dtype=np.intp)
    footing = set_footing(stations.points_mm, stations.normal_mm, zero, (source,))
    blocks = darken(stations, footing, (source,), look_across(stations, footing, (source,)))
    assert len(blocks) == 1
    return blocks[0]


@pytest.mark.parametrize("width", [2.0, 5.0, 14.0])
@pytest.mark.parametrize("blur", [0.7, 1.5])
def test_area_is_width_times_contrast_whatever_the_blur(kit, width, blur) -> None:
    # Computed: blurring moves darkness about and keeps its sum; contrast is 1 - 0.2.
    block = _darkness(kit, kit.draw(width, 33.0, blur=blur, texture=0.0, floor=0.2))
    assert np.median(block.area) == pytest.approx(0.8 * width, rel=0.05)


def test_half_of_the_depth_is_passed_over_the_width(kit) -> None:
    block = _darkness(kit, kit.draw(9.0, 80.0, texture=0.0, floor=0.2))
    length = block.beyond(np.full(len(block.pick), 0.4))
    assert np.median(length) == pytest.approx(9.0, abs=0.1)
    assert (block.beyond(np.full(len(block.pick), 2.0)) == 0).all()


def test_slow_shade_drops_out(kit) -> None:
    # The pictures are drawn with 24 % change of light from side to side; the flanks take it out.
    block = _darkness(kit, kit.draw(6.0, 90.0, texture=0.0, floor=0.3))
    t = np.abs(block.offsets[None, :] - block.middle[:, None])
    flank = np.where((t > block.reach[:, None]) & (t < block.reach[:, None] + 5), block.values, np.nan)
    assert np.nanmax(np.abs(np.nanmean(flank, axis=1))) < 0.02
    np.testing.assert_allclose(np.median(block.depth), 0.7, atol=0.02)


def test_a_bright_crack_has_positive_values(kit) -> None:
    block = _darkness(kit, kit.draw(6.0, 10.0, texture=0.0, floor=1.6))
    assert np.median(block.depth) == pytest.approx(0.6, abs=0.03)


def test_dirt_on_the_floor_does_not_narrow_the_crack(kit) -> None:
    drawn = kit.draw(14.0, 0.0, texture=0.0)
    rgb = drawn.photo.rgb.copy()
    row = round(float(drawn.center_px[:, 0].mean()))
    rgb[row - 2 : row] = 115
    dirty = type(drawn)(replace(drawn.photo, rgb=rgb), drawn.center_px)
    block = _darkness(kit, dirty)
    clean = _darkness(kit, drawn)
    level = np.full(len(block.pick), 0.65)
    inner = np.full(len(block.pick), 4.0)
    whole = np.median(clean.beyond(level))
    assert np.median(block.beyond(level)) < whole - 1.0
    assert np.median(block.beyond(level, inner)) == pytest.approx(whole, abs=0.1)
