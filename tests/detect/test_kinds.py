"""Kinds that a picture can tell; words from ACI 224.3R, widths common practice without a source."""

import numpy as np

from analyzer.detect.joint_lines import JointLine
from analyzer.detect.kinds import joint_kind
from analyzer.terms import JointKind


def line(row: float, half_px: float = 2.0, reaches: int = 2) -> JointLine:
    points = np.stack([np.full(400, row), np.arange(400.0)], axis=1)
    return JointLine(points, half_px, 1.0, 0.9, 0.1, 0.4, 0, reaches=reaches)


def test_a_wide_joint_from_edge_to_edge_is_an_isolation_joint_if_the_scale_is_known():
    wide = line(100, half_px=6.0)
    assert joint_kind(wide, [wide], 1.0) is JointKind.ISOLATION
    assert joint_kind(wide, [wide], None) is JointKind.UNKNOWN
    assert joint_kind(wide, [wide], 0.5) is JointKind.UNKNOWN


def test_evenly_spaced_parallel_joints_are_contraction_joints():
    even = [line(r) for r in (50, 150, 252)]
    assert joint_kind(even[0], even, None) is JointKind.CONTRACTION
    uneven = [line(r) for r in (50, 150, 320)]
    assert joint_kind(uneven[0], uneven, None) is JointKind.UNKNOWN
