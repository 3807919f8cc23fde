"""Branches: free ends, one photo per spot, seams between photos, joints left out."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from analyzer import frames
from analyzer.measure.branches import draw_lines, pixel_of, read_lines, size_branches
from analyzer.measure.profiles import make_sources
from analyzer.records import CrackBranch, CrackTrace, Photo


def test_ends_are_free_unless_another_branch_ends_there() -> None:
    a = np.stack([np.arange(30.0), np.zeros(30)], axis=1)
    b = np.stack([np.full(30, 29.0), np.arange(30.0)], axis=1)
    crack = CrackTrace("C1", (CrackBranch(a, 1.0, 0, 1), CrackBranch(b, 1.0, 1, 2)), 1.0)
    assert [line.free for line in draw_lines([crack], 1.0)] == [(True, False), (False, True)]


def test_a_branch_of_one_point_is_left_out() -> None:
    crack = CrackTrace("C1", (CrackBranch(np.array([[1.0, 2.0]]), 1.0, 0, 0),), 1.0)
    assert draw_lines([crack], 1.0) == []


def test_pixel_size_of_a_chain() -> None:
    chain = np.cumsum([[0, 0], [1, 0], [1, 1], [1, 0], [0, 1], [1, 1]], axis=0) * 2.5
    assert pixel_of([chain]) == pytest.approx(2.5)


def test_each_spot_is_read_on_one_photo_and_the_seam_shows_no_step(kit) -> None:
    # The same drawn picture twice: whole at 1 mm per pixel, and its right half again at twice the
    # size (nearest-neighbour), which resolves that part better. The reading must use the finer one
    # there, count every station once, and give the same width on both sides of the seam.
    drawn = kit.draw(8.0, 0.0, seed=4, size=240, texture=0.03)
    rgb = drawn.photo.rgb
    fine = np.repeat(np.repeat(rgb[:, 120:], 2, axis=0), 2, axis=1)
    scale = kit.straight_down(1.0)
    # fine pixel (r, c) has its centre at coarse (r - 0.5) / 2, 120 + (c - 0.5) / 2
    coarse_from_fine = np.array([[0.5, 0.0, -0.25], [0.0, 0.5, 119.75], [0.0, 0.0, 1.0]])
    photos = [Photo("whole", "a", rgb, "0", 1), Photo("half", "b", fine, "1", 1)]
    scales = [kit.calibration(scale, photo_id="whole"),
              kit.calibration(scale @ coarse_from_fine, photo_id="half")]  # fmt: skip
    sources = make_sources(photos, scales)
    chain = frames.apply(scale, kit.pixel_chain(drawn.center_px))
    lines = draw_lines([kit.crack(chain)], 1.0)
    reading = read_lines(lines, sources, None, 1.0)
    x = reading.stations.points_mm[:, 0]
    assert (reading.footing.source[x > 125] == 1).all()
    assert (reading.footing.source[x < 115] == 0).all()
    width_mm = reading.widths.width_px * reading.widths.mm_per_px
    good = reading.widths.valid
    left, right = width_mm[good & (x < 115)].mean(), width_mm[good & (x > 125)].mean()
    assert left == pytest.approx(8.0, abs=0.4)
    assert right == pytest.approx(left, abs=0.4)


def test_size_without_photos_still_has_a_length(kit) -> None:
    chain = np.stack([np.arange(200.0), np.zeros(200)], axis=1)
    lines = draw_lines([kit.crack(chain)], 1.0)
    sized = size_branches(lines, read_lines(lines, (), None, 1.0), 1.0)[0].size
    assert sized.length_mm == pytest.approx(199.0)
    assert sized.width_mean_mm is None
    assert sized.width_upper_mm is None
    assert sized.photo_id is None


def test_stations_on_a_joint_are_not_read(kit) -> None:
    drawn = kit.draw(5.0, 0.0, seed=4)
    plan = kit.straight_down(1.0)
    sources = make_sources([drawn.photo], [kit.calibration(plan)])
    lines = draw_lines([kit.crack(frames.apply(plan, kit.pixel_chain(drawn.center_px)))], 1.0)
    joint = shapely.LineString([(100, -300), (100, 100)]).buffer(12.0)
    reading = read_lines(lines, sources, None, 1.0, joint)
    on = np.abs(reading.stations.points_mm[:, 0] - 100) < 12
    assert on.any()
    assert not reading.widths.valid[on].any()
    assert reading.widths.valid[~on].mean() > 0.9
