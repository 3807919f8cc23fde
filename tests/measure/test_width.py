"""Widths on drawn cracks: bias and spread over 3 to 20 px, oblique views, filled and thin cracks."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer import frames
from analyzer.measure.branches import draw_lines, read_lines
from analyzer.measure.profiles import Source
from analyzer.measure.width import EDGE_U_PX, Width
from analyzer.records import Photo


def _read(kit, photo, center_px, plan_from_px, pixel_mm=1.0, shift=(0.3, -0.2), scale_u_rel=0.0):
    chain = kit.pixel_chain(center_px + np.array(shift))
    trace = kit.crack(frames.apply(plan_from_px, chain))
    source = Source(photo, frames.invert(plan_from_px), scale_u_rel)
    reading = read_lines(draw_lines([trace], pixel_mm), (source,), None, pixel_mm)
    return reading.width_of(np.arange(len(reading.stations.branch))), reading


def test_bias_and_rms_from_3_to_20_px(kit) -> None:
    # True widths are drawn (exact area coverage, blur 0.7 to 1.5 px, texture, noise). The bound of
    # half a pixel is the target of the accuracy tables; PHOTO-U sqrt(2/12) px = 0.41 (computed).
    errors, claimed = [], []
    rng = np.random.default_rng(11)
    for seed, width in enumerate([3.0, 3.5, 4.0, 5.0, 6.0, 8.0, 10.0, 13.0, 16.0, 20.0]):
        for blur in (0.7, 1.1):
            drawn = kit.draw(
                width, rng.uniform(0, 180), blur=blur, floor=rng.uniform(0.05, 0.35), seed=seed, texture=0.06
            )
            found, reading = _read(kit, drawn.photo, drawn.center_px, kit.straight_down(1.0))
            good = reading.widths.valid
            errors.append(float(np.mean(reading.widths.width_px[good])) - width)
            claimed.append(found.mean_u_mm or found.max_u_mm or np.nan)
    errors = np.array(errors)
    assert abs(errors.mean()) < 0.15
    assert np.sqrt(np.mean(errors**2)) < 0.25
    assert np.abs(errors).max() < 0.6
    # The uncertainty is honest: most errors lie within one, none beyond two of it.
    assert np.nanmax(np.abs(errors) / np.array(claimed)) < 2.0


@pytest.mark.parametrize("blur", [1.5, 1.8])
def test_a_soft_picture_reads_wide_cracks_as_well(kit, blur) -> None:
    for width in (7.0, 12.0):
        drawn = kit.draw(width, 40.0, blur=blur, seed=3)
        found, _ = _read(kit, drawn.photo, drawn.center_px, kit.straight_down(1.0))
        assert found.mean_mm == pytest.approx(width, abs=0.4)


def test_scale_doubles_and_halves_with_the_plan(kit) -> None:
    drawn = kit.draw(6.0, 20.0, seed=2)
    one, _ = _read(kit, drawn.photo, drawn.center_px, kit.straight_down(1.0))
    two, _ = _read(kit, drawn.photo, drawn.center_px, kit.straight_down(2.0), pixel_mm=2.0)
    assert two.mean_mm == pytest.approx(2 * one.mean_mm, rel=1e-6)
    assert two.mean_u_mm == pytest.approx(2 * one.mean_u_mm, rel=1e-6)


def test_a_turned_photo_changes_nothing(kit) -> None:
    drawn = kit.draw(6.0, 20.0, seed=2)
    one, _ = _read(kit, drawn.photo, drawn.center_px, kit.straight_down(1.0), shift=(0, 0))
    rgb = np.ascontiguousarray(np.rot90(drawn.photo.rgb))
    n = rgb.shape[0] - 1
    turned = np.stack([n - drawn.center_px[:, 1], drawn.center_px[:, 0]], axis=1)
    two, _ = _read(kit, Photo("P1", "x", rgb, "0", 1), turned, kit.straight_down(1.0), shift=(0, 0))
    assert two.mean_mm == pytest.approx(one.mean_mm, abs=0.03)


@pytest.mark.parametrize("angle", [0.0, 35.0, 90.0])
def test_an_oblique_view_reads_plan_widths(kit, angle) -> None:
    # The plan is stretched: one pixel is 1 mm across columns and 2.2 mm down rows, with some
    # perspective. The true plan width follows from mapping the two drawn walls (plain geometry).
    width_px = 8.0
    drawn = kit.draw(width_px, angle, seed=9)
    plan_from_px = np.array([[0.0, 1.0, 0.0], [-2.2, 0.0, 600.0], [3e-4, 1e-4, 1.0]])
    a = np.radians(angle)
    wall = np.array([np.cos(a), np.sin(a)]) * width_px / 2
    left = frames.apply(plan_from_px, drawn.center_px + wall)
    right = frames.apply(plan_from_px, drawn.center_px - wall)
    along = np.gradient(left, axis=0)
    along /= np.hypot(*along.T)[:, None]
    gap = right - left
    true_mm = np.abs(along[:, 0] * gap[:, 1] - along[:, 1] * gap[:, 0])
    found, reading = _read(kit, drawn.photo, drawn.center_px, plan_from_px, pixel_mm=1.0)
    half_px_mm = 0.5 * float(np.nanmean(reading.widths.mm_per_px))
    assert found.mean_mm == pytest.approx(true_mm.mean(), abs=half_px_mm)


def test_a_filled_crack_is_read_too(kit) -> None:
    drawn = kit.draw(6.0, 55.0, floor=1.7, seed=5)
    found, _ = _read(kit, drawn.photo, drawn.center_px, kit.straight_down(1.0))
    assert found.mean_mm == pytest.approx(6.0, abs=0.5)


@pytest.mark.parametrize("width", [0.8, 1.5, 2.2])
def test_thin_cracks_get_a_bound_and_no_width(kit, width) -> None:
    for seed in range(3):
        drawn = kit.draw(width, 10.0 + 40 * seed, seed=seed, texture=0.03)
        found, _ = _read(kit, drawn.photo, drawn.center_px, kit.straight_down(0.5), pixel_mm=0.5)
        assert found.mean_mm is None
        assert found.upper_mm is not None
        assert 0.5 * width < found.upper_mm < 0.5 * (width + 4.0)


def test_greatest_width_is_that_of_the_widened_stretch(kit) -> None:
    drawn = kit.draw(5.0, 15.0, widen=4.0, seed=3, size=300)
    found, _ = _read(kit, drawn.photo, drawn.center_px, kit.straight_down(1.0))
    assert found.max_mm == pytest.approx(9.0, abs=0.6)
    assert found.mean_mm < 6.5


def test_a_single_dark_spot_is_not_the_greatest_width(kit) -> None:
    drawn = kit.draw(5.0, 0.0, seed=3, size=300)
    rgb = drawn.photo.rgb.copy()
    middle = drawn.center_px[len(drawn.center_px) // 2].astype(int)
    rgb[middle[0] - 8 : middle[0] + 9, middle[1] - 2 : middle[1] + 3] = 60
    found, _ = _read(kit, Photo("P1", "x", rgb, "0", 1), drawn.center_px, kit.straight_down(1.0))
    assert found.max_mm < 8.0


def test_spalled_shoulders_are_outside_the_walls(kit) -> None:
    # FAA-CRACK-WIDTH: between the vertical walls, not between spall edges. The shoulder is drawn as
    # a paler band (a quarter of the crack's darkness) 4 px to each side.
    crack = kit.draw(6.0, 0.0, seed=1, texture=0.03)
    wide = kit.draw(14.0, 0.0, seed=1, texture=0.03, floor=0.8)
    rgb = np.minimum(crack.photo.rgb, wide.photo.rgb)
    found, _ = _read(kit, Photo("P1", "x", rgb, "0", 1), crack.center_px, kit.straight_down(1.0))
    assert found.mean_mm == pytest.approx(6.0, abs=0.7)


def test_uncertainty_holds_the_two_edges_and_the_scale(kit) -> None:
    # PHOTO-U (computed): two edges each uniform within half a pixel, sqrt(2 / 12) = 0.408 px.
    assert pytest.approx(0.408, abs=5e-4) == EDGE_U_PX
    drawn = kit.draw(10.0, 30.0, seed=8)
    plain, _ = _read(kit, drawn.photo, drawn.center_px, kit.straight_down(0.5), pixel_mm=0.5)
    loose, _ = _read(
        kit, drawn.photo, drawn.center_px, kit.straight_down(0.5), pixel_mm=0.5, scale_u_rel=0.05
    )
    assert plain.mean_u_mm > EDGE_U_PX * 0.5
    assert loose.mean_u_mm**2 - plain.mean_u_mm**2 == pytest.approx((0.05 * plain.mean_mm) ** 2, rel=1e-6)


def test_a_blank_surface_gives_nothing(kit) -> None:
    grey = np.full((150, 150, 3), 130, np.uint8)
    line = np.stack([np.full(2000, 75.0), np.linspace(20, 130, 2000)], axis=1)
    found, _ = _read(kit, Photo("P1", "x", grey, "0", 1), line, kit.straight_down(1.0))
    assert found == Width()


def test_a_spall_on_a_crack_is_not_its_width() -> None:
    # North Dakota / FAA airfield guidance (read): between the vertical walls, not the spall edges.
    from analyzer.measure.width import _spalled

    width_px = np.array([3.0] * 80 + [20.0] * 10 + [3.0] * 10)
    crack = np.zeros(100, dtype=np.intp)
    valid = np.ones(100, dtype=bool)
    found = _spalled(width_px, np.full(100, 1.5), valid, crack)
    assert found.sum() == 10
    assert found[80:90].all()
    # A crack that is wide over much of its length is wide.
    wide = np.array([3.0] * 60 + [20.0] * 40)
    assert not _spalled(wide, np.full(100, 1.5), valid, crack).any()
    # Too narrow on the photo to tell from noise.
    assert not _spalled(np.where(width_px > 10, 7.0, 1.0), np.full(100, 1.5), valid, crack).any()


@pytest.mark.parametrize(("top_px", "told"), [(3.6, True), (9.0, False)])
def test_one_wide_stretch_on_a_crack_too_thin_to_measure_is_only_a_bound(top_px: float, told: bool) -> None:
    from analyzer.measure.width import Runs, summarise

    n = 200
    steady = np.full(n, 2.4)
    steady[90:100] = top_px
    low, high = np.maximum(np.arange(n) - 4, 0), np.minimum(np.arange(n) + 5, n)
    over = np.array([steady[a:b].mean() for a, b in zip(low, high, strict=True)])
    runs = Runs(
        np.arange(n), steady, over, low, high, np.ones(n), np.full(n, 0.1), np.full(n, 0.1), np.zeros(n)
    )
    width = summarise(runs, np.arange(n))
    assert (width.max_mm is not None) == told
    if not told:
        assert width.upper_mm is not None
        assert width.upper_mm > top_px
