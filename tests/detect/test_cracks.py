"""Whole-line reasoning on drawn maps whose truth is known."""

import dataclasses
import math

import cv2
import numpy as np
import pytest
from scipy.ndimage import distance_transform_edt

from analyzer.detect.cracks import trace_maps
from analyzer.detect.graph import polyline_length
from analyzer.detect.settings import DEFAULTS
from analyzer.records.picture import ScoreMaps
from analyzer.terms import DetectMethod


def maps_of(crack, joint=None, slab=None):
    joint = np.zeros_like(crack) if joint is None else joint
    return ScoreMaps(crack=crack, joint=joint, method=DetectMethod.NETWORK, slab=slab)


def empty(rows=300, cols=400):
    return np.zeros((rows, cols), np.uint8)


def zigzag(seed, cols=400, row=150.0):
    rng = np.random.default_rng(seed)
    x = np.arange(0, cols, 12)
    y = row + np.cumsum(rng.normal(0, 5, len(x)))
    return np.stack([x, y], axis=1)


def draw(target, xy, value, width):
    cv2.polylines(target, [np.rint(xy).astype(np.int32)[:, None]], False, value, width)


def near(mask, other, tolerance_px):
    """Share of the mask's pixels within the tolerance of the other mask."""
    return np.mean(distance_transform_edt(other == 0)[mask > 0] <= tolerance_px)


def test_a_crack_comes_out_with_its_length_and_width():
    crack, xy = empty(), zigzag(1)
    draw(crack, xy, 230, 5)
    found = trace_maps(maps_of(crack))
    assert len(found.cracks) == 1
    assert sum(polyline_length(b.points_px) for b in found.cracks[0]) == pytest.approx(
        polyline_length(xy), rel=0.04
    )
    assert near(found.crack_mask, crack, 1) == 1.0
    assert near(crack, found.crack_mask, 1) == 1.0
    assert np.count_nonzero(found.crack_mask) == pytest.approx(np.count_nonzero(crack), rel=0.1)
    assert 0.7 < found.cracks[0][0].probability <= 1.0
    assert found.joints == ()


def test_a_line_that_wavers_between_the_classes_is_one_joint():
    crack, joint = empty(), empty()
    for k, a in enumerate(range(0, 400, 50)):
        draw(crack if k % 3 == 1 else joint, [(a, 100 + a * 0.1), (a + 50, 105 + a * 0.1)], 220, 4)
    found = trace_maps(maps_of(crack, joint))
    assert len(found.joints) == 1
    assert found.cracks == ()
    assert not found.crack_mask.any()


def test_a_crack_that_wavers_stays_a_crack():
    crack, joint, xy = empty(), empty(), zigzag(4)
    draw(crack, xy, 220, 4)
    draw(joint, xy[12:15], 240, 4)
    found = trace_maps(maps_of(crack, joint))
    assert found.joints == ()
    assert near(crack, found.crack_mask, 3) > 0.95


def test_a_crack_crosses_a_joint_and_both_are_found():
    crack, joint, xy = empty(), empty(), zigzag(2)
    draw(joint, [(200, 0), (205, 299)], 230, 6)
    draw(crack, xy, 230, 3)
    found = trace_maps(maps_of(crack, joint))
    assert len(found.joints) == 1
    assert near(crack, found.crack_mask, 5) > 0.97
    assert near(found.crack_mask, crack, 2) > 0.98


def test_a_crack_inside_a_joint_is_that_joints_crack():
    crack, joint = empty(), empty()
    draw(joint, [(0, 150), (399, 150)], 230, 9)
    draw(crack, [(80, 151), (150, 149), (230, 151), (300, 150)], 235, 2)
    found = trace_maps(maps_of(crack, joint))
    assert len(found.joints) == 1
    assert found.cracks == ()


def test_a_crack_close_beside_a_wide_joint_is_found():
    crack, joint = empty(), empty()
    draw(joint, [(0, 150), (399, 150)], 230, 25)
    xy = [(10, 60), (40, 100), (90, 131), (160, 133), (230, 132), (290, 100), (330, 50)]
    draw(crack, xy, 235, 7)
    found = trace_maps(maps_of(crack, joint))
    assert len(found.joints) == 1
    assert near(crack, found.crack_mask, 3) > 0.95


def test_specks_are_no_cracks_and_faint_short_lines_need_more_length():
    crack = empty()
    for k in range(12):
        cv2.circle(crack, (20 + 30 * k, 50), 4, 240, -1)
    draw(crack, [(50, 150), (95, 160)], 140, 3)
    draw(crack, [(50, 250), (95, 260)], 250, 3)
    found = trace_maps(maps_of(crack))
    assert len(found.cracks) == 1
    assert found.cracks[0][0].points_px[:, 0].mean() == pytest.approx(255, abs=3)


def test_beyond_the_outline_is_nothing_and_along_the_edge_is_no_crack():
    crack = empty()
    draw(crack, [(20, 60), (380, 60)], 230, 4)  # 10 px inside the upper edge
    draw(crack, [(30, 20), (390, 30)], 230, 4)  # beyond it
    draw(crack, zigzag(5, 260) + np.array([70, 20]), 230, 4)
    outline = [(50, 10), (50, 390), (290, 390), (290, 10)]
    found = trace_maps(maps_of(crack), mm_per_px=2.0, outline_px=outline)
    assert len(found.cracks) == 1
    assert not found.crack_mask[:70].any()
    bare = trace_maps(maps_of(crack))
    assert len(bare.cracks) + len(bare.joints) >= 3


def test_a_crack_may_reach_the_edge():
    crack = empty()
    draw(crack, [(200, 40), (212, 90), (195, 130), (210, 200)], 230, 4)
    outline = [(40, 10), (40, 390), (290, 390), (290, 10)]
    found = trace_maps(maps_of(crack), mm_per_px=2.0, outline_px=outline)
    top = min(b.points_px[:, 0].min() for b in found.cracks[0])
    assert top < 44


def test_map_cracking_has_loops_and_no_joints():
    rng = np.random.default_rng(0)
    crack = empty(400, 400)
    corners = rng.uniform(0, 400, (70, 2)).astype(np.float32)
    cells = cv2.Subdiv2D((0, 0, 400, 400))
    cells.insert([tuple(map(float, c)) for c in corners])
    for cell in cells.getVoronoiFacetList([])[0]:
        cv2.polylines(crack, [np.rint(cell).astype(np.int32)[:, None]], True, 220, 3)
    found = trace_maps(maps_of(crack, (crack * 0.3).astype(np.uint8)))
    assert near(crack, found.crack_mask, 3) > 0.95
    assert found.joints == ()


def test_turning_the_picture_turns_the_result():
    crack, joint, xy = empty(), empty(), zigzag(8)
    draw(crack, xy, 220, 4)
    draw(joint, [(100, 0), (100, 299)], 230, 5)
    here = trace_maps(maps_of(crack, joint))
    turned = trace_maps(maps_of(np.rot90(crack).copy(), np.rot90(joint).copy()))
    back = np.rot90(turned.crack_mask, -1)
    assert near(here.crack_mask, back, 2) > 0.99
    assert near(back, here.crack_mask, 2) > 0.99


def test_large_maps_are_traced_at_half_size_with_the_same_result():
    crack, joint, slab = empty(601, 803), empty(601, 803), np.full((601, 803), 255, np.uint8)
    draw(crack, zigzag(3, 780, 300.0), 230, 6)
    draw(joint, [(100, 0), (110, 600)], 230, 8)
    maps = maps_of(crack, joint, slab)
    whole = trace_maps(maps, mm_per_px=1.0)
    small = trace_maps(maps, mm_per_px=1.0, settings=dataclasses.replace(DEFAULTS, reduce_over_px=400_000))
    assert small.crack_mask.shape == (601, 803)
    assert len(small.joints) == len(whole.joints) == 1
    assert near(whole.crack_mask, small.crack_mask, 2) > 0.98
    assert near(small.crack_mask, whole.crack_mask, 2) > 0.98
    ends = [q.joints[0].points_px[[0, -1]] for q in (whole, small)]
    assert ends[1] == pytest.approx(ends[0], abs=4.0)
    assert small.joints[0].width_px == pytest.approx(whole.joints[0].width_px, abs=2.5)
    lengths = [sum(polyline_length(b.points_px) for g in t.cracks for b in g) for t in (whole, small)]
    assert lengths[1] == pytest.approx(lengths[0], rel=0.05)


def test_the_slab_probability_is_the_mean_inside_the_outline():
    slab = empty()
    slab[:150] = 255
    assert trace_maps(maps_of(empty(), slab=slab)).slab_probability == pytest.approx(0.5, abs=0.01)
    outline = [(0, 0), (0, 399), (140, 399), (140, 0)]
    assert trace_maps(maps_of(empty(), slab=slab), outline_px=outline).slab_probability == 1.0
    assert trace_maps(maps_of(empty())).slab_probability is None


def test_nodes_are_shared_by_the_branches_of_a_fork():
    crack = empty()
    for a in (0, 120, 240):
        end = (200 + 120 * math.cos(math.radians(a)), 150 + 120 * math.sin(math.radians(a)))
        draw(crack, [(200, 150), end], 230, 3)
    (group,) = trace_maps(maps_of(crack)).cracks
    assert len(group) == 3
    ends = [n for b in group for n in (b.start_node, b.end_node)]
    assert sorted(ends.count(n) for n in set(ends)) == [1, 1, 1, 3]
