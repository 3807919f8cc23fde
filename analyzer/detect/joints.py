"""Joints as long lines fitted over the whole picture or slab.

Straight pieces of the ridge are gathered into lines (slightly bent ones on bare pictures: lens and
perspective), and each line is read again on the maps over its whole length.

References
----------
.. [1] Straight pieces: Douglas & Peucker 1973 (from memory), as implemented in OpenCV.
.. [2] ACI 224.3R: contraction, construction and isolation joints (terms only, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import cv2
import numpy as np
import numpy.typing as npt

from analyzer.detect.evidence import LineModel, joint_features
from analyzer.detect.graph import Branch
from analyzer.detect.joint_lines import JointLine, compare_lines, picture_frame
from analyzer.detect.settings import TraceSettings
from analyzer.detect.strips import read_strip

UInt8 = npt.NDArray[np.uint8]
Float = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Piece:
    """A straight run of branch number ``branch``; ``before_px`` and ``after_px`` of it lie outside.

    ``points`` (N, 2) of (row, col), ``halves`` (N,) the half widths there; ``joint`` and
    ``crack`` are mean scores 0..1 along it.
    """

    branch: int
    before_px: int
    after_px: int
    points: Float
    length_px: float
    angle_rad: float
    half_px: float
    halves: npt.NDArray[np.float32]
    joint: float
    crack: float


def straight_pieces(
    branches: list[Branch], crack: UInt8, joint: UInt8, settings: TraceSettings
) -> list[Piece]:
    """Cut branches into straight pieces and read both maps along them.

    Parameters
    ----------
    branches : list of Branch
    crack, joint : (R, C) uint8
    """
    pieces = []
    for i, b in enumerate(branches):
        if len(b.points) < settings.piece_px:
            continue
        r, c = b.points[:, 0], b.points[:, 1]
        on_joint, on_crack = joint[r, c] / 255.0, crack[r, c] / 255.0
        slack = settings.straight_px + settings.straight_widths * b.middle_half_px
        for a, z in _cuts(b.points, slack):
            line = b.points[a : z + 1].astype(float)
            d = line[-1] - line[0]
            length = math.hypot(*d)
            if length < settings.piece_px:
                continue
            pieces.append(
                Piece(
                    i, a, len(b.points) - 1 - z, line, length, math.atan2(d[1], d[0]) % math.pi,
                    float(np.median(b.half_px[a : z + 1])), b.half_px[a : z + 1],
                    float(on_joint[a : z + 1].mean()), float(on_crack[a : z + 1].mean()),
                )
            )  # fmt: skip
    return pieces


def fit_joints(
    pieces: list[Piece],
    crack: UInt8,
    joint: UInt8,
    threshold: float,
    model: LineModel,
    settings: TraceSettings,
    border: Float | None = None,
    seen: UInt8 | None = None,
) -> list[JointLine]:
    """Gather pieces into joint lines and judge each over its whole length.

    Parameters
    ----------
    pieces : list of Piece
    crack, joint : (R, C) uint8
    threshold : float
        0..1, score from which a pixel is line.
    model : LineModel
    settings : TraceSettings
    border : (N, 2) of (row, col), optional
        Outline of the slab; the picture's frame if not given.
    seen : (R, C) uint8, optional
        0 where no photo shows the slab; such stretches count neither for nor against a line.

    Returns
    -------
    list of JointLine
        All lines fitted, each with its probability; no two lie on one another.
    """
    lines: list[JointLine] = []
    taken: set[int] = set()
    order = sorted(
        (
            k
            for k, p in enumerate(pieces)
            if p.joint > 0.4 * p.crack or p.length_px >= settings.least_joint_px
        ),
        key=lambda k: -pieces[k].length_px * (0.1 + pieces[k].joint),
    )
    ends = np.array([[p.points[0], p.points[-1]] for p in pieces]).reshape(-1, 2, 2)
    angles = np.array([p.angle_rad for p in pieces])
    for seed in order:
        if seed in taken:
            continue
        members, fitted = _grow(seed, pieces, ends, angles, settings)
        line = _read_line(members, fitted, pieces, crack, joint, seen, threshold, settings)
        if line is None:
            continue
        taken.update(members)
        lines.append(line)
    frame = border if border is not None else picture_frame(joint.shape)
    lines = compare_lines(lines, frame, settings)
    likely = model.joint_probability(joint_features(lines))
    return [replace(q, probability=float(p)) for q, p in zip(lines, likely, strict=True)]


@dataclass(frozen=True, slots=True, eq=False)
class _Model:
    """Line in its own axes: across = bend * (t / half)^2 + slope * t + shift, at origin + t * along."""

    origin: Float
    along: Float
    coefficients: Float
    low: float
    high: float
    rms_px: float

    def local(self, points: Float) -> tuple[Float, Float]:
        """(t, across) of points (N, 2)."""
        rel = points - self.origin
        return rel @ self.along, rel @ np.array([self.along[1], -self.along[0]])

    def across(self, t: Float) -> Float:
        """The fitted offset at t."""
        return np.asarray(np.polyval(self.coefficients, t), float)

    def walk(self, low: float, high: float) -> Float:
        """Points about one px apart from t = low to high."""
        t = np.linspace(low, high, max(2, round(high - low) + 1))
        normal = np.array([self.along[1], -self.along[0]])
        return np.asarray(self.origin + t[:, None] * self.along + self.across(t)[:, None] * normal)


def _cuts(points: npt.NDArray[np.int64], slack_px: float) -> list[tuple[int, int]]:
    """Ranges of point numbers between the corners that Douglas & Peucker leave."""
    xy = np.ascontiguousarray(points[:, None, ::-1], np.int32)
    corners = cv2.approxPolyDP(xy, slack_px, False)[:, 0, ::-1]
    at = [0]
    for corner in corners[1:-1]:
        hit = np.flatnonzero((points[at[-1] + 1 :] == corner).all(1))
        if len(hit):
            at.append(at[-1] + 1 + int(hit[0]))
    at.append(len(points) - 1)
    return [(a, z) for a, z in pairwise(at) if z > a]


def _grow(
    seed: int, pieces: list[Piece], ends: Float, angles: Float, settings: TraceSettings
) -> tuple[list[int], _Model]:
    """Pieces that continue a seed on one line, and the line through them."""
    members = [seed]
    model = _fit([pieces[seed]], settings)
    near = np.abs((angles - angles[seed] + math.pi / 2) % math.pi - math.pi / 2)
    # a short piece's own direction is uncertain by a pixel and its raggedness over its length
    rough = np.array([(1.5 + 2.0 * settings.straight_widths * p.half_px) / p.length_px for p in pieces])
    loose = math.radians(settings.same_line_deg)
    candidates = np.flatnonzero(near < 3 * loose + rough + rough[seed])
    for _ in range(12):
        t, across = model.local(ends[candidates].reshape(-1, 2))
        t, across = t.reshape(-1, 2), across.reshape(-1, 2)
        extent = model.high - model.low
        beyond = np.maximum(np.maximum(model.low - t.max(1), t.min(1) - model.high), 0.0)
        half = np.array([pieces[k].half_px for k in candidates])
        slack = (
            settings.straight_px
            + 1.2 * settings.straight_widths * half
            + settings.straight_fraction * (extent + 2 * beyond)
        )
        off = np.abs(across - model.across(t))
        slope = np.polyval(np.polyder(model.coefficients), t.mean(1))
        turn = np.arctan2(across[:, 1] - across[:, 0], t[:, 1] - t[:, 0])
        turn = np.abs((turn - np.arctan(slope) + math.pi / 2) % math.pi - math.pi / 2)
        aligned = turn < loose + rough[candidates]
        good = aligned & (off.max(1) <= slack) & (beyond <= 60 + extent)
        chosen = sorted({seed, *candidates[good].tolist()})
        if chosen == members:
            break
        members = chosen
        model = _fit([pieces[k] for k in members], settings)
    return members, model


def _fit(pieces: list[Piece], settings: TraceSettings) -> _Model:
    """Least-squares line through the points of pieces, slightly bent if it is long enough to tell."""
    points = np.concatenate([p.points for p in pieces])
    origin = points.mean(0)
    _, _, axes = np.linalg.svd(points[:: max(1, len(points) // 2000)] - origin, full_matrices=False)
    model = _Model(origin, axes[0], np.zeros(3), 0.0, 0.0, 0.0)
    t, across = model.local(points)
    low, high = float(t.min()), float(t.max())
    degree = 2 if high - low > 150 else 1
    for _ in range(2):
        weight = (
            1.0 / (1.0 + (across - np.polyval(model.coefficients, t)) ** 2 / 4.0) if model.rms_px else None
        )
        coefficients = np.concatenate([np.zeros(2 - degree), np.polyfit(t, across, degree, w=weight)])
        # no lens and no perspective bends a straight joint by more than this
        most = 4 * settings.bow_fraction / max(high - low, 1.0)
        if abs(coefficients[0]) > most:
            bend = math.copysign(most, coefficients[0])
            rest = np.polyfit(t, across - bend * t**2, 1)
            coefficients = np.array([bend, *rest])
        stray = across - np.polyval(coefficients, t)
        rms = float(np.sqrt(np.mean(stray**2))) + 1e-6
        model = _Model(origin, axes[0], coefficients, low, high, rms)
    return model


def _read_line(
    members: list[int],
    model: _Model,
    pieces: list[Piece],
    crack: UInt8,
    joint: UInt8,
    known: UInt8 | None,
    threshold: float,
    settings: TraceSettings,
) -> JointLine | None:
    """Read both maps along the fitted line, which goes on beyond its pieces as long as it is seen."""
    half = float(
        np.average([pieces[k].half_px for k in members], weights=[pieces[k].length_px for k in members])
    )
    astray = _astray([pieces[k] for k in members], model)
    widths = np.concatenate([pieces[k].halves for k in members])
    extent = model.high - model.low
    beyond = round(max(settings.extend_px, settings.extend_fraction * extent))
    points = model.walk(model.low - beyond, model.high + beyond)
    corridor = max(2, math.ceil(settings.straight_px + settings.straight_widths * half))
    on_joint = read_strip(joint, points, corridor).max(1) / 255.0
    on_crack = read_strip(crack, points, corridor).max(1) / 255.0
    seen = np.maximum(on_joint, on_crack) >= settings.low_fraction * threshold
    first = beyond - _goes_on(seen[:beyond][::-1], settings)
    last = len(seen) - beyond + _goes_on(seen[len(seen) - beyond :], settings)
    points, seen = points[first:last], seen[first:last]
    on_joint, on_crack = on_joint[first:last], on_crack[first:last]
    if seen.sum() < settings.piece_px:
        return None
    points, half = _centred(points, half, crack, joint, threshold)
    shown = len(seen) if known is None else int(np.count_nonzero(read_strip(known, points, 0)[:, 0] | seen))
    return JointLine(
        points=points,
        half_px=half,
        support=float(seen.sum() / max(shown, 1)),
        joint=float(on_joint[seen].mean()),
        crack=float(on_crack[seen].mean()),
        rms_px=model.rms_px,
        bends=sum(e > settings.piece_px for e in astray),
        astray=sum(astray) / max(extent, 1.0),
        uneven=float(np.std(widths)) / max(half, 0.5),
    )


def _centred(
    points: Float, half_px: float, crack: UInt8, joint: UInt8, threshold: float
) -> tuple[Float, float]:
    """The line in the middle of what is joint and not crack across it, and half the width of that.

    The ridge of a joint and a crack beside it runs between the two; medians over the length give the
    joint alone. A line that is hardly joint anywhere stays as it is.
    """
    reach = math.ceil(1.5 * half_px + 3.0)
    some = points[:: max(1, len(points) // 200)]
    score = read_strip(joint, some, reach)
    on = (score >= 255.0 * threshold) & (score > read_strip(crack, some, reach))
    count = on.sum(1)
    good = count > 0
    if np.count_nonzero(good) < 0.5 * len(some):
        return points, half_px
    middle = (on @ np.arange(-reach, reach + 1))[good] / count[good]
    ahead = np.gradient(points, axis=0)
    ahead /= np.maximum(np.hypot(ahead[:, 0], ahead[:, 1]), 1e-9)[:, None]
    normal = np.stack([ahead[:, 1], -ahead[:, 0]], axis=1)
    return points + float(np.median(middle)) * normal, max(0.5, 0.5 * float(np.median(count[good])))


def _goes_on(seen: npt.NDArray[np.bool_], settings: TraceSettings) -> int:
    """How many steps beyond its end a line goes on, seen over most of them."""
    share = np.cumsum(seen) / np.arange(1, len(seen) + 1)
    good = np.flatnonzero(seen & (share >= settings.extend_share))
    return int(good[-1]) + 1 if len(good) else 0


def _astray(members: list[Piece], model: _Model) -> list[int]:
    """How many points the ridge goes on beyond each end of the line, elsewhere than on the line."""
    t = np.array([model.local(p.points[[0, -1]])[0] for p in members])
    out = []
    for at in (np.unravel_index(int(t.argmin()), t.shape), np.unravel_index(int(t.argmax()), t.shape)):
        p = members[int(at[0])]
        # the axis of a wide line forks at its end, over about its width
        on = p.before_px if at[1] == 0 else p.after_px
        out.append(max(0, on - math.ceil(2.0 * p.half_px) - 2))
    return out
