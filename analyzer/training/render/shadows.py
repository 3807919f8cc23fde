"""Shadows as a gain picture: 1 in the sun, the ambient share in full shade."""

from __future__ import annotations

import math
from collections.abc import Callable

import cv2
import numpy as np

from . import curves
from .noise import F32, Shape, fractal, smoothstep
from .raster import F64, cover, disc, full, ribbon

Rng = np.random.Generator


def wall(rng: Rng, shape: Shape) -> F32:
    """A half-plane: house or wall; sometimes with a corner."""
    size = max(shape)
    p = rng.uniform(0.1, 0.9, 2) * shape
    a = rng.uniform(0, 2 * math.pi)
    b = a + (math.pi if rng.random() < 0.6 else rng.uniform(1.2, 2.4))
    far = size * 4
    mid = (a + b) / 2
    ring = np.stack([
        p, p + curves.turned(a) * far, p + (curves.turned(a) + curves.turned(mid)) * far,
        p + (curves.turned(b) + curves.turned(mid)) * far, p + curves.turned(b) * far,
    ])  # fmt: skip
    return full(cover([ring], shape), shape)


def fence(rng: Rng, shape: Shape) -> F32:
    """Parallel bars, perhaps with rails across."""
    size = max(shape) * 1.5
    a = rng.uniform(0, math.pi)
    along, across = curves.turned(a), curves.turned(a + math.pi / 2 + rng.normal(0, 0.2))
    pitch = float(np.exp(rng.uniform(math.log(14), math.log(160))))
    thick = pitch * rng.uniform(0.08, 0.7)
    mid = np.array(shape) / 2
    rings: list[F64] = []
    n = min(int(size / pitch) + 1, 40)
    for k in range(-n, n + 1):
        p = mid + across * (k * pitch + rng.normal(0, 0.3))
        rings.append(ribbon(np.stack([p - along * size, p + along * size]), thick))
    if rng.random() < 0.5:
        for k in (-1, 1):
            p = mid + along * (k * size * rng.uniform(0.05, 0.4))
            rings.append(ribbon(np.stack([p - across * size, p + across * size]), thick * 1.3))
    return full(cover(rings, shape), shape)


def _limb(rng: Rng, start: F64, heading: float, size: float, thick: float, out: list[F64]) -> None:
    line = curves.walk(rng, size, heading, 0.4, 0.25, 40.0, 0.0, 4.0) + start
    out.append(ribbon(line, np.linspace(thick, thick * 0.45, len(line))))
    if thick < 1.6 or len(out) > 90:
        return
    for _ in range(int(rng.integers(2, 5))):
        i = int(rng.integers(len(line) // 4, len(line)))
        _limb(
            rng, line[i], heading + rng.choice([-1, 1]) * rng.uniform(0.3, 1.0),
            size * rng.uniform(0.4, 0.75), thick * rng.uniform(0.4, 0.7), out,
        )  # fmt: skip


def branches(rng: Rng, shape: Shape) -> F32:
    """A bare tree."""
    out: list[F64] = []
    size = max(shape)
    side = rng.uniform(0, 2 * math.pi)
    start = np.array(shape) / 2 - curves.turned(side) * size * 0.75
    _limb(rng, start, side + rng.normal(0, 0.3), size * rng.uniform(0.5, 1.2), rng.uniform(3, 26), out)
    return full(cover(out, shape), shape)


def foliage(rng: Rng, shape: Shape) -> F32:
    """Dappled light through leaves."""
    f = fractal(rng, shape, rng.uniform(30, 140), rng.uniform(3, 9), rng.uniform(0.6, 0.95))
    level = rng.uniform(-0.7, 0.7)
    return smoothstep(f, level, level + rng.uniform(0.15, 0.8))


def person(rng: Rng, shape: Shape) -> F32:
    """Head, trunk and legs, long in a low sun."""
    size = max(shape) * rng.uniform(0.3, 1.1)
    a = rng.uniform(0, 2 * math.pi)
    d, n = curves.turned(a), curves.turned(a + math.pi / 2)
    p = rng.uniform(0.1, 0.9, 2) * shape
    w = size * rng.uniform(0.09, 0.16)
    body = np.stack([p, p + d * size * 0.3, p + d * size * 0.45])
    rings = [disc(tuple(p - d * w * 1.1), w * 0.75, 24), ribbon(body, np.array([w * 1.6, w * 2.2, w * 1.5]))]
    for s in (-1, 1):
        leg = np.stack(
            [p + d * size * 0.4 + n * s * w * 0.5, p + d * size + n * s * w * rng.uniform(0.4, 1.2)]
        )
        rings.append(ribbon(leg, w * 0.8))
        arm = np.stack(
            [p + d * size * 0.05 + n * s * w, p + d * size * 0.45 + n * s * w * rng.uniform(1.2, 2)]
        )
        rings.append(ribbon(arm, w * 0.5))
    return full(cover(rings, shape), shape)


def wire(rng: Rng, shape: Shape) -> F32:
    """Thin lines: wires, ropes, a pole."""
    rings = []
    for _ in range(int(rng.integers(1, 4))):
        a = rng.uniform(0, math.pi)
        line = curves.smooth_curve(rng, max(shape) * 3, a, rng.uniform(0, 0.25), 12.0)
        line = line - line[len(line) // 2] + rng.uniform(0, 1, 2) * shape
        rings.append(ribbon(line, rng.uniform(1.2, 14)))
    return full(cover(rings, shape), shape)


SHADOWS: dict[str, Callable[[Rng, Shape], F32]] = {
    "wall": wall, "fence": fence, "branches": branches, "foliage": foliage, "person": person,
    "wire": wire,
}  # fmt: skip


def cast(rng: Rng, shape: Shape, kind: str | None = None) -> F32:
    """Gain picture (rows, cols, 3) of one shadow of a kind from `SHADOWS` (drawn when None)."""
    if kind is None:
        kind = str(rng.choice(list(SHADOWS), p=[0.25, 0.16, 0.2, 0.2, 0.07, 0.12]))
    dark = SHADOWS[kind](rng, shape)
    soft = float(np.exp(rng.uniform(math.log(0.4), math.log(9))))
    dark = cv2.GaussianBlur(dark, (0, 0), soft)
    ambient = rng.uniform(0.22, 0.75)
    sky = np.array([rng.uniform(0.85, 1.0), rng.uniform(0.93, 1.0), rng.uniform(1.0, 1.2)]) * ambient
    return np.asarray(1 + dark[..., None] * (sky - 1), np.float32)
