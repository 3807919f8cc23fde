"""First look across a crack: dark or bright, about how wide, and where its middle is.

Widths on one slab go from a hairline to the width of a hand. A narrow window over a wide crack
sees only its floor, a wide window over a hairline sees mostly other things. So the look is taken
at four window sizes, and the smallest one counts that already shows nearly the full contrast.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.measure.along import running_mean, running_median, thin_out
from analyzer.measure.profiles import Float32, Footing, Source, Stations, read_profiles
from analyzer.records import Bool, Float

WINDOWS_PX = (10, 20, 40, 80)
"""Half-widths of the four windows; the crack must close within half of one of them."""

EVERY = 3
"""One station in three is looked at here."""

_NEAR_FULL = 0.75
"""Share of the greatest contrast that makes a window good enough."""


@dataclass(frozen=True, slots=True, eq=False)
class FirstLook:
    """Per station (M,): sign (+1 darker than the concrete, -1 brighter), width and middle in px.

    nan where nothing could be read.
    """

    sign: Float
    width_px: Float
    middle_px: Float


def look_across(stations: Stations, footing: Footing, sources: tuple[Source, ...]) -> FirstLook:
    """Estimate sign, width and middle of the crack at every station, to within a pixel or two."""
    pick, start, stop = thin_out(stations, EVERY)
    offsets = np.arange(-WINDOWS_PX[-1], WINDOWS_PX[-1] + 1, dtype=float)
    grey = _mean_of_three(read_profiles(footing, pick, offsets, sources), start, stop)
    level = _levels(grey)
    sign = _sign(level, start, stop)
    contrast = _contrast(level, sign)
    contrast = np.stack([running_mean(c, start, stop, 4) for c in contrast])
    with np.errstate(invalid="ignore"):
        enough = contrast >= _NEAR_FULL * np.nanmax(np.nan_to_num(contrast, nan=-np.inf), axis=0)
    window = np.argmax(enough, axis=0)
    width, middle = np.full(len(pick), np.nan), np.full(len(pick), np.nan)
    for k, half in enumerate(WINDOWS_PX):
        at = np.flatnonzero(window == k)
        if len(at):
            width[at], middle[at] = _interval(grey[at], level[k, :, at].T, sign[at], half)
    width = running_median(width, start, stop, 4)
    middle = running_median(middle, start, stop, 4)
    # Every station takes the values of its own branch's nearest looked-at station.
    here = np.arange(len(stations.branch))
    near = np.minimum(
        (here - stations.start + EVERY // 2) // EVERY, -(-(stations.stop - stations.start) // EVERY) - 1
    )
    first = np.searchsorted(pick, stations.start)
    index = first + near
    return FirstLook(sign[index], width[index], middle[index])


def _mean_of_three(grey: Float32, start: np.ndarray, stop: np.ndarray) -> Float32:
    """Each profile with its two neighbours on the same branch."""
    here = np.arange(len(grey))
    total = grey + grey[np.maximum(here - 1, start)] + grey[np.minimum(here + 1, stop - 1)]
    result: Float32 = total / np.float32(3.0)
    return np.where(np.isfinite(result), result, grey)


def _levels(grey: Float32) -> Float:
    """Grey on both flanks and at the centre for each window: (windows, 4, P).

    Rows: left flank, right flank, darkest of the centre, brightest of the centre.
    """
    mid = WINDOWS_PX[-1]
    near = grey[:, mid - 3 : mid + 4]
    near = (near[:, :-2] + near[:, 1:-1] + near[:, 2:]) / 3.0
    out = np.empty((len(WINDOWS_PX), 4, len(grey)))
    for k, half in enumerate(WINDOWS_PX):
        inner = round(0.6 * half)
        out[k, 0] = np.median(grey[:, mid - half : mid - inner + 1], axis=1)
        out[k, 1] = np.median(grey[:, mid + inner : mid + half + 1], axis=1)
        out[k, 2] = near.min(axis=1)
        out[k, 3] = near.max(axis=1)
    return out


def _sign(level: Float, start: np.ndarray, stop: np.ndarray) -> Float:
    """+1 for a branch that is darker than both flanks over most of its length, else -1."""
    dark = np.minimum(level[:, 0], level[:, 1]) - level[:, 2]
    bright = level[:, 3] - np.maximum(level[:, 0], level[:, 1])
    with np.errstate(invalid="ignore"):
        lead = np.max(np.nan_to_num(dark, nan=-1.0), axis=0) - np.max(np.nan_to_num(bright, nan=-1.0), axis=0)
    mean = running_mean(lead, start, stop, len(lead))
    return np.where(mean >= 0, 1.0, -1.0)


def _contrast(level: Float, sign: Float) -> Float:
    """Difference of the centre to the flank that differs less from it: (windows, P)."""
    dark = np.minimum(level[:, 0], level[:, 1]) - level[:, 2]
    bright = level[:, 3] - np.maximum(level[:, 0], level[:, 1])
    return np.where(sign > 0, dark, bright)


def _interval(grey: Float32, level: Float, sign: Float, half: int) -> tuple[Float, Float]:
    """Width and middle of the piece beyond half level that lies at or next to offset 0.

    ``grey`` (P, K), ``level`` (4, P) of the window. nan where the piece does not close in the window.
    """
    mid = WINDOWS_PX[-1]
    part = grey[:, mid - half : mid + half + 1]
    flank = np.where(sign > 0, np.minimum(level[0], level[1]), np.maximum(level[0], level[1]))
    core = np.where(sign > 0, level[2], level[3])
    beyond: Bool = sign[:, None] * ((flank + core)[:, None] / 2.0 - part) > 0
    reach = np.arange(-3, 4)
    order = np.argsort(np.abs(reach), kind="stable")
    hit = beyond[:, half + reach[order]]
    seed = half + reach[order][np.argmax(hit, axis=1)]
    columns = np.arange(2 * half + 1)
    out_right = ~beyond & (columns > seed[:, None])
    out_left = ~beyond & (columns < seed[:, None])
    right = np.where(out_right.any(axis=1), np.argmax(out_right, axis=1), np.nan)
    left = np.where(out_left.any(axis=1), 2 * half - np.argmax(out_left[:, ::-1], axis=1), np.nan)
    found = hit.any(axis=1)
    return np.where(found, right - left - 1.0, np.nan), np.where(found, (right + left) / 2.0 - half, np.nan)
