"""Judging of fitted lines, on lines given directly."""

import numpy as np
import pytest

from analyzer.detect.joint_lines import JointLine, judge_lines, picture_frame
from analyzer.detect.settings import DEFAULTS

FRAME = picture_frame((300, 400))


def line(a, z, **changes):
    n = int(np.hypot(z[0] - a[0], z[1] - a[1])) + 1
    points = np.linspace(a, z, n)
    values = {"half_px": 2.0, "support": 1.0, "joint": 0.8, "crack": 0.1, "rms_px": 0.4, "bends": 0}
    return JointLine(points=points, **(values | changes))


def probability(*lines):
    return judge_lines(list(lines), FRAME, DEFAULTS)[0].probability


def test_the_frame_is_the_outer_pixels():
    assert FRAME.max(0).tolist() == [299.0, 399.0]


def test_ends_at_the_border_are_counted():
    assert judge_lines([line((150, 0), (150, 399))], FRAME, DEFAULTS)[0].reaches == 2
    assert judge_lines([line((150, 100), (150, 399))], FRAME, DEFAULTS)[0].reaches == 1
    assert judge_lines([line((150, 100), (150, 300))], FRAME, DEFAULTS)[0].reaches == 0


def test_an_end_at_another_joint_counts_too():
    found = judge_lines([line((0, 200), (299, 200)), line((150, 0), (150, 199))], FRAME, DEFAULTS)
    assert [q.reaches for q in found] == [2, 2]


def test_what_speaks_for_and_against_a_joint():
    plain = line((150, 100), (150, 300))
    base = probability(plain)
    assert probability(line((150, 0), (150, 399))) > base
    assert probability(plain, line((50, 100), (50, 300))) > base
    assert probability(line((150, 100), (150, 300), rms_px=2.0)) < base
    assert probability(line((150, 100), (150, 300), bends=2)) < base
    assert probability(line((150, 100), (150, 300), joint=0.5)) < base
    assert probability(line((150, 100), (150, 300), crack=0.6)) < base


def test_of_two_lines_on_one_another_the_longer_is_kept():
    found = judge_lines([line((151, 100), (151, 200)), line((150, 0), (150, 399))], FRAME, DEFAULTS)
    assert len(found) == 1
    assert found[0].length_px == pytest.approx(399)


def test_no_lines():
    assert judge_lines([], FRAME, DEFAULTS) == []
