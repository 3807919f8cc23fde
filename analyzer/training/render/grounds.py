"""What is not a concrete slab: ground beside it, and pictures of something else altogether."""

from __future__ import annotations

import math
from collections.abc import Callable

import cv2
import numpy as np

from . import curves
from .noise import F32, Shape, cells, emboss, fractal, lattice, smoothstep, streaks
from .raster import blend, cover, disc, gain, ribbon
from .surface import grains, stones

Rng = np.random.Generator


def _flat(shape: Shape, colour: tuple[float, float, float] | F32) -> F32:
    return np.ones((*shape, 3), np.float32) * np.asarray(colour, np.float32)


def grass(rng: Rng, shape: Shape) -> F32:
    """Lawn, from blades to distant fuzz."""
    rgb = _flat(shape, (0.035, 0.045, 0.015))
    tall = float(np.exp(rng.uniform(math.log(4), math.log(60))))
    dry = rng.uniform(0, 0.8)
    for depth in range(3):
        rings = []
        count = int(min(shape[0] * shape[1] / (tall * max(tall * 0.09, 1.0)) * 0.4, 1600))
        roots = rng.uniform(-0.05, 1.05, (count, 2)) * shape
        heads = rng.uniform(0, 2 * math.pi, count)
        for p, a in zip(roots, heads, strict=True):
            size = tall * rng.uniform(0.5, 1.3)
            mid = p + curves.turned(a) * size / 2
            tip = mid + curves.turned(a + rng.normal(0, 0.4)) * size / 2
            w = max(tall * 0.07, 0.8)
            rings.append(np.stack([p, mid + np.array((0.0, w)), tip, mid - np.array((0.0, w))]))
        green = np.array([0.10, 0.16, 0.04]) * (0.5 + 0.4 * depth)
        straw = np.array([0.33, 0.28, 0.13]) * (0.5 + 0.4 * depth)
        stamp = cover(rings, shape)
        if not stamp.empty:
            size_w = (stamp.alpha.shape[0], stamp.alpha.shape[1])
            mix = np.clip(lattice(rng, size_w, (tall, tall)) * 0.4 + dry, 0, 1)[..., None]
            own = np.exp(0.35 * lattice(rng, size_w, (tall / 3 + 1,) * 2))[..., None]
            blend(rgb, stamp, np.asarray((green + mix * (straw - green)) * own, np.float32))
    rgb *= np.exp(0.3 * fractal(rng, shape, 120, 6))[..., None]
    return np.asarray(np.clip(rgb, 0.005, 1), np.float32)


def gravel(rng: Rng, shape: Shape) -> F32:
    """Loose stones, packed."""
    rgb = _flat(shape, np.float32(rng.uniform(0.15, 0.45)) * np.array([1, 0.95, 0.87], np.float32))
    size = float(np.exp(rng.uniform(math.log(5), math.log(60))))
    light = rng.uniform(0, 6.28)
    stones(rng, rgb, size, light)
    stones(rng, rgb, size * 0.6, light, 0.5)
    rgb *= grains(rng, shape, max(size / 12, 1.0), 0.08)[..., None]
    return rgb


def rubble(rng: Rng, shape: Shape) -> F32:
    """Crushed stone: angular pieces with a lit and a shaded facet, dark gaps between, in layers."""
    light = rng.uniform(0, 2 * math.pi)
    size = float(np.exp(rng.uniform(math.log(6), math.log(75))))
    tone = rng.uniform(0.15, 0.6) * np.array([1, rng.uniform(0.92, 1), rng.uniform(0.8, 1.02)])
    rgb = _flat(shape, (tone * rng.uniform(0.02, 0.25)).astype(np.float32))
    spread, contrast = rng.uniform(0.1, 0.4), rng.uniform(0.15, 0.7)
    for layer in range(int(rng.integers(2, 4))):
        px = size * rng.uniform(0.6, 1.15)
        label, edge = cells(rng, shape, px, rng.uniform(0.05, 0.5), 0.48)
        n = int(label.max()) + 1
        there = rng.random(n) < (1.0 if layer == 0 else rng.uniform(0.35, 0.7))
        gap = np.abs(rng.normal(0, 0.07, n)).astype(np.float32) * np.float32(px) + 0.4
        depth = edge - gap[label]
        inside = np.clip(depth + 0.5, 0, 1) * there[label]
        facet = rng.normal(0, 1, (n, 2)).astype(np.float32)
        facing = facet @ np.array([math.cos(light), math.sin(light)], np.float32)
        rise = emboss(np.minimum(np.maximum(depth, 0), np.float32(0.3 * px)), light, -0.5)
        level = np.exp(rng.normal(0, spread, n)).astype(np.float32)[label]
        level *= np.clip(1 + contrast * (0.35 * np.tanh(facing)[label] + rise), 0.25, 2.0)
        hue = 1 + rng.normal(0, rng.uniform(0.005, 0.06), (n, 3)).astype(np.float32)
        colour = (tone.astype(np.float32) * hue)[label] * level[..., None]
        shade = cv2.GaussianBlur(np.asarray(inside, np.float32), (0, 0), max(0.12 * px, 0.8))
        rgb *= (1 - rng.uniform(0.3, 0.8) * shade * (1 - inside))[..., None]
        rgb += inside[..., None] * (colour - rgb)
    rgb *= grains(rng, shape, max(size / 14, 1.0), rng.uniform(0.04, 0.14))[..., None]
    return np.asarray(np.clip(rgb, 0.004, 1), np.float32)


def soil(rng: Rng, shape: Shape) -> F32:
    """Bare earth or mulch, sometimes with drying cracks' look-alike crumbs."""
    rgb = _flat(shape, (0.11, 0.08, 0.055)) * np.float32(rng.uniform(0.5, 2.2))
    h = fractal(rng, shape, rng.uniform(20, 90), 1.5, 0.95)
    rgb *= np.clip(1 + emboss(h, rng.uniform(0, 6.28), rng.uniform(0.3, 1.0)), 0.2, 2.5)[..., None]
    rgb *= grains(rng, shape, rng.uniform(1, 3), 0.15)[..., None]
    if rng.random() < 0.4:
        rings = []
        for _ in range(250):
            line = curves.turned(rng.uniform(0, 6.28)) * rng.uniform(5, 40)
            p = rng.uniform(0, 1, 2) * shape
            rings.append(ribbon(np.stack([p, p + line]), rng.uniform(1.5, 7)))
        blend(rgb, cover(rings, shape), np.array([0.13, 0.075, 0.04]) * rng.uniform(0.5, 2), 0.8)
    return np.asarray(np.clip(rgb, 0.005, 1), np.float32)


def brick(rng: Rng, shape: Shape) -> F32:
    """Brick wall or block paving: bond, mortar or sand joints."""
    rows, cols = shape
    h = rng.uniform(16, 130)
    w = h * rng.choice([1.0, 2.0, 2.1, 3.0])
    gap = max(rng.uniform(0.02, 0.16) * h, 0.8)
    r, c = np.mgrid[0:rows, 0:cols].astype(np.float32)
    a = np.float32(rng.choice([0.0, math.pi / 2, math.pi / 4]) + rng.normal(0, 0.06))
    y = r * np.cos(a) + c * np.sin(a) + lattice(rng, shape, (h, h)) * np.float32(0.02 * h) + 3000
    x = c * np.cos(a) - r * np.sin(a) + lattice(rng, shape, (h, h)) * np.float32(0.02 * h) + 3000
    i = (y / np.float32(h)).astype(np.int32)
    shift = (i % 2) * np.float32(0.5 if rng.random() < 0.8 else 0.0)
    xs = x / np.float32(w) + shift
    j = xs.astype(np.int32)
    v = np.minimum(y - i * np.float32(h), (i + 1) * np.float32(h) - y)
    u = np.minimum(xs - j, j + 1 - xs) * np.float32(w)
    edge = np.minimum(u, v)
    own = ((i * 7919 + j * 104729) % 997).astype(np.int32)
    palette = np.exp(rng.normal(0, rng.uniform(0.05, 0.3), (997, 1))) * (1 + rng.normal(0, 0.05, (997, 3)))
    colours = [(0.30, 0.11, 0.07), (0.35, 0.33, 0.30), (0.40, 0.28, 0.18), (0.22, 0.10, 0.07)]
    rgb = (palette[own] * np.array(colours[int(rng.integers(4))])).astype(np.float32)
    rgb *= grains(rng, shape, rng.uniform(1, 3), 0.08)[..., None]
    rgb *= (1 + 0.08 * fractal(rng, shape, 40, 2))[..., None]
    mortar = np.clip(gap / 2 + 0.5 - edge, 0, 1)[..., None]
    ground = np.array([0.4, 0.38, 0.34]) * rng.uniform(0.1, 1.3)
    rgb += mortar * (ground.astype(np.float32) * (1 + 0.1 * fractal(rng, shape, 6, 1.5))[..., None] - rgb)
    dome = np.minimum(edge, np.float32(gap + 2))
    rgb *= 1 + emboss(dome, rng.uniform(0, 6.28), -0.12)[..., None]
    return np.asarray(np.clip(rgb, 0.005, 1), np.float32)


def tiles(rng: Rng, shape: Shape) -> F32:
    """Floor tiles: smooth squares with thin straight grout."""
    rgb = brick(rng, shape)
    return np.asarray(0.35 * rgb + 0.65 * cv2.GaussianBlur(rgb, (0, 0), 1.5), np.float32)


def asphalt(rng: Rng, shape: Shape) -> F32:
    """Asphalt: dark binder with pale stones."""
    level = rng.uniform(0.06, 0.22)
    rgb = _flat(shape, (level, level * 0.98, level * 0.95))
    rgb *= (1 + 0.08 * fractal(rng, shape, 120, 4))[..., None]
    size = float(np.exp(rng.uniform(math.log(3.5), math.log(16))))
    light = rng.uniform(0, 6.28)
    if rng.random() < 0.5:  # worn: stones bare, dust between them
        dust = np.array([1.25, 1.1, 0.9]) * rng.uniform(0.8, 2.2)
        rgb *= dust.astype(np.float32)
        size = float(np.exp(rng.uniform(math.log(4), math.log(34))))
    stones(rng, rgb, size, light, rng.uniform(0.4, 0.95))
    relief = fractal(rng, shape, size, 1.5, 0.9)
    rgb *= np.clip(1 + emboss(relief, light, rng.uniform(0.0, 0.25)), 0.4, 1.8)[..., None]
    rgb *= grains(rng, shape, rng.uniform(1, 2.5), rng.uniform(0.1, 0.3))[..., None]
    return np.asarray(np.clip(rgb, 0.005, 1), np.float32)


def wood(rng: Rng, shape: Shape) -> F32:
    """Deck boards: grain, gaps, screws."""
    rows, cols = shape
    a = rng.choice([0.0, math.pi / 2]) + rng.normal(0, 0.1)
    board = rng.uniform(40, 200)
    base = np.array([0.35, 0.22, 0.12]) if rng.random() < 0.6 else np.array([0.3, 0.29, 0.27])
    rgb = _flat(shape, (base * rng.uniform(0.5, 1.4)).astype(np.float32))
    rgb *= np.exp(0.18 * streaks(rng, shape, board / 8, board * 5, a, 4))[..., None]
    r, c = np.mgrid[0:rows, 0:cols].astype(np.float32)
    s = c * np.float32(math.cos(a)) - r * np.float32(math.sin(a)) + 3000
    k = (s / board).astype(np.int32)
    edge = np.minimum(s - k * board, (k + 1) * board - s)
    rgb *= (1 + rng.normal(0, 0.12, 400).astype(np.float32)[k % 400])[..., None]
    gap = np.clip(rng.uniform(1, 8) / 2 + 0.5 - edge, 0, 1)[..., None]
    rgb += gap * (np.float32(0.015) - rgb)
    return np.asarray(np.clip(rgb, 0.005, 1), np.float32)


def drawing(rng: Rng, shape: Shape) -> F32:
    """A line drawing or plan on paper."""
    rgb = _flat(shape, np.float32(rng.uniform(0.6, 0.9)) * np.array([1, 0.99, 0.96], np.float32))
    rings = []
    for _ in range(int(rng.integers(8, 40))):
        p = rng.uniform(0, 1, 2) * shape
        a = rng.choice([0, math.pi / 2]) if rng.random() < 0.6 else rng.uniform(0, 6.28)
        if rng.random() < 0.2:
            line = disc((p[0], p[1]), rng.uniform(8, 120), 60)
        else:
            line = curves.smooth_curve(rng, rng.uniform(30, 450), float(a), rng.choice([0.0, 0.0, 0.8])) + p
        rings.append(ribbon(line, rng.uniform(0.7, 3.5)))
    blend(rgb, cover(rings, shape), rng.uniform(0, 0.15, 3))
    return rgb


def screen(rng: Rng, shape: Shape) -> F32:
    """A screenshot: panels, text, buttons."""
    dark = rng.random() < 0.4
    rgb = _flat(
        shape, np.float32(rng.uniform(0.01, 0.05) if dark else rng.uniform(0.8, 1.0)) * np.ones(3, np.float32)
    )
    for _ in range(int(rng.integers(2, 9))):
        r, c = rng.integers(0, shape[0]), rng.integers(0, shape[1])
        h, w = rng.integers(10, shape[0] // 2 + 11), rng.integers(10, shape[1] // 2 + 11)
        rgb[r : r + h, c : c + w] = rng.uniform(0, 1, 3)
    canvas = np.clip(rgb * 255, 0, 255).astype(np.uint8)  # OpenCV 5 writes text on bytes only
    words = [
        "lorem",
        "ipsum",
        "dolor",
        "0123",
        "sit",
        "amet",
        "45.6",
        "consectetur",
        "%",
        "adipiscing",
        "elit",
        "sed",
        "789",
    ]
    for _ in range(int(rng.integers(8, 40))):
        text = " ".join(rng.choice(words, int(rng.integers(1, 7))))
        ink = 255 * (rng.uniform(0.5, 1, 3) if dark else rng.uniform(0, 0.3, 3))
        at = (int(rng.integers(-20, shape[1])), int(rng.integers(0, shape[0])))
        scale = float(rng.uniform(0.3, 1.5))
        thickness = 1 + int(scale > 0.9)
        cv2.putText(
            canvas, text, at, int(rng.integers(0, 4)), scale, tuple(map(float, ink)), thickness, cv2.LINE_AA
        )
    return np.asarray(canvas, np.float32) / np.float32(255)


def plants(rng: Rng, shape: Shape) -> F32:
    """Shrubs and fallen foliage: overlapping leaf shapes."""
    from .objects import leaf_ring

    rgb = _flat(shape, (0.02, 0.025, 0.012))
    size = rng.uniform(14, 90)
    hue = np.array([0.10, 0.17, 0.05]) if rng.random() < 0.6 else np.array([0.3, 0.17, 0.07])
    for _ in range(int(min(3.0 * shape[0] * shape[1] / size**2, 500))):
        ring = leaf_ring(rng, size * rng.uniform(0.6, 1.3)) + rng.uniform(0, 1, 2) * shape
        stamp = cover([ring], shape)
        blend(rgb, stamp, hue * rng.uniform(0.3, 1.8) * (1 + rng.normal(0, 0.15, 3)))
    rgb *= np.exp(0.2 * fractal(rng, shape, 30, 2))[..., None]
    return np.asarray(np.clip(rgb, 0.003, 1), np.float32)


def smooth(rng: Rng, shape: Shape) -> F32:
    """Sky, skin, cloth, painted wall: soft gradients without much texture."""
    a, b = rng.uniform(0.03, 0.9, 3), rng.uniform(0.03, 0.9, 3)
    f = np.clip(0.5 + 0.3 * lattice(rng, shape, (max(shape) * rng.uniform(0.2, 0.8),) * 2), 0, 1)
    rgb = (a + f[..., None] * (b - a)).astype(np.float32)
    for _ in range(int(rng.integers(0, 8))):
        ring = disc((0, 0), rng.uniform(5, 120), 30) * rng.uniform(0.4, 1.5, 2) + rng.uniform(0, 1, 2) * shape
        stamp = cover([ring], shape)
        gain(rgb, stamp, rng.uniform(0.3, 1.7, 3))
    rgb *= (1 + rng.uniform(0, 0.03) * fractal(rng, shape, 20, 1.5))[..., None]
    return np.asarray(np.clip(cv2.GaussianBlur(rgb, (0, 0), rng.uniform(0.5, 3)), 0.003, 1), np.float32)


def mud(rng: Rng, shape: Shape) -> F32:
    """Dappled weathered stone, plaster or mud without a slab's finish."""
    base = rng.uniform(0.1, 0.5) * np.array([1, rng.uniform(0.8, 1), rng.uniform(0.6, 1)])
    f = fractal(rng, shape, 200, 1.5, 0.8)
    rgb = (base * np.exp(0.25 * f)[..., None]).astype(np.float32)
    mask = smoothstep(fractal(rng, shape, 80, 2), 0.2, 0.5)[..., None]
    rgb *= 1 + mask * np.float32(rng.uniform(-0.4, 0.4))
    label, _ = cells(rng, shape, rng.uniform(20, 90), 0.5)
    rgb *= np.exp(rng.normal(0, 0.08, int(label.max()) + 1).astype(np.float32)[label])[..., None]
    return np.asarray(np.clip(rgb, 0.005, 1), np.float32)


GROUNDS: dict[str, Callable[[Rng, Shape], F32]] = {
    "grass": grass, "gravel": gravel, "soil": soil, "brick": brick, "tiles": tiles,
    "asphalt": asphalt, "wood": wood, "drawing": drawing, "screen": screen, "plants": plants,
    "smooth": smooth, "mud": mud, "rubble": rubble,
}  # fmt: skip
SHARES = (0.1, 0.07, 0.06, 0.13, 0.1, 0.06, 0.07, 0.05, 0.04, 0.06, 0.04, 0.06, 0.16)
"""How often each ground is drawn as a picture that shows no slab."""
BESIDE = ("grass", "gravel", "rubble", "soil", "brick", "asphalt", "wood", "plants")
"""Grounds that a slab's edge may adjoin."""
