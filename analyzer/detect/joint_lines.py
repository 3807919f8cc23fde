"""Fitted lines beside each other: where they end, what keeps them company.

A joint is made with a straightedge: whatever a map says of a single pixel, its line is straight, of
even width, reaches from edge to edge or to another joint, and has parallel and square company. A
crack that happens to be straight for a while goes on in another direction.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from analyzer.detect.settings import TraceSettings

Float = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class JointLine:
    """A line fitted as joint.

    ``points`` (N, 2) of (row, col), about one px apart; ``half_px`` half its width; ``support`` the
    part of its length over which a line is seen; ``joint``, ``crack`` the mean scores there;
    ``rms_px`` how far the ridge strays from the fit; ``bends`` at how many of its ends the ridge goes
    on in another direction, as a crack's does, and ``astray`` for how far, in parts of its own length;
    ``uneven`` the spread of its width over its mean; ``reaches`` how many of its two ends lie on the
    picture's or slab's border or on another joint; ``company`` how many lines are parallel or square.
    """

    points: Float
    half_px: float
    support: float
    joint: float
    crack: float
    rms_px: float
    bends: int
    astray: float = 0.0
    uneven: float = 0.0
    reaches: int = 0
    company: int = 0
    probability: float = 0.0

    @property
    def length_px(self) -> float:
        """Length between its ends."""
        return float(np.hypot(*(self.points[-1] - self.points[0])))

    @property
    def angle_rad(self) -> float:
        """Direction of the chord, 0..pi from the row axis."""
        d = self.points[-1] - self.points[0]
        return math.atan2(d[1], d[0]) % math.pi


def compare_lines(lines: list[JointLine], frame: Float, settings: TraceSettings) -> list[JointLine]:
    """Drop doubles, see where ends reach to and count company.

    Parameters
    ----------
    lines : list of JointLine
    frame : (N, 2) of (row, col)
        Border of the picture or of the slab.
    settings : TraceSettings
    """
    lines = _without_doubles(lines, settings)
    if not lines:
        return []
    ends = np.array([[q.points[0], q.points[-1]] for q in lines])
    slack = np.array([max(8.0, 0.04 * q.length_px) + q.half_px for q in lines])
    half = np.array([q.half_px for q in lines])
    length = np.array([q.length_px for q in lines])
    score = np.array([q.joint - 0.5 * q.crack for q in lines])
    angle = np.array([q.angle_rad for q in lines])
    turn = np.abs((angle[:, None] - angle[None, :] + math.pi / 2) % math.pi - math.pi / 2)
    away = distances(ends.reshape(-1, 2), lines).reshape(len(lines), 2, len(lines))
    # only a line that is a joint by itself can end another one or keep it company
    worthy = (score[None, :] >= 0.6 * score[:, None]) & (length[None, :] >= 0.3 * length[:, None])
    np.fill_diagonal(worthy, False)
    meets = (away <= (slack[:, None] + half[None, :])[:, None, :]) & (worthy & (np.sin(turn) > 0.35))[
        :, None, :
    ]
    xy = np.ascontiguousarray(frame[:, None, ::-1], np.float32)
    beside = (turn < math.radians(4)) | (np.abs(turn - math.pi / 2) < math.radians(8))
    out = []
    for i, q in enumerate(lines):
        at_frame = [cv2.pointPolygonTest(xy, (float(e[1]), float(e[0])), True) <= slack[i] for e in ends[i]]
        reaches = int((np.array(at_frame) | meets[i].any(1)).sum())
        if q.length_px < (settings.piece_px if reaches == 2 else settings.least_joint_px):
            continue
        out.append(replace(q, reaches=reaches, company=int((beside[i] & worthy[i]).sum())))
    return out


def _without_doubles(lines: list[JointLine], settings: TraceSettings) -> list[JointLine]:
    """Of lines that lie on one another keep the longer."""
    lines = sorted(lines, key=lambda x: -x.length_px * x.support)
    if not lines:
        return []
    some = np.concatenate([q.points[np.linspace(0, len(q.points) - 1, 16).astype(int)] for q in lines])
    away = distances(some, lines).reshape(len(lines), 16, len(lines))
    half = np.array([q.half_px for q in lines])
    reach = np.maximum(half[:, None], half[None, :]) + settings.straight_px + 1.0
    on = (away <= reach[:, None, :]).mean(1) > 0.6
    kept: list[int] = []
    for i in range(len(lines)):
        if not on[i, kept].any():
            kept.append(i)
    return [lines[i] for i in kept]


def distances(points: Float, lines: Sequence[JointLine]) -> Float:
    """Distance in px of points (N, 2) to each of M fitted lines, (N, M).

    The lines are parabolas over their chords; the distance is taken square to the chord, which for
    a bend of 1 % is right to a thousandth, and beyond the ends to the end.
    """
    first = np.array([q.points[0] for q in lines]).reshape(-1, 2)
    chord = np.array([q.points[-1] for q in lines]).reshape(-1, 2) - first
    length = np.maximum(np.hypot(chord[:, 0], chord[:, 1]), 1e-9)
    along = chord / length[:, None]
    middle = np.array([q.points[len(q.points) // 2] for q in lines]).reshape(-1, 2) - first
    across = np.stack([along[:, 1], -along[:, 0]], axis=1)
    share = (middle * along).sum(1) / length
    bow = (middle * across).sum(1) / np.maximum(share * (1.0 - share), 1e-9)
    rel = points[:, None, :] - first[None]
    t = (rel * along).sum(2)
    inside = np.clip(t / length, 0.0, 1.0)
    off = (rel * across).sum(2) - bow * inside * (1.0 - inside)
    beyond = np.maximum(np.maximum(-t, t - length), 0.0)
    return np.asarray(np.hypot(off, beyond), float)


def picture_frame(shape: tuple[int, ...]) -> Float:
    """The picture's border as a polygon."""
    r, c = shape[0] - 1.0, shape[1] - 1.0
    return np.array([[0.0, 0.0], [0.0, c], [r, c], [r, 0.0]])
