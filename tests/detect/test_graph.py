"""Lengths against drawn lines of known ends; topology against scikit-image's Euler number
(nodes - branches = pieces - loops)."""

import math

import cv2
import numpy as np
import pytest
from skimage.measure import euler_number
from skimage.morphology import remove_small_holes

from analyzer.detect.graph import components, degrees, join_through, polyline_length, prune, trace
from analyzer.detect.ridge import thin


def branches_of(mask):
    return trace(thin(mask), mask)


def canvas(rows=160, cols=220):
    return np.zeros((rows, cols), np.uint8)


@pytest.mark.parametrize("angle_deg", [0.0, 10.0, 22.5, 30.0, 45.0, 71.0])
def test_a_drawn_line_is_one_branch_of_its_length(angle_deg):
    mask = canvas(400, 400)
    d = 150 * np.array([math.sin(math.radians(angle_deg)), math.cos(math.radians(angle_deg))])
    a, z = 200 - d, 200 + d
    cv2.line(
        mask, tuple(np.rint(a[::-1]).astype(int).tolist()), tuple(np.rint(z[::-1]).astype(int).tolist()), 1, 3
    )
    found = prune(branches_of(mask), 1.5, 6.0)
    assert len(found) == 1
    assert found[0].length_px == pytest.approx(300, rel=0.02)


def test_a_cross_has_one_node_and_four_branches():
    mask = canvas()
    cv2.line(mask, (20, 80), (200, 80), 1, 3)
    cv2.line(mask, (110, 10), (110, 150), 1, 3)
    found = prune(branches_of(mask), 1.5, 6.0)
    assert len(found) == 4
    assert sorted(degrees(found).values()) == [1, 1, 1, 1, 4]


@pytest.mark.parametrize("seed", range(3))
def test_nodes_and_branches_have_the_euler_number_of_the_ridge(seed):
    rng = np.random.default_rng(seed)
    mask = canvas(300, 300)
    for _ in range(9):
        a, z = rng.integers(10, 290, (2, 2))
        cv2.line(mask, tuple(a.tolist()), tuple(z.tolist()), 1, 3)
    ridge = thin(mask)
    found = trace(ridge, mask)
    nodes = degrees(found)
    # holes of one or two pixels in a thinned crossing are part of one node, not loops
    solid = remove_small_holes(ridge.astype(bool), max_size=2, connectivity=1)
    assert len(nodes) - len(found) == euler_number(solid, connectivity=2)
    assert len(components(found)) == cv2.connectedComponents(ridge)[0] - 1


def test_a_ring_is_a_branch_from_a_node_to_itself():
    mask = canvas()
    cv2.circle(mask, (100, 80), 50, 1, 3)
    found = branches_of(mask)
    assert len(found) == 1
    assert found[0].start == found[0].end
    assert found[0].length_px == pytest.approx(2 * math.pi * 50, rel=0.03)


def test_raggedness_is_pruned_and_true_branches_stay():
    rng = np.random.default_rng(3)
    mask = canvas()
    cv2.line(mask, (15, 80), (205, 80), 1, 9)
    cv2.line(mask, (100, 80), (100, 20), 1, 3)
    edge = cv2.dilate(mask, np.ones((3, 3), np.uint8)) - cv2.erode(mask, np.ones((3, 3), np.uint8))
    mask ^= edge & (rng.random(mask.shape) < 0.3).astype(np.uint8)
    mask = cv2.medianBlur(mask, 3)
    found = prune(branches_of(mask), 1.5, 6.0)
    assert len(found) == 3
    assert sum(b.length_px for b in found) == pytest.approx(190 + 60, abs=25)


def test_join_through_makes_one_branch_of_two():
    mask = canvas()
    cv2.line(mask, (15, 80), (205, 80), 1, 3)
    whole = branches_of(mask)[0]
    k = len(whole.points) // 2
    first = type(whole)(whole.points[: k + 1], whole.half_px[: k + 1], whole.start, 9999)
    second = type(whole)(whole.points[k:], whole.half_px[k:], 9999, whole.end).reversed()
    (joined,) = join_through([first, second])
    assert len(joined.points) == len(whole.points)
    assert {joined.start, joined.end} == {whole.start, whole.end}


def test_polyline_length_of_a_three_four_five_triangle():
    assert polyline_length([[0, 0], [3, 4], [3, 0]]) == 9.0


def test_no_pixels_no_branches():
    assert trace(canvas(), canvas()) == []
    assert prune([], 1.5, 6.0) == []
