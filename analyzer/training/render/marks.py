"""Lines and dark spots on a slab that are no cracks: rings, arcs, plugs, scratches, broken-out holes."""

from __future__ import annotations

import math

import cv2
import numpy as np

from . import curves
from .curves import F64
from .damage import spall_ring
from .noise import F32, emboss, fractal, lattice
from .raster import Stamp, blend, cover, full, gain, ribbon
from .surface import grains

Rng = np.random.Generator


def _arc(rng: Rng, shape: tuple[int, int]) -> F64:
    """Part of a circle, an ellipse or a long gentle bend."""
    radius = float(np.exp(rng.uniform(math.log(12), math.log(0.7 * shape[0]))))
    sweep = 2 * math.pi if rng.random() < 0.5 else rng.uniform(0.6, 5)
    t = rng.uniform(0, 2 * math.pi) + np.linspace(0, sweep, max(int(radius * sweep / 3), 12))
    squash = rng.uniform(0.6, 1.0) if rng.random() < 0.4 else 1.0
    at = rng.uniform(-0.1, 1.1, 2) * shape
    return at + np.stack([np.cos(t), np.sin(t) * squash], axis=1) * radius


def ring(rng: Rng, rgb: F32, light_rad: float) -> None:
    """A pot's or drum's stain, a plug's outline, a scuffed bend: even width, soft edges, faded parts."""
    shape = (rgb.shape[0], rgb.shape[1])
    line = _arc(rng, shape)
    width = float(np.exp(rng.uniform(math.log(0.9), math.log(14))))
    band = cover([ribbon(line, width)], shape)
    if band.empty:
        return
    soft = cv2.GaussianBlur(band.alpha, (0, 0), rng.uniform(0.3, 0.35 * width + 0.5))
    soft *= np.clip(rng.uniform(0.3, 1.0) + 0.7 * lattice(rng, soft.shape, (40.0, 40.0)), 0, 1)
    tone = rng.uniform(0.3, 0.9) if rng.random() < 0.8 else rng.uniform(1.1, 1.6)
    tint = np.array([1.0, rng.uniform(0.85, 1.0), rng.uniform(0.7, 1.0)]) * tone
    gain(rgb, Stamp(band.row, band.col, np.asarray(soft, np.float32)), tint)


def plug(rng: Rng, rgb: F32, light_rad: float) -> None:
    """A filled tie hole: a disc of another tone with a thin rim, lit on one side."""
    shape = (rgb.shape[0], rgb.shape[1])
    radius = rng.uniform(6, 36)
    t = np.linspace(0, 2 * math.pi, 48, endpoint=False)
    circle = np.stack([np.cos(t), np.sin(t)], axis=1) * radius + rng.uniform(0.05, 0.95, 2) * shape
    disc = cover([circle], shape)
    if disc.empty:
        return
    soft = cv2.GaussianBlur(disc.alpha, (0, 0), rng.uniform(0.6, 1.8))
    rgb[disc.window] *= np.clip(1 + emboss(soft, light_rad, rng.uniform(-1.6, 1.6)), 0.3, 1.6)[..., None]
    gain(rgb, disc, rng.uniform(0.85, 1.12))
    if rng.random() < 0.5:
        gain(
            rgb,
            cover([ribbon(np.vstack([circle, circle[:1]]), rng.uniform(0.7, 2.5))], shape),
            rng.uniform(0.3, 0.8),
        )


def scratches(rng: Rng, rgb: F32, light_rad: float) -> None:
    """Short lines all one way: trowel chatter, brush threads, drag marks."""
    shape = (rgb.shape[0], rgb.shape[1])
    heading, spread = rng.uniform(0, math.pi), rng.uniform(0.02, 0.35)
    centre = rng.uniform(0, 1, 2) * shape
    rings = []
    for _ in range(int(rng.integers(4, 50))):
        size = float(np.exp(rng.uniform(math.log(6), math.log(70))))
        line = curves.smooth_curve(rng, size, heading + rng.normal(0, spread), rng.uniform(0, 0.5), 2.0)
        line = line + centre + rng.normal(0, 0.25, 2) * shape
        thick = np.sin(np.linspace(0.1, math.pi - 0.1, len(line))) * rng.uniform(0.6, 2.2)
        rings.append(ribbon(line, thick))
    gain(rgb, cover(rings, shape), rng.uniform(0.55, 0.92) if rng.random() < 0.8 else rng.uniform(1.05, 1.3))


def cavities(rng: Rng, rgb: F32, light_rad: float, near: list[F64]) -> F32:
    """Broken-out holes with a dark hollow and a lit fracture face, in place; returns their coverage.

    `near` are centrelines (n, 2): half of the holes sit on one of them.
    """
    shape = (rgb.shape[0], rgb.shape[1])
    out = np.zeros(shape, np.float32)
    for _ in range(int(rng.integers(1, 5))):
        size = float(np.exp(rng.uniform(math.log(6), math.log(110))))
        at = rng.uniform(0, 1, 2) * shape
        if near and rng.random() < 0.5:
            line = near[int(rng.integers(len(near)))]
            at = line[int(rng.integers(len(line)))]
            size = min(size, 40.0)
        outline = spall_ring(
            rng, np.asarray(at), rng.uniform(0, math.pi), size, size * rng.uniform(0.35, 1.0)
        )
        hole = cover([outline], shape)
        if hole.empty or min(hole.alpha.shape) < 3:
            continue
        _hollow(rng, rgb, hole, light_rad, size)
        out = np.maximum(out, full(hole, shape))
    return out


def _hollow(rng: Rng, rgb: F32, hole: Stamp, light_rad: float, size: float) -> None:
    area = (hole.alpha.shape[0], hole.alpha.shape[1])
    view = rgb[hole.window]
    inside = cv2.distanceTransform((hole.alpha > 0.5).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_3)
    deep = 1 - np.exp(-inside / (size * rng.uniform(0.04, 0.3) + 0.5))
    rows, cols = np.mgrid[0 : area[0], 0 : area[1]].astype(np.float32)
    along = (rows / area[0] - 0.5) * math.cos(light_rad) + (cols / area[1] - 0.5) * math.sin(light_rad)
    shade = np.clip(
        0.5 + rng.uniform(0.6, 2.2) * along + 0.3 * fractal(rng, area, max(size / 3, 4), 1.5), 0, 1
    )
    floor = view * np.array([1, rng.uniform(0.9, 1), rng.uniform(0.75, 1)], np.float32)
    floor *= grains(rng, area, max(size / 25, 1.0), 0.2)[..., None]
    floor *= np.clip(1 + emboss(fractal(rng, area, 10, 1.5), light_rad, rng.uniform(0.1, 0.5)), 0.3, 1.8)[
        ..., None
    ]
    dark = np.clip(deep * shade * rng.uniform(0.7, 1.5), 0, 1)[..., None]
    colour = floor * rng.uniform(0.8, 1.3) * (1 - dark) + dark * np.float32(rng.uniform(0.004, 0.05))
    view += hole.alpha[..., None] * (colour.astype(np.float32) - view)
    if rng.random() < 0.4:  # rust bleeding out
        soft = cv2.GaussianBlur(hole.alpha, (0, 0), 0.15 * size + 1) * np.float32(rng.uniform(0.1, 0.6))
        blend(rgb, Stamp(hole.row, hole.col, soft * (1 - hole.alpha)), (0.25, 0.13, 0.06))


MARKS = (ring, plug, scratches)
