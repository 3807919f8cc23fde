"""Cutting branches at joints, edges and changes of class."""

import numpy as np

from analyzer.detect.classes import long_runs, outside_joints, outside_rim, split_mixed
from analyzer.detect.graph import Branch
from analyzer.detect.joint_lines import JointLine
from analyzer.detect.settings import DEFAULTS


def branch(points):
    p = np.rint(np.asarray(points)).astype(np.int64)
    return Branch(p, np.full(len(p), 1.5, np.float32), 0, 1)


def row_branch(row=100.0, n=300):
    return branch(np.stack([np.full(n, row), np.arange(float(n))], axis=1))


def column_branch(col=100.0, n=200):
    return branch(np.stack([np.arange(float(n)), np.full(n, col)], axis=1))


def joint(row=100.0, n=300):
    points = np.stack([np.full(n, row), np.arange(float(n))], axis=1)
    return JointLine(points, 2.0, 1.0, 0.9, 0.0, 0.3, 0)


def test_what_follows_a_joint_goes_and_what_crosses_it_stays():
    left = outside_joints([row_branch(101), column_branch()], [joint()], DEFAULTS)
    assert len(left) == 1
    assert len(left[0].points) == 200


def test_a_crack_that_runs_into_a_joint_is_cut_there():
    slant = np.concatenate(
        [np.stack([np.linspace(20, 100, 120), np.arange(120.0)], axis=1), row_branch().points[120:240]]
    )
    (left,) = outside_joints([branch(slant)], [joint()], DEFAULTS)
    assert 100 < len(left.points) < 130
    assert left.points[-1][0] <= 100


def test_no_joint_no_cut():
    runs = [row_branch(), column_branch()]
    assert outside_joints(runs, [], DEFAULTS) == runs


def test_runs_along_the_outline_go():
    outline = np.array([[90.0, 0.0], [90.0, 300.0], [290.0, 300.0], [290.0, 0.0]])
    assert outside_rim([row_branch(95)], outline, 12.0) == []
    assert len(outside_rim([row_branch(150)], outline, 12.0)) == 1


def test_long_runs_drop_short_ones_and_fill_short_gaps():
    flags = np.array([0, 1, 1, 0, 0, 0, 1, 1, 1, 1, 1, 0, 1, 1, 1, 1, 0], bool)
    found = long_runs(flags, 4)
    assert found.tolist() == [False] * 6 + [True] * 10 + [False]


def test_a_branch_is_cut_where_joint_passes_into_crack():
    crack, joint_map = np.zeros((200, 300), np.uint8), np.zeros((200, 300), np.uint8)
    crack[:, :140] = 220
    joint_map[:, 140:] = 220
    first, second = split_mixed([row_branch()], crack, joint_map, DEFAULTS)
    assert abs(len(first.points) - 140) <= 2
    assert first.end == second.start


def test_a_short_change_of_class_cuts_nothing():
    crack, joint_map = np.full((200, 300), 220, np.uint8), np.zeros((200, 300), np.uint8)
    crack[:, 140:150], joint_map[:, 140:150] = 0, 220
    assert len(split_mixed([row_branch()], crack, joint_map, DEFAULTS)) == 1
