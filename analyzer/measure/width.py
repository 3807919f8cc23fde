"""Crack width across the centreline, sub-pixel, from profiles on the original photo.

Two readings of the width, both blind to how sharp the picture is:

* *half level*: the length of profile beyond half of the full contrast, that is between the
  vertical walls and not the paler edges of spalls; for cracks wide enough to show their floor.
  The threshold midway between crack and background gives the smallest error [1]_;
* *equivalent width*: the integral of the darkness over the full contrast; for thin cracks, whose
  floor the blur hides. The full contrast comes from the widest part of the same crack, or, if
  all of it is thin, from the depth seen (:mod:`analyzer.measure.floor`).

References
----------
.. [1] Cho, Yoon, Jung, Sensors 18(8) 2644 (2018), abstract read: mixed pixels at both edges make
   the error; smallest with the threshold midway between crack and background.
.. [2] Two edges, each uniform within half a pixel: u = sqrt(2 / 12) px (computed).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import erf

from analyzer.measure.along import SPACING_PX, per_branch, running_median
from analyzer.measure.darkness import STEP_PX, Darkness, darken
from analyzer.measure.floor import LEAST_BLUR_PX, WIDE_SHAPE, Floors, blur_by_edges, edge_blur_px, fit_floors
from analyzer.measure.profiles import (
    Footing,
    Int,
    Source,
    Stations,
    coded_from_linear,
    linear_from_coded,
    set_footing,
)
from analyzer.measure.rough import FirstLook, look_across
from analyzer.records import Bool, Float

EDGE_U_PX = math.sqrt(2.0 / 12.0)
"""Standard uncertainty of a width from its two edges [2]_; not reduced by averaging, because the
choice of threshold is common to all profiles."""

MEASURABLE_PX = 3.0
"""Widths below this many pixels are not stated, only bounded (common practice, no source)."""

GREATEST_OVER_MM = 25.0
"""The greatest width is the mean over this length of crack (about an inch), not one profile; over
more where the texture of the concrete would otherwise choose the place."""

_LEAST_PROFILES = 9
_NEIGHBOURS = 7
_SHARED = 3.0
"""Neighbouring profiles share pixels: about one in this many is independent."""

_QUIET_PX = 0.3
_TEXTURE_PX = 1.5
_WIDE = 4.5
"""Widths over blur from which the half-level reading counts alone."""

_LOST = 0.5
"""Where less than this share of the darkness is seen that a crack of the width read and with the
floor of this crack would show, texture was read and not the crack."""

_SURE = 0.35
"""Share of the width to each side of the middle that is inside whatever its colour."""

_STEADY_FROM_PX = 6.0
_SPALL_TIMES = 4.0
_SPALL_FROM_PX = 8.0
_SPALL_SHARE = 0.25
_LONE_TIMES = 1.6
"""A spall on a crack: this many times the crack's median width, at least this wide on the photo, on
less than this share of the crack. Judgement of this tool."""

_FAINT = 0.03
"""Relative darkness below which a line is lost in the texture of clean concrete."""


@dataclass(frozen=True, slots=True, eq=False)
class WidthReadings:
    """What was read at each station (M,).

    ``width_px`` square to the crack in the photo and ``middle_px`` the crack's middle off the
    centreline; ``own_u_px`` what floor and tone curve leave uncertain, common to the whole
    crack; ``noise_px`` what texture adds to a single reading; ``mm_per_px`` the size across the crack
    of a pixel there; ``valid`` whether it may be used. ``blur_px`` (S,) per photo.
    """

    width_px: Float
    middle_px: Float
    contrast: Float
    own_u_px: Float
    noise_px: Float
    mm_per_px: Float
    valid: Bool
    blur_px: Float


@dataclass(frozen=True, slots=True)
class Width:
    """Mean and greatest width in mm with standard uncertainties; see :class:`BranchSize`."""

    mean_mm: float | None = None
    mean_u_mm: float | None = None
    max_mm: float | None = None
    max_u_mm: float | None = None
    upper_mm: float | None = None


def read_widths(
    stations: Stations, footing: Footing, sources: tuple[Source, ...], crack: Int
) -> WidthReadings:
    """Read the width at every station.

    Parameters
    ----------
    stations, footing, sources
        Where to read, and on which photo.
    crack : (M,) array
        Which crack each station belongs to; its floor is looked for in all of it.
    """
    m = len(stations.branch)
    width, middle = np.full(m, np.nan), np.full(m, np.nan)
    contrast, own_u, noise, depth, expected = (np.full(m, np.nan) for _ in range(5))
    if m == 0 or not sources:
        nothing = np.zeros(m, dtype=bool)
        return WidthReadings(width, middle, contrast, own_u, noise, footing.mm_per_px, nothing, np.zeros(0))
    first = look_across(stations, footing, sources)
    stations, footing = _square_up(stations, footing, sources, first)
    blocks = darken(stations, footing, sources, first)
    shown = np.maximum(footing.source, 0)
    _, unit = np.unique(crack * len(sources) + shown, return_inverse=True)
    floors = _find_floors(blocks, shown, unit, first.sign, len(sources))
    for block in blocks:
        blur = floors.blur_px[shown[block.pick]]
        mine = unit[block.pick]
        width[block.pick], contrast[block.pick], own_u[block.pick], expected[block.pick] = _solve(
            block, blur, floors.contrast[mine], floors.contrast_u_rel[mine], first.sign[block.pick]
        )
        middle[block.pick], noise[block.pick] = block.middle, _noise(block, blur, width, contrast)
        depth[block.pick] = block.mean_along(block.depth, _NEIGHBOURS)
    clear_px = stations.clear_mm / footing.mm_per_px
    with np.errstate(invalid="ignore"):
        valid = np.isfinite(width) & (contrast > _FAINT) & (clear_px > np.maximum(4.0, 0.8 * width))
        valid &= depth > _LOST * expected
    valid &= ~_spalled(width, footing.mm_per_px, valid, crack)
    return WidthReadings(width, middle, contrast, own_u, noise, footing.mm_per_px, valid, floors.blur_px)


def _spalled(width_px: Float, mm_per_px: Float, valid: Bool, crack: Int) -> Bool:
    """Stations where a spall or scaled spot was read and not the crack that runs through it.

    The width between the vertical walls is wanted, not that between spall edges (North Dakota / FAA
    airfield guidance, read). A short stretch several times as wide as the rest of its crack, and
    wide enough on the photo not to be noise, is such a spot; a crack that is wide over much of its
    length is not.
    """
    out = np.zeros(len(crack), dtype=bool)
    width_mm = width_px * mm_per_px
    for one in np.unique(crack[valid]):
        rows = np.flatnonzero(valid & (crack == one))
        usual = float(np.median(width_mm[rows]))
        far = (width_mm[rows] > _SPALL_TIMES * usual) & (width_px[rows] > _SPALL_FROM_PX)
        if far.mean() < _SPALL_SHARE:
            out[rows[far]] = True
    return out


def _square_up(
    stations: Stations, footing: Footing, sources: tuple[Source, ...], first: FirstLook
) -> tuple[Stations, Footing]:
    """Turn the profiles of wide cracks square to their course over about their own width.

    The centreline of a wide ragged crack wiggles more than its two walls do.
    """
    wide = np.nan_to_num(first.width_px) > _STEADY_FROM_PX
    if not wide.any():
        return stations, footing
    half = np.where(wide, np.rint(np.nan_to_num(first.width_px) / SPACING_PX), 0).astype(np.intp)
    total = np.zeros((len(half) + 1, 2))
    np.cumsum(stations.normal_mm, axis=0, out=total[1:])
    here = np.arange(len(half))
    low, high = np.maximum(here - half, stations.start), np.minimum(here + half + 1, stations.stop)
    normal = total[high] - total[low]
    normal /= np.maximum(np.hypot(normal[:, 0], normal[:, 1]), 1e-9)[:, None]
    return replace(stations, normal_mm=normal), set_footing(
        stations.points_mm, normal, footing.source, sources
    )


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """Good stations only (V,), in their order along the branches, ready to be summed up.

    ``rows`` (V,) are their numbers among all stations, ``steady_mm`` the running median of five
    widths, ``over_mm`` the mean over the length that counts for a greatest width, which reaches
    from ``low`` to ``high`` (V,), and the parts of the uncertainty in px.
    """

    rows: Int
    steady_mm: Float
    over_mm: Float
    low: Int
    high: Int
    mm_per_px: Float
    own_u_px: Float
    noise_px: Float
    scale_u_rel: Float


def make_runs(readings: WidthReadings, stations: Stations, scale_u_rel: Float, crack: Int) -> Runs:
    """Keep the good stations and average along them.

    ``scale_u_rel`` (M,) is that of each station's photo, ``crack`` (M,) the crack it belongs to.
    """
    rows = np.flatnonzero(readings.valid)
    branch = stations.branch[rows]
    _, begin, count = np.unique(branch, return_index=True, return_counts=True)
    first, last = np.repeat(begin, count), np.repeat(begin + count, count)
    pixel, noise = readings.mm_per_px[rows], readings.noise_px[rows]
    steady = running_median(readings.width_px[rows] * pixel, first, last, 2)
    n_cracks = int(crack.max()) + 1 if len(crack) else 0
    usual = per_branch(noise, crack[rows], n_cracks, 0.5)[crack[rows]]
    ends = stations.stop[rows] - 1, stations.start[rows]
    step = (stations.along_mm[ends[0]] - stations.along_mm[ends[1]]) / np.maximum(ends[0] - ends[1], 1)
    least = np.maximum(GREATEST_OVER_MM / np.maximum(step, 1e-6), _SHARED * (usual / _QUIET_PX) ** 2)
    half = (np.clip(least, _LEAST_PROFILES, 10_000) / 2.0).astype(np.intp)
    here = np.arange(len(rows))
    low, high = np.maximum(here - half, first), np.minimum(here + half + 1, last)
    total = np.concatenate([[0.0], np.cumsum(steady)])
    over = (total[high] - total[low]) / np.maximum(high - low, 1)
    # Near the ends of a branch the length is not there; on a branch shorter than it, all counts.
    enough = (high - low > half) | (last - first <= half + 1)
    return Runs(
        rows, steady, np.where(enough, over, -np.inf), low, high, pixel, readings.own_u_px[rows], noise,
        scale_u_rel[rows],
    )  # fmt: skip


def summarise(runs: Runs, pick: Int) -> Width:
    """Mean and greatest width over some of the good stations (one branch, or all of one crack).

    Fewer than five give no width at all, not even a bound.
    """
    if len(pick) < 5:
        return Width()
    at = int(pick[np.argmax(runs.over_mm[pick])])
    near = np.arange(runs.low[at], runs.high[at])
    mean, mean_u, mean_px = _with_uncertainty(runs, pick)
    top, top_u, top_px = _with_uncertainty(runs, near)
    top = max(top, mean)
    mean_known, top_known = mean >= MEASURABLE_PX * mean_px, top >= MEASURABLE_PX * top_px
    # Where the crack as a whole is too thin to measure, one stretch far wider than it is texture,
    # a stain or a spall rather than an opening: state a bound, and let a crack gauge decide.
    top_known = top_known and (mean_known or top < _LONE_TIMES * mean)
    upper = None if mean_known else (mean + 2.0 * mean_u if top_known else top + 2.0 * top_u)
    return Width(
        mean_mm=mean if mean_known else None,
        mean_u_mm=mean_u if mean_known else None,
        max_mm=top if top_known else None,
        max_u_mm=top_u if top_known else None,
        upper_mm=upper,
    )


def _with_uncertainty(runs: Runs, pick: Int) -> tuple[float, float, float]:
    """Mean of a run of widths in mm, its standard uncertainty (root-sum-of-squares), mean pixel."""
    n = len(pick)
    mean, pixel = float(runs.steady_mm[pick].sum()) / n, float(runs.mm_per_px[pick].sum()) / n
    texture = float(runs.noise_px[pick].sum()) / n * pixel / math.sqrt(max(1.0, n / _SHARED))
    own = float(runs.own_u_px[pick].sum()) / n * pixel
    scale = mean * float(runs.scale_u_rel[pick].max())
    return mean, math.sqrt((EDGE_U_PX * pixel) ** 2 + own**2 + texture**2 + scale**2), pixel


def _noise(block: Darkness, blur: Float, width: Float, contrast: Float) -> Float:
    """What the concrete's texture adds to a single reading, as a standard deviation in px (P,)."""
    rows = block.pick
    share = _share(width[rows], blur)
    # Half level: texture over the slope of both edges. Area: texture over the window it is summed in.
    by_edges = math.sqrt(2.0) * blur * math.sqrt(2.0 * math.pi)
    by_area = np.sqrt(2.0 * block.reach * _TEXTURE_PX)
    noise: Float = block.noise * (share * by_edges + (1.0 - share) * by_area) / contrast[rows]
    return noise


def _share(width: Float, blur: Float) -> Float:
    """Weight of the half-level reading: 0 for thin cracks, 1 from ``_WIDE`` blurs on."""
    weight: Float = np.clip(width / blur - (_WIDE - 1.0), 0.0, 1.0)
    return weight


def _find_floors(blocks: tuple[Darkness, ...], source: Int, unit: Int, sign: Float, n_sources: int) -> Floors:
    """Blur of each photo, and contrast of each crack on each photo."""
    n, m = int(unit.max()) + 1, len(unit)
    area, depth, low, high = (np.full(m, np.nan) for _ in range(4))
    for block in blocks:
        pick = block.pick
        area[pick] = block.mean_along(block.area, _NEIGHBOURS)
        depth[pick] = block.mean_along(block.depth, _NEIGHBOURS)
        low[pick] = block.mean_along(block.beyond(0.2 * depth[pick]), _NEIGHBOURS)
        high[pick] = block.mean_along(block.beyond(0.8 * depth[pick]), _NEIGHBOURS)
    with np.errstate(invalid="ignore"):
        shape = np.where((high > 0.3) & (depth > _FAINT), low / np.maximum(high, 0.3), np.nan)
        # The shape of a faint line is mostly noise: ask more of it.
        is_wide = shape <= WIDE_SHAPE * (1.0 - 0.02 / np.maximum(depth, _FAINT))
    # A wide part shows the floor, so it cannot be paler than what the thin parts show of it.
    with np.errstate(invalid="ignore"):
        is_wide &= depth >= 0.8 * per_branch(depth, unit, n, 0.75)[unit]
        is_wide &= edge_blur_px(low, high) >= LEAST_BLUR_PX
    wide = np.where(is_wide, depth, np.nan)
    sharp = is_wide & (depth > 0.15)
    edge_blur = blur_by_edges(np.where(sharp, low, np.nan), high, source, n_sources)
    top = per_branch(area, unit, n, 0.7)[unit]
    with np.errstate(invalid="ignore"):
        widest = area >= top
    unit_source = np.zeros(n, dtype=np.intp)
    unit_source[unit] = source
    enough = np.bincount(unit[np.isfinite(wide)], minlength=n) >= _LEAST_PROFILES
    return fit_floors(
        per_branch(np.where(widest, area, np.nan), unit, n, 0.5),
        per_branch(np.where(widest, depth, np.nan), unit, n, 0.5),
        per_branch(np.where(widest, shape, np.nan), unit, n, 0.5),
        np.where(enough, per_branch(wide, unit, n, 0.5), np.nan),
        np.bincount(unit, sign, minlength=n) >= 0,
        unit_source,
        edge_blur,
    )


def _solve(
    block: Darkness, blur: Float, floor: Float, floor_u_rel: Float, sign: Float
) -> tuple[Float, Float, Float, Float]:
    """Width, full contrast, own uncertainty and the depth to expect (P,) of one block."""
    depth = block.mean_along(block.depth, _NEIGHBOURS)
    floor = np.where(floor > 0, floor, np.nan)
    width = block.mean_along(block.area, _NEIGHBOURS) / floor
    full, half = floor, width
    for _ in range(3):
        share = _share(width, blur)
        seen = np.maximum(erf(width / (2.0 * math.sqrt(2.0) * blur)), 0.3)
        full = share * depth / seen + (1.0 - share) * floor
        half = block.beyond(full / 2.0, _SURE * width - STEP_PX)
        width = block.mean_along(share * half + (1.0 - share) * block.area / full, _NEIGHBOURS)
    share = _share(width, blur)
    single = share * half + (1.0 - share) * np.maximum(block.area, 0.0) / full
    by_floor = (1.0 - share) * floor_u_rel * width
    by_tone = share * _tone_shift(block.background, full, sign, blur)
    expected = floor * erf(width / (2.0 * math.sqrt(2.0) * blur))
    return single, full, np.hypot(by_floor, by_tone), expected


def _tone_shift(background: Float, contrast: Float, sign: Float, blur: Float) -> Float:
    """Standard uncertainty in px from not knowing the camera's tone curve.

    The half level is taken in linear light; had the camera a curve that leaves half-way values
    half-way, the threshold would sit elsewhere on the blurred edge. The truth lies between the
    two (rectangular distribution, GUM 4.3.7).
    """
    dark = np.clip(background * (1.0 - sign * contrast), 0.0, 1.0)
    midway = linear_from_coded((coded_from_linear(background) + coded_from_linear(dark)) / 2.0)
    off = np.abs(midway - (background + dark) / 2.0) / np.maximum(np.abs(background - dark), 1e-6)
    shift: Float = 2.0 * off * blur * math.sqrt(2.0 * math.pi) / math.sqrt(12.0)
    return shift
