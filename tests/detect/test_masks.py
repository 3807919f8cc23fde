"""Painted masks: widths against the drawn lines, sets against numpy."""

import cv2
import numpy as np

from analyzer.detect.graph import Branch, trace
from analyzer.detect.joint_lines import JointLine
from analyzer.detect.masks import crack_mask, joint_bands, joint_mask, paint
from analyzer.detect.ridge import thin


def drawn(width, value=220):
    score = np.zeros((120, 200), np.uint8)
    cv2.line(score, (10, 60), (190, 70), value, width)
    return score


def runs_of(score):
    mask = (score > 60).astype(np.uint8)
    return trace(thin(mask), mask)


def joint_line(row=64.0, half=3.0):
    points = np.stack([np.full(180, row), np.arange(10.0, 190.0)], axis=1)
    return JointLine(points, half, 1.0, 0.9, 0.0, 0.3, 0)


def mask_of(score, runs=None, others=(), lines=(), joint=None):
    joint = np.zeros_like(score) if joint is None else joint
    return crack_mask(runs_of(score) if runs is None else runs, others, lines, score, joint, 128, 64)


def test_a_crack_keeps_its_width_to_its_very_ends():
    for width in (3, 7, 15):
        score = drawn(width)
        mask = mask_of(score)
        assert np.mean(mask[score > 0] == 255) > 0.99
        assert np.mean(score[mask > 0] > 0) > 0.95


def test_what_scores_elsewhere_is_left_out():
    score = drawn(5)
    runs = runs_of(score)
    cv2.circle(score, (100, 20), 8, 250, -1)
    assert not mask_of(score, runs)[:40].any()


def test_what_hangs_on_a_run_that_was_not_accepted_is_left_out():
    score = drawn(5)
    accepted = runs_of(score)
    cv2.line(score, (100, 62), (100, 5), 220, 5)
    side = np.stack([np.arange(58, 5, -1), np.full(53, 100)], axis=1).astype(np.int64)
    other = Branch(side, np.full(53, 2.5, np.float32), 90, 91)
    assert not mask_of(score, accepted, [other])[:50].any()
    assert mask_of(score, accepted)[10:50, 98:103].any()


def test_a_faint_run_is_painted_too():
    score = drawn(5, 80)
    assert np.mean(mask_of(score)[score > 0] == 255) > 0.9


def test_the_joint_is_cut_out_of_the_crack():
    score = drawn(3)
    mask = mask_of(score, lines=[joint_line()])
    assert not mask[62:67, 20:180].any()
    assert joint_mask([joint_line()], np.zeros_like(score), 128)[62:67, 20:180].all()


def test_bands_take_what_is_joint_beside_the_line_but_no_clear_crack():
    joint, crack = np.zeros((120, 200), np.uint8), np.zeros((120, 200), np.uint8)
    joint[60:72] = 200
    crack[70:72, :100] = 250
    band = joint_bands([joint_line()], crack, joint)
    assert band[61:68, 20:180].all()
    assert band[70:72, 120:180].all()
    assert not band[70:72, 20:80].any()


def test_paint_draws_rows_and_columns_in_order():
    target = np.zeros((30, 50), np.uint8)
    paint(target, [(5, 10), (5, 40)], 1)
    assert target[5, 10:41].all()
    assert np.count_nonzero(target) == 31
