"""Painted masks: widths against the drawn lines, sets against numpy."""

import cv2
import numpy as np

from analyzer.detect.graph import trace
from analyzer.detect.joint_lines import JointLine
from analyzer.detect.masks import crack_mask, joint_mask, paint
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


def test_a_crack_keeps_its_width():
    for width in (3, 7, 15):
        score = drawn(width)
        mask = crack_mask(runs_of(score), [], score, 128, 64)
        assert np.mean(mask[score > 0] == 255) > 0.97
        assert np.mean(score[mask > 0] > 0) > 0.95


def test_what_scores_elsewhere_is_left_out():
    score = drawn(5)
    runs = runs_of(score)
    cv2.circle(score, (100, 20), 8, 250, -1)
    assert not crack_mask(runs, [], score, 128, 64)[:40].any()


def test_a_faint_run_is_painted_too():
    score = drawn(5, 80)
    mask = crack_mask(runs_of(score), [], score, 128, 64)
    assert np.mean(mask[score > 0] == 255) > 0.9


def test_the_joint_is_cut_out_of_the_crack():
    score = drawn(3)
    mask = crack_mask(runs_of(score), [joint_line()], score, 128, 64)
    assert not mask[62:67, 20:180].any()
    assert joint_mask([joint_line()], np.zeros_like(score), 128)[62:67, 20:180].all()


def test_paint_draws_rows_and_columns_in_order():
    target = np.zeros((30, 50), np.uint8)
    paint(target, [(5, 10), (5, 40)], 1)
    assert target[5, 10:41].all()
    assert np.count_nonzero(target) == 31
