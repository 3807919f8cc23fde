"""Marks on a slab that are neither crack nor joint; each draws into the picture in place."""

from __future__ import annotations

import math
from collections.abc import Callable

import cv2
import numpy as np

from . import curves
from .noise import F32, cells, fractal, lattice, smoothstep, streaks
from .raster import Stamp, blend, cover, disc, gain, ribbon

Rng = np.random.Generator


def _blob(rng: Rng, shape: tuple[int, int], soft: float, size: float | None = None) -> F32:
    """One irregular blob 0..1 somewhere in the picture."""
    rows, cols = shape
    big = max(rows, cols) * (size if size is not None else rng.uniform(0.06, 0.4))
    r = np.arange(rows, dtype=np.float32)[:, None] - np.float32(rng.uniform(0, rows))
    c = np.arange(cols, dtype=np.float32)[None, :] - np.float32(rng.uniform(0, cols))
    t, k = rng.uniform(0, math.pi), rng.uniform(1.0, 2.2)
    u = (r * np.float32(math.cos(t)) + c * np.float32(math.sin(t))) / np.float32(k)
    v = c * np.float32(math.cos(t)) - r * np.float32(math.sin(t))
    d = np.sqrt(u * u + v * v) / np.float32(big)
    edge = fractal(rng, shape, big * 0.8, max(3.0, soft), rng.uniform(0.45, 0.75))
    return smoothstep(1 - d + edge * np.float32(rng.uniform(0.1, 0.3)), 0.0, soft / big + 0.02)


def blob(rng: Rng, rgb: F32, light_rad: float) -> None:
    """A dark or pale area with soft borders."""
    shape = (rgb.shape[0], rgb.shape[1])
    a = _blob(rng, shape, rng.uniform(2, 30)) * np.float32(rng.uniform(0.08, 0.5))
    factor = np.array([1.0, rng.uniform(0.9, 1.0), rng.uniform(0.8, 1.0)]) * rng.uniform(0.45, 0.9)
    if rng.random() < 0.25:
        factor = np.full(3, rng.uniform(1.1, 1.6))
    gain(rgb, Stamp(0, 0, a), factor)


def wet(rng: Rng, rgb: F32, light_rad: float) -> None:
    """Wet area: darker, border sharp, sometimes darkest along the border (a dried ring)."""
    shape = (rgb.shape[0], rgb.shape[1])
    a = _blob(rng, shape, rng.uniform(1.0, 6))
    if rng.random() < 0.5:
        ring = a * (1 - a) * 4
        gain(rgb, Stamp(0, 0, np.clip(ring, 0, 1).astype(np.float32)), rng.uniform(0.6, 0.95))
        a = a * np.float32(rng.uniform(0.0, 0.6))
    gain(rgb, Stamp(0, 0, a), rng.uniform(0.35, 0.8))


def rust(rng: Rng, rgb: F32, light_rad: float) -> None:
    """Rust bleeding from a point or streak."""
    shape = (rgb.shape[0], rgb.shape[1])
    a = _blob(rng, shape, rng.uniform(4, 25), rng.uniform(0.02, 0.2))
    a = a * np.clip(0.6 + 0.5 * fractal(rng, shape, 40, 2), 0, 1)
    gain(rgb, Stamp(0, 0, a * np.float32(rng.uniform(0.3, 1))), (0.75, 0.45, 0.22))


def drip(rng: Rng, rgb: F32, light_rad: float) -> None:
    """Run-off streaks of dirt or lime."""
    shape = (rgb.shape[0], rgb.shape[1])
    angle = rng.normal(0, 0.08) + (rng.random() < 0.4) * math.pi / 2
    f = streaks(rng, shape, rng.uniform(6, 40), rng.uniform(150, 500), angle, 3)
    a = smoothstep(f, rng.uniform(0.2, 1.0), 2.2)
    factor = np.full(3, rng.uniform(1.1, 1.8)) if rng.random() < 0.35 else (
        np.array([1.0, 0.95, 0.85]) * rng.uniform(0.4, 0.85))  # fmt: skip
    gain(rgb, Stamp(0, 0, a * np.float32(rng.uniform(0.2, 0.9))), factor)


def oil(rng: Rng, rgb: F32, light_rad: float) -> None:
    """Oil drops: dark spots, the large ones with a paler fringe."""
    shape = (rgb.shape[0], rgb.shape[1])
    rings = []
    middle = rng.uniform(0, 1, 2) * shape
    for _ in range(int(rng.integers(1, 14))):
        r = float(np.exp(rng.uniform(math.log(2), math.log(40))))
        wobble = 1 + 0.12 * rng.standard_normal((28, 1))
        rings.append(disc((0, 0), r, 28) * wobble + middle + rng.normal(0, 70, 2))
    stamp = cover(rings, shape)
    if stamp.empty:
        return
    soft = cv2.GaussianBlur(stamp.alpha, (0, 0), rng.uniform(0.8, 4))
    gain(rgb, Stamp(stamp.row, stamp.col, soft), np.array([1, 0.97, 0.92]) * rng.uniform(0.15, 0.6))


def moss(rng: Rng, rgb: F32, light_rad: float) -> None:
    """Black-green growth in speckled areas."""
    shape = (rgb.shape[0], rgb.shape[1])
    a = smoothstep(fractal(rng, shape, 160, 4), rng.uniform(0.0, 1.0), 1.8)
    speck = smoothstep(fractal(rng, shape, 9, 1.3, 0.9), rng.uniform(-0.4, 0.6), 1.0)
    colour = np.array([0.75, 0.9, 0.45]) if rng.random() < 0.5 else np.array([0.8, 0.82, 0.75])
    gain(rgb, Stamp(0, 0, a * speck), colour * rng.uniform(0.2, 0.75))


def tyre(rng: Rng, rgb: F32, light_rad: float) -> None:
    """Tyre marks: one or two broad smooth bands with a tread."""
    shape = (rgb.shape[0], rgb.shape[1])
    size = max(shape)
    line = curves.smooth_curve(rng, size * 2.4, rng.uniform(0, 2 * math.pi), 0.5)
    line = line - line[len(line) // 2] + rng.uniform(0.1, 0.9, 2) * shape
    width = rng.uniform(15, 110)
    for k in range(int(rng.integers(1, 3))):
        stamp = cover([ribbon(line, width, k * rng.uniform(1.2, 5) * width)], shape)
        if stamp.empty:
            continue
        size_w = (stamp.alpha.shape[0], stamp.alpha.shape[1])
        soft = cv2.GaussianBlur(stamp.alpha, (0, 0), rng.uniform(1, 8))
        tread = np.clip(0.6 + 0.5 * fractal(rng, size_w, 30, 2), 0, 1)
        gain(rgb, Stamp(stamp.row, stamp.col, soft * tread), rng.uniform(0.5, 0.92))


def paint(rng: Rng, rgb: F32, light_rad: float) -> None:
    """Paint: a worn line, or drops and splashes."""
    shape = (rgb.shape[0], rgb.shape[1])
    colours = [(0.8, 0.8, 0.78), (0.75, 0.5, 0.05), (0.08, 0.15, 0.45), (0.5, 0.06, 0.05),
               (0.85, 0.4, 0.05), (0.1, 0.4, 0.15)]  # fmt: skip
    colour = np.array(colours[int(rng.choice(6, p=[0.4, 0.2, 0.1, 0.1, 0.12, 0.08]))])
    if rng.random() < 0.6:
        p = rng.uniform(0, 1, 2) * shape
        d = curves.turned(rng.uniform(0, math.pi)) * max(shape) * rng.uniform(0.3, 2)
        rings = [ribbon(np.stack([p - d, p + d]), rng.uniform(4, 60))]
    else:
        rings = []
        for _ in range(int(rng.integers(2, 40))):
            r = float(np.exp(rng.uniform(0, math.log(14))))
            rings.append(disc((0, 0), r, 16) * rng.uniform(0.7, 1.3, (16, 1)) + rng.uniform(0, 1, 2) * shape)
    stamp = cover(rings, shape)
    if stamp.empty:
        return
    size = (stamp.alpha.shape[0], stamp.alpha.shape[1])
    worn = smoothstep(fractal(rng, size, 30, 1.5, 0.85), rng.uniform(-2.5, 0.3), 1.0)
    a = stamp.alpha * (1 - worn * np.float32(rng.uniform(0.3, 1)))
    shade = rgb[stamp.window].mean(axis=2, keepdims=True)
    shade = 0.6 + 0.4 * shade / max(float(shade.mean()), 1e-3)
    blend(rgb, Stamp(stamp.row, stamp.col, a), (colour * shade).astype(np.float32), rng.uniform(0.5, 1))


def chalk(rng: Rng, rgb: F32, light_rad: float) -> None:
    """Chalk and crayon strokes: pale or coloured, broken by the surface's grain."""
    shape = (rgb.shape[0], rgb.shape[1])
    rings = []
    for _ in range(int(rng.integers(1, 5))):
        line = curves.smooth_curve(rng, rng.uniform(60, 500), rng.uniform(0, 6.28), rng.uniform(0, 1.6))
        rings.append(ribbon(line + rng.uniform(0, 1, 2) * shape, rng.uniform(1.5, 8)))
    stamp = cover(rings, shape)
    if stamp.empty:
        return
    size = (stamp.alpha.shape[0], stamp.alpha.shape[1])
    broken = smoothstep(fractal(rng, size, 6, 1.2, 0.9), rng.uniform(-1.5, 0.3), 0.8)
    colour = np.array([0.8, 0.8, 0.8]) if rng.random() < 0.6 else rng.uniform(0.15, 0.8, 3)
    blend(rgb, Stamp(stamp.row, stamp.col, stamp.alpha * broken), colour, rng.uniform(0.3, 0.9))


def scratches(rng: Rng, rgb: F32, light_rad: float) -> None:
    """Thin straight or slightly curved scratches, mostly pale."""
    shape = (rgb.shape[0], rgb.shape[1])
    rings = []
    heading = rng.uniform(0, math.pi)
    for _ in range(int(rng.integers(1, 12))):
        line = curves.smooth_curve(rng, rng.uniform(20, 300), heading + rng.normal(0, 0.3), 0.08)
        taper = np.sin(np.linspace(0.1, math.pi - 0.1, len(line)))
        rings.append(ribbon(line + rng.uniform(0, 1, 2) * shape, rng.uniform(0.4, 1.8) * taper))
    factor = rng.uniform(1.1, 1.6) if rng.random() < 0.75 else rng.uniform(0.6, 0.9)
    stamp = cover(rings, shape)
    if not stamp.empty:
        size = (stamp.alpha.shape[0], stamp.alpha.shape[1])
        broken = np.clip(0.7 + 0.6 * lattice(rng, size, (10.0, 10.0)), 0, 1)
        gain(rgb, Stamp(stamp.row, stamp.col, stamp.alpha * broken), factor)


def efflorescence(rng: Rng, rgb: F32, light_rad: float) -> None:
    """White salts in cloudy crusts."""
    shape = (rgb.shape[0], rgb.shape[1])
    a = _blob(rng, shape, rng.uniform(5, 40))
    crust = smoothstep(fractal(rng, shape, 40, 1.5, 0.85), rng.uniform(-0.5, 0.8), 1.6)
    blend(rgb, Stamp(0, 0, a * crust), (0.75, 0.75, 0.73), rng.uniform(0.2, 0.8))


def gum(rng: Rng, rgb: F32, light_rad: float) -> None:
    """Flattened round dark spots."""
    shape = (rgb.shape[0], rgb.shape[1])
    rings = []
    r = rng.uniform(2, 14)
    for _ in range(int(rng.integers(1, 12))):
        ring = disc((0, 0), r * rng.uniform(0.6, 1.3), 18) * rng.uniform(0.85, 1.15, (18, 1))
        rings.append(ring + rng.uniform(0, 1, 2) * shape)
    blend(rgb, cover(rings, shape), np.full(3, rng.uniform(0.05, 0.2)), rng.uniform(0.4, 0.9))


def leaf_print(rng: Rng, rgb: F32, light_rad: float) -> None:
    """Brown prints that wet leaves left behind."""
    from .objects import leaf_ring

    shape = (rgb.shape[0], rgb.shape[1])
    rings = [
        leaf_ring(rng, rng.uniform(15, 80)) + rng.uniform(0, 1, 2) * shape
        for _ in range(int(rng.integers(1, 7)))
    ]
    stamp = cover(rings, shape)
    if not stamp.empty:
        soft = cv2.GaussianBlur(stamp.alpha, (0, 0), rng.uniform(0.7, 3))
        gain(rgb, Stamp(stamp.row, stamp.col, soft), np.array([0.85, 0.72, 0.55]) * rng.uniform(0.7, 1))


def mottle(rng: Rng, rgb: F32, light_rad: float) -> None:
    """Uneven curing: net-like dark and pale cells without any open line."""
    shape = (rgb.shape[0], rgb.shape[1])
    size = rng.uniform(20, 120)
    label, edge = cells(rng, shape, size, 0.5)
    own = rng.normal(0, rng.uniform(0.01, 0.05), int(label.max()) + 1).astype(np.float32)[label]
    soft = cv2.GaussianBlur(own, (0, 0), size * 0.12)
    ring = np.exp(-edge / np.float32(size * 0.12)) * np.float32(rng.uniform(-0.06, 0.05))
    rgb *= (1 + soft + cv2.GaussianBlur(ring, (0, 0), 2.0))[..., None]


STAINS: dict[str, Callable[[Rng, F32, float], None]] = {
    "blob": blob, "wet": wet, "rust": rust, "drip": drip, "oil": oil, "moss": moss, "tyre": tyre,
    "paint": paint, "chalk": chalk, "scratches": scratches, "efflorescence": efflorescence,
    "gum": gum, "leaf_print": leaf_print, "mottle": mottle,
}  # fmt: skip
