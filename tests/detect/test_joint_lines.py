"""Judging of fitted lines, on lines given directly."""

import numpy as np
import pytest

from analyzer.detect.joint_lines import JointLine, compare_lines, picture_frame
from analyzer.detect.settings import DEFAULTS

FRAME = picture_frame((300, 400))


def line(a, z, **changes):
    n = int(np.hypot(z[0] - a[0], z[1] - a[1])) + 1
    points = np.linspace(a, z, n)
    values = {"half_px": 2.0, "support": 1.0, "joint": 0.8, "crack": 0.1, "rms_px": 0.4, "bends": 0}
    return JointLine(points=points, **(values | changes))


def test_the_frame_is_the_outer_pixels():
    assert FRAME.max(0).tolist() == [299.0, 399.0]


def test_ends_at_the_border_are_counted():
    assert compare_lines([line((150, 0), (150, 399))], FRAME, DEFAULTS)[0].reaches == 2
    assert compare_lines([line((150, 100), (150, 399))], FRAME, DEFAULTS)[0].reaches == 1
    assert compare_lines([line((150, 100), (150, 300))], FRAME, DEFAULTS)[0].reaches == 0


def test_an_end_at_another_joint_counts_too():
    found = compare_lines([line((0, 200), (299, 200)), line((150, 0), (150, 199))], FRAME, DEFAULTS)
    assert [q.reaches for q in found] == [2, 2]


def test_of_two_lines_on_one_another_the_longer_is_kept():
    found = compare_lines([line((151, 100), (151, 200)), line((150, 0), (150, 399))], FRAME, DEFAULTS)
    assert len(found) == 1
    assert found[0].length_px == pytest.approx(399)


def test_no_lines():
    assert compare_lines([], FRAME, DEFAULTS) == []
