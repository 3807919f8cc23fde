"""Profiles turned into relative darkness, with what can be read off them without a model.

Relative darkness is 1 - grey / background, the background a straight line through the clean
flanks on both sides: shade, vignetting and slow changes of tone drop out of it. For a crack that
is brighter than the concrete (filled, or full of lime) the sign is turned, and everything after
this module is the same.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.measure.along import running_mean, running_median
from analyzer.measure.profiles import Float32, Footing, Int, Source, Stations, read_profiles
from analyzer.measure.rough import FirstLook
from analyzer.records import Bool, Float

STEP_PX = 0.5
"""Distance between samples of a profile."""

GUARD_PX = 2.5
"""Left out between the half-level edge and the flank: the blurred foot of the edge."""

FLANK_PX = 6.0
"""Least width of each flank."""

_FLANK_SPOTS = 16
_REACHES_PX = (16.0, 28.0, 50.0, 90.0)


@dataclass(frozen=True, slots=True, eq=False)
class Darkness:
    """Relative darkness of stations ``pick`` (P,) at offsets (K,) px from the centreline.

    ``start``, ``stop`` (P,) bound each station's branch within this block. ``middle`` (P,) is the
    crack's middle, ``reach`` (P,) how far from it the crack may extend (half its rough width and
    the guard), ``rough`` (P,) the rough width, all in px. ``area`` (P,) is the integral of the
    darkness within the reach in px, ``depth`` (P,) its mean about the middle, ``background`` (P,) the
    grey of the concrete and ``noise`` (P,) the rms darkness of its texture. ``values`` is (P, K) and
    already the mean of each profile and its two neighbours.
    """

    pick: Int
    start: Int
    stop: Int
    offsets: Float
    values: Float32
    middle: Float
    reach: Float
    rough: Float
    area: Float
    depth: Float
    background: Float
    noise: Float

    def beyond(self, threshold: Float, inner: Float | None = None) -> Float:
        """Length (P,) in px of profile darker than the threshold (P,), within the reach, sub-pixel.

        What lies within ``inner`` (P,) px of the middle counts in any case: dirt on the floor of a
        crack is no concrete.
        """
        t = np.abs(_distance(self.offsets, self.middle))
        over = self.values - threshold[:, None].astype(np.float32)
        over = np.where(t <= self.reach[:, None].astype(np.float32), over, np.float32(-1.0))
        if inner is not None:
            over = np.where(t <= inner[:, None].astype(np.float32), np.float32(1.0), over)
        high, low = np.maximum(over[:, :-1], over[:, 1:]), np.minimum(over[:, :-1], over[:, 1:])
        part = np.clip(high / np.maximum(high - low, np.float32(1e-9)), 0.0, 1.0)
        part[low >= 0] = 1.0
        length: Float = part.sum(axis=1, dtype=float) * STEP_PX
        return length

    def mean_along(self, values: Float, half: int) -> Float:
        """Mean of a quantity (P,) over ``half`` stations to both sides on the same branch."""
        return running_mean(values, self.start, self.stop, half)


def darken(
    stations: Stations, footing: Footing, sources: tuple[Source, ...], first: FirstLook
) -> tuple[Darkness, ...]:
    """Read all stations, in up to four blocks of branches by how far the profiles must reach."""
    n_branches = int(stations.branch.max()) + 1 if len(stations.branch) else 0
    widest = np.zeros(n_branches)
    known = np.isfinite(first.width_px)
    np.maximum.at(widest, stations.branch[known], first.width_px[known])
    need = np.maximum(widest, 3.0) + GUARD_PX + FLANK_PX + 3.0
    group = np.searchsorted(np.array(_REACHES_PX[:-1]), need)[stations.branch]
    blocks = []
    for k, reach in enumerate(_REACHES_PX):
        pick = np.flatnonzero(group == k)
        if len(pick):
            blocks.append(_darken_block(stations, footing, sources, first, pick, reach))
    return tuple(blocks)


def _darken_block(
    stations: Stations,
    footing: Footing,
    sources: tuple[Source, ...],
    first: FirstLook,
    pick: Int,
    reach_px: float,
) -> Darkness:
    offsets = np.arange(-reach_px, reach_px + STEP_PX / 2, STEP_PX)
    grey = read_profiles(footing, pick, offsets, sources)
    _, begin, count = np.unique(stations.branch[pick], return_index=True, return_counts=True)
    start, stop = np.repeat(begin, count), np.repeat(begin + count, count)
    rough = np.clip(np.nan_to_num(first.width_px[pick], nan=2.0), 1.0, None)
    middle = np.nan_to_num(first.middle_px[pick])
    reach = rough / 2.0 + GUARD_PX
    flank = np.maximum(FLANK_PX, 0.5 * rough)
    t = _distance(offsets, middle)
    near = reach[:, None].astype(np.float32)
    spots = reach[:, None] + flank[:, None] * (np.arange(_FLANK_SPOTS) + 0.5) / _FLANK_SPOTS
    column = [np.rint((middle[:, None] + side * spots + reach_px) / STEP_PX) for side in (-1, 1)]
    beside = [np.clip(c, 0, len(offsets) - 1).astype(np.intp) for c in column]
    left, right = (_trimmed_mean(np.take_along_axis(grey, c, axis=1)) for c in beside)
    slope = (right - left) / (2.0 * reach + flank)
    level = (left + right) / 2.0
    back = level[:, None].astype(np.float32) + slope[:, None].astype(np.float32) * t
    sign = first.sign[pick, None].astype(np.float32)
    values = sign * (1 - grey / np.maximum(back, np.float32(1e-3)))
    here = np.arange(len(pick))
    values = values[np.maximum(here - 1, start)] + values + values[np.minimum(here + 1, stop - 1)]
    values *= np.float32(1 / 3)
    # The middle, from the darkness itself: its centroid, steadied along the crack.
    weight = np.where(np.abs(t) <= near, np.maximum(values, 0), 0)
    total = weight.sum(axis=1, dtype=float)
    centroid = (weight * t).sum(axis=1, dtype=float) / np.where(total > 0, total, np.nan) + middle
    steady = running_mean(running_median(centroid, start, stop, 3), start, stop, 2)
    middle = np.where(np.isfinite(steady), steady, middle)
    t = np.abs(_distance(offsets, middle))
    area = np.where(t <= near, values, 0).sum(axis=1, dtype=float) * STEP_PX
    inner = t <= np.maximum(0.3, 0.25 * rough)[:, None].astype(np.float32)
    depth = np.where(inner, values, 0).sum(axis=1, dtype=float) / np.maximum(inner.sum(axis=1), 1)
    texture = np.take_along_axis(values, np.concatenate(beside, axis=1), axis=1)
    noise = np.sqrt(np.mean(np.square(np.nan_to_num(texture)), axis=1, dtype=float))
    return Darkness(pick, start, stop, offsets, values, middle, reach, rough, area, depth, level, noise)


def _distance(offsets: Float, middle: Float) -> Float32:
    """Offsets (K,) counted from the middle of each row (P,): (P, K)."""
    result: Float32 = offsets[None, :].astype(np.float32) - middle[:, None].astype(np.float32)
    return result


def _trimmed_mean(grey: Float32) -> Float:
    """Mean of each row without what lies over two standard deviations off.

    A pore, a leaf or another crack in the flank must not pass for concrete. nan for rows with
    fewer than four values.
    """
    keep: Bool = np.isfinite(grey)
    filled = np.where(np.isfinite(grey), grey, np.float32(0))
    for _ in range(2):
        n = np.maximum(keep.sum(axis=1), 1)
        off = filled - (np.where(keep, filled, 0).sum(axis=1) / n)[:, None]
        spread = np.sqrt(np.where(keep, off * off, 0).sum(axis=1) / n)
        keep &= np.abs(off) <= 2.0 * spread[:, None] + 1e-6
    n = keep.sum(axis=1)
    mean = np.where(keep, filled, 0).sum(axis=1, dtype=float) / np.maximum(n, 1)
    return np.where(n > 3, mean, np.nan)
