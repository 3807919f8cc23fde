"""Corners of a dark square on light paper, from straight lines fitted to its four sides.

A corner detector looks at the few pixels of the corner itself, which blur rounds off; four lines
use the whole outline, and say by their scatter how good they are.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyzer import frames
from analyzer.records import Float, UInt8

_MODULES = 6
_N_DEEP = 25
_OUTLIER = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class SquareCorners:
    """Corners (4, 2) of (row, col), their standard uncertainty in px, and how a corner moves
    (4, 2) px per px when the whole dark outline grows by one pixel (ink spread, blooming)."""

    px: Float
    u_px: float
    growth: Float


def fit_square(rgb: UInt8, corners_px: npt.ArrayLike) -> SquareCorners | None:
    """Refine the corners of one dark square.

    Parameters
    ----------
    rgb : (R, C, 3) uint8
        The photo at full size.
    corners_px : (4, 2)
        Rough corners (row, col), in order round the square, good to about a third of a module
        (a module is one sixth of a side).

    Returns
    -------
    SquareCorners or None
        None where a side has too little contrast or runs out of the picture.

    Notes
    -----
    Each side is crossed by profiles; on each the edge lies where a step between the dark and the
    light level has the same area under it (moment-preserving edge, after Tabatabai & Mitchell
    1984, from memory), which blur does not shift. A line through the edges with outliers taken
    out; neighbouring lines are intersected.
    """
    first = _fit_once(rgb, frames.xy_from_rc(corners_px))
    # Once more from there: profiles centred on the edge see the same width of both levels.
    second = None if first is None else _fit_once(rgb, frames.xy_from_rc(first.px))
    return second or first


def _fit_once(rgb: UInt8, quad: Float) -> SquareCorners | None:
    """One pass from rough corners (4, 2) of (x, y)."""
    centre = quad.mean(axis=0)
    lines = []
    scatter = []
    for k in range(4):
        a, b = quad[k], quad[(k + 1) % 4]
        opposite = (quad[(k + 2) % 4] + quad[(k + 3) % 4]) / 2
        fitted = _fit_side(rgb, a, b, centre, opposite)
        if fitted is None:
            return None
        line, u_offset_px = fitted
        lines.append(line)
        scatter.append(u_offset_px)
    corners, growth = np.empty((4, 2)), np.empty((4, 2))
    for k in range(4):
        normals = np.array([lines[k - 1][:2], lines[k][:2]])
        if abs(np.linalg.det(normals)) < 0.05:
            return None
        corners[k] = np.linalg.solve(normals, [lines[k - 1][2], lines[k][2]])
        growth[k] = np.linalg.solve(normals, [1.0, 1.0])
    side_px = np.linalg.norm(np.roll(quad, -1, axis=0) - quad, axis=1).mean()
    if np.linalg.norm(corners - quad, axis=1).max() > max(2.0, side_px / _MODULES):
        return None
    # The end of a fitted line is twice as uncertain as its middle; two lines meet in a corner.
    u_px = 2.0 * float(np.sqrt(np.mean(np.square(scatter))))
    return SquareCorners(frames.xy_from_rc(corners), u_px, frames.xy_from_rc(growth))


def _fit_side(rgb: UInt8, a: Float, b: Float, centre: Float, opposite: Float) -> tuple[Float, float] | None:
    """Line (nx, ny, d) with n outwards and n.p = d, and the uncertainty of d in px."""
    along = b - a
    length = float(np.linalg.norm(along))
    if length < 4:
        return None
    along = along / length
    normal = np.array([along[1], -along[0]])
    if normal @ ((a + b) / 2 - centre) < 0:
        normal = -normal
    depth_px = abs(normal @ ((a + b) / 2 - opposite)) / _MODULES
    half = float(np.clip(0.6 * depth_px, 1.2, 8.0))
    n_along = int(np.clip(length, 8, 48))
    t = np.linspace(0.08, 0.92, n_along)[:, None] * length
    s = np.linspace(-half, half, _N_DEEP)[None, :]
    x = a[0] + along[0] * t + normal[0] * s
    y = a[1] + along[1] * t + normal[1] * s
    x0, y0 = int(np.floor(x.min())) - 1, int(np.floor(y.min())) - 1
    x1, y1 = int(np.ceil(x.max())) + 2, int(np.ceil(y.max())) + 2
    if x0 < 0 or y0 < 0 or y1 > rgb.shape[0] or x1 > rgb.shape[1]:
        return None
    crop = cv2.cvtColor(np.ascontiguousarray(rgb[y0:y1, x0:x1]), cv2.COLOR_RGB2GRAY)
    profile = cv2.remap(
        crop.astype(np.float32), (x - x0).astype(np.float32), (y - y0).astype(np.float32), cv2.INTER_LINEAR
    ).astype(float)
    n_end = _N_DEEP // 6
    dark = profile[:, :n_end].mean(axis=1)
    light = profile[:, -n_end:].mean(axis=1)
    contrast = light - dark
    if np.median(contrast) < 12:
        return None
    good = contrast > 0.4 * np.median(contrast)
    if good.sum() < 5:
        return None
    share_dark = (light[:, None] - profile).mean(axis=1) / np.where(good, contrast, 1.0)
    edge = half * (2 * share_dark - 1)
    t_mid = t[:, 0] - length / 2
    for _ in range(3):
        design = np.stack([np.ones(int(good.sum())), t_mid[good]], axis=1)
        fit, *_ = np.linalg.lstsq(design, edge[good], rcond=None)
        rest = edge - fit[0] - fit[1] * t_mid
        spread = 1.4826 * float(np.median(np.abs(rest[good]))) + 0.02
        kept = good & (np.abs(rest) < _OUTLIER * spread)
        if kept.sum() < max(5, 0.4 * n_along):
            return None
        if (kept == good).all():
            break
        good = kept
    if abs(fit[0]) > 0.8 * half:
        return None
    turned = normal - fit[1] * along
    turned = turned / np.linalg.norm(turned)
    on_line = (a + b) / 2 + fit[0] * normal
    u_offset = float(np.sqrt(np.mean(rest[good] ** 2) / good.sum()))
    return np.array([turned[0], turned[1], turned @ on_line]), u_offset
