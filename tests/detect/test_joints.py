"""Drawn joints: fitted where they were drawn; ragged lines are not joints.

Lines are compared with those that scikit-image's RANSAC fits to the same pixels.
"""

import math

import cv2
import numpy as np
import pytest
from skimage.measure import LineModelND, ransac

from analyzer.detect.evidence import load_model
from analyzer.detect.graph import prune, trace
from analyzer.detect.joint_lines import distances
from analyzer.detect.joints import fit_joints, straight_pieces
from analyzer.detect.ridge import fill_holes, hysteresis, thin
from analyzer.detect.settings import DEFAULTS
from analyzer.terms import DetectMethod


def joints_on(crack, joint, border=None, seen=None):
    either = np.maximum(crack, joint)
    mask = fill_holes(hysteresis(either, 64, 128, 6), 40)
    branches = prune(trace(thin(mask), mask), 1.5, 6.0)
    pieces = straight_pieces(branches, crack, joint, DEFAULTS)
    model = load_model(DetectMethod.NETWORK)
    lines = fit_joints(pieces, crack, joint, 0.5, model, DEFAULTS, border, seen)
    return [q for q in lines if q.probability >= 0.5]


def empty(rows=300, cols=400):
    return np.zeros((rows, cols), np.uint8)


def test_a_straight_joint_is_found_where_it_is():
    joint = empty()
    cv2.line(joint, (0, 60), (399, 95), 230, 5)
    (line,) = joints_on(empty(), joint)
    model, _ = ransac(np.argwhere(joint > 128).astype(float), LineModelND, 2, 2.0, rng=0)
    assert model.residuals(line.points).max() < 1.5
    assert line.length_px == pytest.approx(400, abs=12)
    assert 2 * line.half_px == pytest.approx(np.count_nonzero(joint) / 400, abs=1.0)
    assert line.reaches == 2
    assert line.probability > 0.9


def test_fragments_on_one_line_are_one_joint():
    joint = empty()
    for a in range(0, 400, 100):
        cv2.line(joint, (a, 150), (a + 62, 150), 230, 4)
    (line,) = joints_on(empty(), joint)
    assert line.length_px > 350
    assert 0.5 < line.support < 0.8


def test_a_grid_has_all_its_lines_and_no_more():
    joint = empty(420, 420)
    for k in (90, 210, 330):
        cv2.line(joint, (0, k), (419, k), 220, 4)
        cv2.line(joint, (k, 0), (k, 419), 220, 4)
    found = joints_on(empty(420, 420), joint)
    assert len(found) == 6
    assert all(q.company == 5 for q in found)


def test_a_slightly_bent_joint_is_still_one():
    joint = empty(300, 800)
    cols = np.arange(0, 800, 10)
    rows = 150 + 6 * np.sin(math.pi * cols / 800)
    cv2.polylines(joint, [np.stack([cols, np.rint(rows)], 1).astype(np.int32)[:, None]], False, 230, 5)
    (line,) = joints_on(empty(300, 800), joint)
    # a half wave of sine is within 4 % of its height from a parabola
    assert line.rms_px < 1.2
    middle, ends = line.points[len(line.points) // 2], line.points[[0, -1]].mean(axis=0)
    assert np.hypot(*(middle - ends)) == pytest.approx(6.0, abs=1.0)


def test_a_ragged_line_with_even_scores_is_no_joint():
    rng = np.random.default_rng(2)
    cols = np.arange(0, 400, 8)
    rows = 150 + np.cumsum(rng.normal(0, 4, len(cols)))
    line = np.stack([cols, np.rint(rows)], 1).astype(np.int32)[:, None]
    both = empty()
    cv2.polylines(both, [line], False, 160, 4)
    assert joints_on(both, both) == []


def test_a_joint_is_not_blamed_for_where_no_photo_looked():
    joint, seen = empty(), np.full((300, 400), 255, np.uint8)
    cv2.line(joint, (0, 150), (110, 150), 230, 4)
    cv2.line(joint, (270, 150), (399, 150), 230, 4)
    seen[:, 115:265] = 0
    blamed = joints_on(empty(), joint)
    excused = joints_on(empty(), joint, seen=seen)
    assert max(q.support for q in excused) > 0.9
    assert max(q.length_px for q in excused) > 380
    assert all(q.support < 0.9 for q in blamed if q.length_px > 380)


def test_a_joint_is_followed_to_the_edge_over_a_short_break():
    joint = empty()
    cv2.line(joint, (0, 150), (399, 150), 230, 5)
    joint[:, 355:362] = 0
    (line,) = joints_on(empty(), joint)
    assert line.points[:, 1].max() > 396


def test_distances_are_square_to_the_line_and_to_its_ends():
    joint = empty()
    cv2.line(joint, (50, 150), (350, 150), 230, 5)
    (line,) = joints_on(empty(), joint)
    found = distances(np.array([[150.0, 200.0], [160.0, 200.0], [150.0, 380.0]]), [line])[:, 0]
    assert found == pytest.approx([0, 10, 28], abs=3.5)
