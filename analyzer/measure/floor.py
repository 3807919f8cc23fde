"""How sharp a photo is and how dark the floor of a crack is: what thin cracks need to be measured.

A crack of width w and full contrast C, blurred by a Gaussian of standard deviation s, shows the
area A = C w and the depth D = C erf(w / (2 sqrt(2) s)). With s and C known, w = A / C whatever
the blur. Wide parts of a crack show C directly, and their edges show s. Where everything is thin,
only A, D and the shape are seen (the width at 20 % over that at 80 % of the depth, which falls
from 2.68 for a blurred line towards 1 for a box), and a thin black crack looks much like a wider
grey one: then C is a weighted mean over all pairs (s, C) that fit, and its standard uncertainty
says how far they are apart (GUM, JCGM 100:2008, 4.3, a priori distributions; from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import erf

from analyzer.measure.profiles import Int
from analyzer.records import Bool, Float

BLUR_PX, BLUR_U_PX = 1.1, 0.3
"""Blur of a phone photo as read here (optics, sensor, interpolation), where it does not tell
itself: about 1 px (judgement; on the photos drawn for the tests 0.9 to 1.6)."""

WIDE_SHAPE = 1.95
"""Largest shape (see above) of a crack that shows its floor and two separate edges; a box five
blurs wide has it."""

FIT_REL = 0.04
"""How well the two formulas above describe a real profile (relative; judgement)."""

SMEAR_PX = 0.25
"""How much more than the photo a thin crack may be smeared (half normal; judgement)."""

SHAPE_REL = 0.04
"""The same for the shape."""

LEAST_BLUR_PX = 0.55
"""No photo is sharper; edges that seem so are noise (a square pixel alone, read by linear
interpolation at all phases, has sqrt(1/12 + 1/6) = 0.5 px)."""

_SIGMAS = np.linspace(0.6, 2.4, 31)
_CONTRASTS = np.geomspace(0.03, 1.0, 75)
_ERF_SCALE = 2.0 * math.sqrt(2.0)
_FROM_20_TO_80 = 2.0 * 0.841621
"""Distance between 20 % and 80 % of a Gaussian edge, in standard deviations."""


@dataclass(frozen=True, slots=True, eq=False)
class Floors:
    """Blur (S,) of each photo in px; full contrast (U,) of each unit and its relative uncertainty.

    A unit is one crack on one photo.
    """

    blur_px: Float
    contrast: Float
    contrast_u_rel: Float


def edge_blur_px(low: Float, high: Float) -> Float:
    """Blur that one profile's two edges show, from its widths at 20 % and 80 % of the depth."""
    blur: Float = (low - high) / 2.0 / _FROM_20_TO_80
    return blur


def blur_by_edges(low: Float, high: Float, source: Int, n_sources: int) -> Float:
    """Blur (S,) of each photo from the edges of wide cracks, nan for photos with too few.

    Parameters
    ----------
    low, high : (M,) arrays
        Widths in px at 20 % and at 80 % of the depth, nan for stations that are not wide.
    source : (M,) array
        Photo of each station.
    """
    edge = edge_blur_px(low, high)
    found = np.full(n_sources, np.nan)
    for k in range(n_sources):
        mine = edge[(source == k) & np.isfinite(edge)]
        if len(mine) >= 20:
            # Ragged and rounded edges look softer than the lens is: stay below the median.
            found[k] = float(np.clip(np.quantile(mine, 0.4), _SIGMAS[0], _SIGMAS[-1]))
    return found


def fit_floors(
    area: Float,
    depth: Float,
    shape: Float,
    wide_contrast: Float,
    dark: Bool,
    source: Int,
    edge_blur: Float,
) -> Floors:
    """Blur of each photo and contrast of each unit.

    Parameters
    ----------
    area, depth, shape : (U,) arrays
        Seen at the widest part of each unit; nan where nothing was read.
    wide_contrast : (U,) array
        Contrast seen on the floor of a wide part, nan for units that have none.
    dark : (U,) array
        Whether the unit is darker than the concrete.
    source : (U,) array
        Photo of each unit.
    edge_blur : (S,) array
        Blur from wide edges, nan where a photo has none.
    """
    prior = np.where(np.isfinite(edge_blur), edge_blur, BLUR_PX)
    prior_u = np.where(np.isfinite(edge_blur), 0.06, BLUR_U_PX)
    with np.errstate(divide="ignore"):
        log_sigma = -0.5 * ((_SIGMAS[None, :] - prior[:, None]) / prior_u[:, None]) ** 2
    width = area[:, None, None] / _CONTRASTS[None, None, :]
    seen = _CONTRASTS * erf(width / (_ERF_SCALE * _SIGMAS[None, :, None]))
    off = (seen - depth[:, None, None]) / (FIT_REL * np.maximum(depth, 0.05)[:, None, None])
    # Even weight (the list is even in its logarithm) for bright cracks; for dark ones the weight
    # rises: deep floors are the rule and filled cracks the exception.
    prior_c = np.where(dark[:, None], 2.0, 1.0) * np.log(_CONTRASTS)
    log_fit = -0.5 * off**2 + prior_c[:, None, :]
    expected = np.interp(width / _SIGMAS[None, :, None], _RATIOS, _SHAPES)
    loose = np.hypot(SHAPE_REL, 0.03 / np.maximum(depth, 0.02))[:, None, None]
    log_fit -= 0.5 * np.nan_to_num((shape[:, None, None] / expected - 1.0) / loose) ** 2
    usable = np.isfinite(area) & np.isfinite(depth) & (area > 0)
    log_fit = np.where(usable[:, None, None], log_fit, prior_c[:, None, :])
    log_fit -= log_fit.max(axis=(1, 2), keepdims=True)
    fit = np.exp(log_fit)
    per_sigma = np.log(fit.sum(axis=2) + 1e-30)
    thin = usable & ~np.isfinite(wide_contrast)
    blur = np.empty(len(edge_blur))
    posterior = np.empty((len(edge_blur), len(_SIGMAS)))
    for k in range(len(edge_blur)):
        mine = thin & (source == k)
        log_p = log_sigma[k].copy()
        if mine.any():
            # Units share the model's faults, so many of them count as three.
            log_p += per_sigma[mine].mean(axis=0) * min(int(mine.sum()), 3)
        posterior[k] = np.exp(log_p - log_p.max())
        posterior[k] /= posterior[k].sum()
        blur[k] = float(posterior[k] @ _SIGMAS)
    # A thin crack wanders within its pixels, which smears it more than the lens alone.
    own = posterior @ _SMEAR
    weight = fit * own[source][:, :, None]
    total = weight.sum(axis=(1, 2)) + 1e-300
    mean = (weight * _CONTRASTS).sum(axis=(1, 2)) / total
    spread = np.sqrt(np.maximum((weight * _CONTRASTS**2).sum(axis=(1, 2)) / total - mean**2, 0.0))
    # 1 / C is what the width needs; its mean differs from 1 / mean(C) when the spread is large.
    inverse = (weight / _CONTRASTS).sum(axis=(1, 2)) / total
    contrast = np.where(np.isfinite(wide_contrast), wide_contrast, 1.0 / np.maximum(inverse, 1e-9))
    u_rel = np.where(np.isfinite(wide_contrast), 0.03, spread / np.maximum(mean, 1e-9))
    contrast = np.where(usable | np.isfinite(wide_contrast), contrast, np.nan)
    return Floors(blur, contrast, u_rel)


def _smear() -> Float:
    """Matrix that spreads weight over blurs upwards (half normal of ``SMEAR_PX``)."""
    more = _SIGMAS[None, :] - _SIGMAS[:, None]
    spread = np.where(more >= -1e-9, np.exp(-0.5 * (more / SMEAR_PX) ** 2), 0.0)
    matrix: Float = spread / spread.sum(axis=1, keepdims=True)
    return matrix


def _box_shapes(ratios: Float) -> Float:
    """Width at 20 % over width at 80 % of the depth, of a blurred box of width ``ratios`` blurs."""
    at = np.linspace(0.0, float(ratios[-1]) / 2.0 + 4.0, 4000)
    shapes = np.empty(len(ratios))
    for i, ratio in enumerate(ratios):
        half = ratio / 2.0
        fall = erf((at + half) / math.sqrt(2.0)) - erf((at - half) / math.sqrt(2.0))
        shapes[i] = np.interp(-0.2, -fall / fall[0], at) / np.interp(-0.8, -fall / fall[0], at)
    return shapes


_RATIOS = np.linspace(0.05, 8.0, 60)
_SHAPES = _box_shapes(_RATIOS)
_SMEAR = _smear()
