"""What kind of joint a fitted line is, where a picture can tell at all."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from analyzer.detect.joint_lines import JointLine
from analyzer.terms import JointKind

ISOLATION_LEAST_MM = 11.0
"""A strip of filler is about 1/2 in (common practice, no source); a sawn or tooled joint is narrower."""


def joint_kind(line: JointLine, lines: Sequence[JointLine], mm_per_px: float | None) -> JointKind:
    """Kind of a joint from its width and its company.

    A joint wider than a saw or groover leaves it, at a known scale, is taken for an isolation joint;
    one of three or more evenly spaced parallel ones for a contraction joint. All else stays unknown:
    a construction joint looks like a contraction joint from above.

    Parameters
    ----------
    line : JointLine
    lines : sequence of JointLine
        All joints of the picture, ``line`` among them.
    mm_per_px : float or None
    """
    if mm_per_px is not None and 2.0 * line.half_px * mm_per_px >= ISOLATION_LEAST_MM and line.reaches == 2:
        return JointKind.ISOLATION
    mid = line.points[len(line.points) // 2]
    across = (-math.sin(line.angle_rad), math.cos(line.angle_rad))
    places = []
    for q in lines:
        turn = abs((q.angle_rad - line.angle_rad + math.pi / 2) % math.pi - math.pi / 2)
        if turn < math.radians(4.0):
            d = q.points[len(q.points) // 2] - mid
            places.append(float(d[0] * across[0] + d[1] * across[1]))
    places = sorted(places)
    steps = [b - a for a, b in pairwise(places) if b - a > 4.0 * line.half_px]
    if len(steps) >= 2 and max(steps) <= 1.25 * min(steps):
        return JointKind.CONTRACTION
    return JointKind.UNKNOWN
