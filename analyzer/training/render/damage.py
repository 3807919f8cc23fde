"""Spalls and patches: areas of damage or of other material, drawn in place; rings in px."""

from __future__ import annotations

import math

import cv2
import numpy as np

from . import curves
from .curves import F64
from .noise import F32, emboss, fractal
from .raster import Stamp, cover, full, gain, ribbon
from .surface import grains, stones

Rng = np.random.Generator


def spall_ring(rng: Rng, at: F64, along_rad: float, length_px: float, depth_px: float) -> F64:
    """Outline of a broken edge piece: a flat, jagged shape lying along a line."""
    n = 28
    t = np.linspace(0, 2 * np.pi, n, endpoint=False)
    ring = np.stack([np.cos(t) * length_px / 2, np.sin(t) * depth_px / 2], axis=1)
    ring *= (1 + 0.18 * curves.fractal_1d(rng, n, 4, 2))[:, None]
    c, s = math.cos(along_rad), math.sin(along_rad)
    return np.asarray(ring @ np.array([[c, s], [-s, c]]) + at)


def spall(rng: Rng, rgb: F32, rings: list[F64], grain_px: float, light_rad: float) -> F32:
    """Broken-out shallow areas: rough floor, shaded rim. Returns their coverage."""
    shape = (rgb.shape[0], rgb.shape[1])
    stamp = cover(rings, shape)
    if stamp.empty:
        return np.zeros(shape, np.float32)
    size = (stamp.alpha.shape[0], stamp.alpha.shape[1])
    view = rgb[stamp.window]
    floor = (
        view
        * np.float32(rng.uniform(0.65, 1.2))
        * np.array([1, rng.uniform(0.93, 1), rng.uniform(0.82, 1)], np.float32)
    )
    if min(size) > 16:
        stones(rng, floor, max(grain_px * rng.uniform(2, 5), 4.0), light_rad, rng.uniform(0.3, 0.9))
    relief = fractal(rng, size, 14, 1.5, 0.9)
    floor *= np.clip(1 + emboss(relief, light_rad, rng.uniform(0.05, 0.3)), 0.4, 1.8)[..., None]
    soft = cv2.GaussianBlur(stamp.alpha, (0, 0), rng.uniform(0.7, 2.0))
    rim = emboss(soft, light_rad, rng.uniform(0.5, 2.2))
    view += stamp.alpha[..., None] * (floor - view)
    view *= np.clip(1 + rim, 0.15, 1.6)[..., None]
    return full(stamp, shape)


def scaling(rng: Rng, rgb: F32, ring: F64, grain_px: float, light_rad: float) -> F32:
    """Mortar skin lost to frost and salt, in place: sand and fine stones bared, a low rim.

    Returns the coverage.
    """
    shape = (rgb.shape[0], rgb.shape[1])
    stamp = cover([ring], shape)
    if stamp.empty:
        return np.zeros(shape, np.float32)
    size = (stamp.alpha.shape[0], stamp.alpha.shape[1])
    view = rgb[stamp.window]
    floor = view * (np.float32(rng.uniform(0.8, 0.95)) * np.array([1.0, 0.975, 0.93], np.float32))
    if min(size) > 16:
        stones(rng, floor, max(grain_px * 2.2, 3.0), light_rad, 0.55)
    floor *= grains(rng, size, max(grain_px, 1.0), 0.16)[..., None]
    relief = fractal(rng, size, 9, 1.5, 0.9)
    floor *= np.clip(1 + emboss(relief, light_rad, 0.12), 0.5, 1.6)[..., None]
    patchy = np.clip(0.75 + 0.5 * fractal(rng, size, 30, 3), 0.25, 1)
    soft = cv2.GaussianBlur(stamp.alpha, (0, 0), 1.0)
    view += (stamp.alpha * patchy)[..., None] * (floor - view)
    view *= np.clip(1 + emboss(soft, light_rad, 0.5), 0.5, 1.4)[..., None]
    return full(stamp, shape)


def patch_ring(rng: Rng, shape: tuple[int, int], size_px: float) -> F64:
    """Outline of a repair: a box with its own angle, or a trowelled blob."""
    at = rng.uniform(0.1, 0.9, 2) * shape
    a = rng.uniform(0, math.pi)
    c, s = math.cos(a), math.sin(a)
    turn = np.array([[c, s], [-s, c]])
    if rng.random() < 0.5:
        h, w = size_px * rng.uniform(0.3, 1.0), size_px * rng.uniform(0.3, 1.0)
        corners = np.array([[-h, -w], [-h, w], [h, w], [h, -w], [-h, -w]]) / 2
        ring = curves.resample(corners, 5.0)[:-1]
        ring = ring + rng.uniform(0.2, 1.5) * rng.standard_normal(ring.shape) * 0.6
    else:
        n = 60
        t = np.linspace(0, 2 * np.pi, n, endpoint=False)
        r = 1 + 0.25 * curves.fractal_1d(rng, n, 14, 3)
        ring = np.stack([np.cos(t) * r, np.sin(t) * r * rng.uniform(0.4, 1)], axis=1) * size_px / 2
    return np.asarray(ring @ turn + at)


def patch(rng: Rng, rgb: F32, ring: F64, grain_px: float, light_rad: float) -> F32:
    """A patch of other concrete, mortar or asphalt. Returns its coverage."""
    shape = (rgb.shape[0], rgb.shape[1])
    stamp = cover([ring], shape)
    if stamp.empty:
        return np.zeros(shape, np.float32)
    size = (stamp.alpha.shape[0], stamp.alpha.shape[1])
    base = rgb[stamp.window].mean(axis=(0, 1))
    if rng.random() < 0.2:
        level = np.full(3, rng.uniform(0.05, 0.15))
    else:
        level = base * np.exp(rng.normal(0, 0.3)) * (1 + rng.normal(0, 0.04, 3))
    other = np.ones((*size, 3), np.float32) * level.astype(np.float32)
    other *= (1 + rng.uniform(0.02, 0.1) * fractal(rng, size, 60, 2))[..., None]
    other *= grains(rng, size, grain_px, rng.uniform(0.02, 0.2))[..., None]
    if level.mean() < 0.16 and min(size) > 16:
        stones(rng, other, max(grain_px * 2.5, 4), light_rad, 0.6)
    view = rgb[stamp.window]
    a = stamp.alpha if rng.random() < 0.6 else cv2.GaussianBlur(stamp.alpha, (0, 0), rng.uniform(1, 4))
    view += a[..., None] * (np.clip(other, 0.01, 1) - view)
    closed = np.concatenate([ring, ring[:1]])
    line = cover([ribbon(closed, rng.uniform(0.5, 2.0))], shape)
    if rng.random() < 0.7 and not line.empty:
        part = line.alpha * np.clip(
            0.5 + fractal(rng, (line.alpha.shape[0], line.alpha.shape[1]), 40, 3), 0, 1
        )
        gain(rgb, Stamp(line.row, line.col, part), rng.uniform(0.4, 1.1))
    return full(stamp, shape)
