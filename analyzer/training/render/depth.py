"""Wide cracks seen from near: a gap with walls that fade into the dark, dirt, chips and a worn rim."""

from __future__ import annotations

import math
from collections.abc import Sequence

import cv2
import numpy as np

from .cracks import CrackStyle, shifted
from .noise import F32, fractal, lattice
from .raster import Stamp, cover, gain
from .truth import Ribbon

Rng = np.random.Generator

DEEP_FROM_PX = 6.0
"""Opening from which a gap's walls can be seen."""


def gap_style(rng: Rng, width_px: float, grain_px: float) -> CrackStyle:
    """The course of a wide crack: its middle roams, its edges break out each on their own."""
    return CrackStyle(
        width_px=width_px,
        wander=rng.uniform(0.08, 0.45),
        kink=rng.uniform(0.05, 0.5),
        kink_px=float(np.exp(rng.uniform(math.log(20), math.log(140)))),
        jitter_px=rng.uniform(0.1, 1.2),
        ragged=rng.uniform(0.06, 0.35),
        vary=rng.uniform(0.2, 0.6),
        fractal=rng.random() < 0.3,
        grain_px=max(grain_px, rng.uniform(3, 10)),
        sway_px=rng.uniform(0.3, 2.5),
        roam_px=width_px * float(np.exp(rng.uniform(math.log(0.12), math.log(0.9)))),
        bays=rng.uniform(0.0, 0.45),
    )


def _fill(rng: Rng, size: tuple[int, int], base: F32) -> tuple[F32, F32]:
    """What lies in the gap: colour (rows, cols, 3) and where it fills it, 0..1."""
    kind = rng.random()
    if kind < 0.45:
        tone = base * rng.uniform(0.12, 0.5) * np.array([1, rng.uniform(0.85, 1), rng.uniform(0.6, 1)])
    elif kind < 0.7:
        tone = np.array([0.09, 0.06, 0.04]) * rng.uniform(0.4, 2.5)  # earth, rust
    elif kind < 0.85:
        tone = np.array([0.06, 0.09, 0.03]) * rng.uniform(0.5, 2.2)  # moss
    else:
        tone = base * rng.uniform(0.6, 1.0)  # sand washed in
    colour = tone * (1 + 0.5 * lattice(rng, size, (rng.uniform(1.5, 4),) * 2)[..., None])
    where = np.clip(0.9 * lattice(rng, size, (rng.uniform(20, 90),) * 2) + rng.uniform(-1.6, 0.6), 0, 1)
    return np.clip(colour, 0.004, 1).astype(np.float32), where.astype(np.float32)


def draw_deep(rgb: F32, ribbons: Sequence[Ribbon], rng: Rng, light_rad: float) -> None:
    """Draws wide cracks into `rgb` (rows, cols, 3) in place, as openings with depth."""
    shape = (rgb.shape[0], rgb.shape[1])
    stamp = cover([r.ring for r in ribbons], shape)
    if stamp.empty:
        return
    size = (stamp.alpha.shape[0], stamp.alpha.shape[1])
    width = float(np.median(np.concatenate([r.width_px for r in ribbons])))
    base = rgb.mean(axis=(0, 1))
    _rim(rgb, ribbons, stamp, rng, light_rad, width)
    view = rgb[stamp.window]
    inside = cv2.distanceTransform((stamp.alpha > 0.5).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5)
    steep = width * float(np.exp(rng.uniform(math.log(0.05), math.log(0.45))))
    uneven = np.exp(0.5 * fractal(rng, size, max(0.8 * width, 6), 2.0))
    dark = 1 - np.exp(-inside * uneven / max(steep, 0.5))
    lean = rng.uniform(0.0, 0.35) * width  # the far wall catches the light, the near one is in shade
    toward = shifted(np.asarray(dark, np.float32), math.cos(light_rad) * lean, math.sin(light_rad) * lean)
    dark = np.clip(0.6 * dark + 0.4 * np.maximum(dark, toward), 0, 1)
    tint = np.array([rng.uniform(0.7, 1.05), rng.uniform(0.65, 0.95), rng.uniform(0.5, 0.9)])
    wall = view * (tint * rng.uniform(0.55, 1.0)).astype(np.float32)
    wall *= np.exp(rng.uniform(0.05, 0.3) * fractal(rng, size, 8, 1.3))[..., None]
    black = np.full(3, rng.uniform(0.003, 0.035), np.float32) + base * np.float32(rng.uniform(0, 0.06))
    colour = wall + dark[..., None].astype(np.float32) * (black - wall)
    if rng.random() < 0.45:
        fill, where = _fill(rng, size, base)
        lit = (1 - 0.6 * dark[..., None]) if rng.random() < 0.6 else np.float32(1.0)
        colour += where[..., None] * (fill * lit - colour)
    if rng.random() < 0.3:
        _chips(rng, colour, base, width)
    view += stamp.alpha[..., None] * (np.clip(colour, 0.003, 1).astype(np.float32) - view)


def _rim(rgb: F32, ribbons: Sequence[Ribbon], stamp: Stamp, rng: Rng, light_rad: float, width: float) -> None:
    """Stain and worn edge beside the gap."""
    shape = (rgb.shape[0], rgb.shape[1])
    if rng.random() < 0.5:
        reach = width * rng.uniform(0.3, 1.6)
        band = cover([r.widened(float(np.median(r.width_px)) + 2 * reach) for r in ribbons], shape)
        soft = cv2.GaussianBlur(band.alpha, (0, 0), max(0.5 * reach, 0.8))
        soft *= np.clip(0.6 + 0.6 * lattice(rng, soft.shape, (25.0, 25.0)), 0, 1) * np.float32(
            rng.uniform(0.1, 0.9)
        )
        tint = (rng.uniform(0.65, 1.0), rng.uniform(0.55, 0.95), rng.uniform(0.4, 0.9))
        gain(rgb, Stamp(band.row, band.col, soft), tint)
    reach = rng.uniform(0.05, 0.3) * width + 0.6
    pad = int(3 * reach) + 2
    grown = cv2.copyMakeBorder(stamp.alpha, pad, pad, pad, pad, cv2.BORDER_CONSTANT, value=0.0)
    soft = cv2.GaussianBlur(np.asarray(grown, np.float32), (0, 0), reach)
    lit = shifted(soft, math.cos(light_rad) * reach, math.sin(light_rad) * reach)
    shade = (lit - soft)[pad:-pad, pad:-pad] * (1 - stamp.alpha) * np.float32(rng.uniform(0.0, 1.2))
    dim = soft[pad:-pad, pad:-pad] * (1 - stamp.alpha) * np.float32(rng.uniform(0.0, 0.9))
    rgb[stamp.window] *= np.clip(1 + shade - dim, 0.2, 1.6)[..., None]


def _chips(rng: Rng, colour: F32, base: F32, width: float) -> None:
    """Broken pieces lying in the gap."""
    rows, cols = colour.shape[:2]
    for _ in range(int(rng.integers(1, 9))):
        n = int(rng.integers(5, 9))
        angle = np.sort(rng.uniform(0, 2 * math.pi, n))
        radius = width * rng.uniform(0.1, 0.35) * rng.uniform(0.6, 1.2, n)
        ring = np.stack([np.cos(angle), np.sin(angle)], axis=1) * radius[:, None]
        chip = cover([ring + rng.uniform(0, 1, 2) * (rows, cols)], (rows, cols))
        if not chip.empty:
            tone = (base * rng.uniform(0.3, 1.1)).astype(np.float32)
            view = colour[chip.window]
            view += chip.alpha[..., None] * (tone - view)


def soften(rgb: F32, rng: Rng, strongest_px: float = 3.5) -> None:
    """A close-up slightly out of focus, in place."""
    sigma = float(np.exp(rng.uniform(math.log(0.7), math.log(strongest_px))))
    rgb[...] = cv2.GaussianBlur(rgb, (0, 0), sigma)
