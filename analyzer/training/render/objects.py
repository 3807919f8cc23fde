"""Things that lie on a slab or are set in it. Each returns the coverage of what it hides."""

from __future__ import annotations

import math
from collections.abc import Callable

import cv2
import numpy as np

from . import curves
from .curves import F64
from .noise import F32, fractal
from .raster import Stamp, blend, cover, disc, full, gain, ribbon

Rng = np.random.Generator


def leaf_ring(rng: Rng, size: float) -> F64:
    """Outline of a leaf of a length, centred at the origin, turned at random."""
    n = 40
    t = np.linspace(0, 2 * np.pi, n, endpoint=False)
    slim = rng.uniform(0.22, 0.5)
    r = np.stack([np.cos(t), slim * np.sin(t) * (1 + 0.3 * np.cos(t))], axis=1) * size / 2
    lobes = int(rng.integers(0, 8))
    if lobes > 3:
        r *= (1 + rng.uniform(0.1, 0.35) * np.cos(lobes * t))[:, None]
    r *= 1 + 0.04 * rng.standard_normal((n, 1))
    a = rng.uniform(0, 2 * math.pi)
    turn = np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]])
    return np.asarray(r @ turn.T)


def drop_shadow(rgb: F32, stamp: Stamp, light_rad: float, height_px: float, dark: float) -> None:
    """Darkens beside a thing, away from the light."""
    if stamp.empty:
        return
    pad = int(height_px * 2 + 4)
    a = cv2.copyMakeBorder(stamp.alpha, pad, pad, pad, pad, cv2.BORDER_CONSTANT, value=0.0)
    m = np.array([[1, 0, math.sin(light_rad) * height_px], [0, 1, math.cos(light_rad) * height_px]])
    a = cv2.GaussianBlur(cv2.warpAffine(a, m, (a.shape[1], a.shape[0])), (0, 0), 0.5 + height_px * 0.3)
    r0, c0 = stamp.row - pad, stamp.col - pad
    rows, cols = rgb.shape[:2]
    r1, c1 = min(r0 + a.shape[0], rows), min(c0 + a.shape[1], cols)
    rs, cs = max(-r0, 0), max(-c0, 0)
    a = a[rs : r1 - r0, cs : c1 - c0]
    gain(rgb, Stamp(max(r0, 0), max(c0, 0), np.ascontiguousarray(a)), 1 - dark)


def _place(rng: Rng, shape: tuple[int, int]) -> F64:
    return np.asarray(rng.uniform(-0.05, 1.05, 2) * shape)


def _lay(
    rng: Rng, rgb: F32, rings: list[F64], colour: F32 | F64, light_rad: float, height: float,
    texture: float = 0.25,
) -> F32:  # fmt: skip
    shape = (rgb.shape[0], rgb.shape[1])
    stamp = cover(rings, shape)
    if stamp.empty:
        return np.zeros(shape, np.float32)
    drop_shadow(rgb, stamp, light_rad, height, rng.uniform(0.15, 0.6))
    size = (stamp.alpha.shape[0], stamp.alpha.shape[1])
    field = fractal(rng, size, 12, 1.5) * np.float32(texture)
    painted = np.asarray(colour, np.float32) * (1 + field[..., None])
    blend(rgb, stamp, np.clip(painted, 0.005, 1))
    return full(stamp, shape)


_LEAF_COLOURS = np.array([
    [0.30, 0.16, 0.06], [0.42, 0.27, 0.08], [0.22, 0.10, 0.05], [0.10, 0.16, 0.04],
    [0.45, 0.36, 0.12], [0.35, 0.09, 0.05], [0.16, 0.12, 0.08],
])  # fmt: skip


def leaves(rng: Rng, rgb: F32, light_rad: float) -> F32:
    """A few fallen leaves with midrib and stem."""
    out = np.zeros(rgb.shape[:2], np.float32)
    size = float(np.exp(rng.uniform(math.log(8), math.log(130))))
    shape = (rgb.shape[0], rgb.shape[1])
    for _ in range(int(rng.integers(1, 7 if size > 40 else 16))):
        ring = leaf_ring(rng, size * rng.uniform(0.6, 1.3))
        at = _place(rng, shape)
        colour = _LEAF_COLOURS[int(rng.integers(len(_LEAF_COLOURS)))] * rng.uniform(0.6, 1.5)
        out = np.maximum(out, _lay(rng, rgb, [ring + at], colour, light_rad, rng.uniform(0.5, 4)))
        tip, foot = ring[0], ring[len(ring) // 2]
        stem = curves.fit_between(curves.smooth_curve(rng, 100, 0, 0.3), tip + at, foot * 1.5 + at)
        rib = cover([ribbon(stem, np.linspace(0.4, 1.0, len(stem)) * max(size / 40, 0.7))], shape)
        blend(rgb, rib, colour * rng.uniform(0.5, 1.7), 0.8)
        out = np.maximum(out, full(rib, shape))
    return out


def twigs(rng: Rng, rgb: F32, light_rad: float) -> F32:
    """Twigs and stems: brown tapering lines with a shadow; easily taken for cracks."""
    rings: list[F64] = []
    shape = (rgb.shape[0], rgb.shape[1])
    for _ in range(int(rng.integers(1, 4))):
        thick = float(np.exp(rng.uniform(math.log(0.8), math.log(9))))
        line = curves.walk(rng, thick * rng.uniform(15, 70) + 20, rng.uniform(0, 6.28), 0.25, 0.12, 40, 0.2)
        at = _place(rng, shape) - line[len(line) // 2]
        rings.append(ribbon(line + at, np.linspace(thick, thick * 0.3, len(line))))
        for _ in range(int(rng.integers(0, 4))):
            i = int(rng.integers(len(line)))
            side = curves.walk(rng, thick * rng.uniform(4, 22) + 6, rng.uniform(0, 6.28), 0.2, 0.1, 30, 0)
            rings.append(ribbon(side + line[i] + at, np.linspace(thick * 0.5, 0.2, len(side))))
    colour = np.array([0.16, 0.11, 0.07]) * rng.uniform(0.5, 2.5)
    return _lay(rng, rgb, rings, colour, light_rad, rng.uniform(0.5, 4))


def grass_blades(rng: Rng, rgb: F32, light_rad: float) -> F32:
    """Loose blades of grass or straw."""
    shape = (rgb.shape[0], rgb.shape[1])
    out = np.zeros(shape, np.float32)
    thick = rng.uniform(0.8, 3.5)
    for _ in range(2):
        rings = []
        for _ in range(int(rng.integers(2, 30))):
            line = curves.smooth_curve(rng, thick * rng.uniform(12, 45), rng.uniform(0, 6.28), 0.5)
            rings.append(ribbon(line + _place(rng, shape), thick * np.sin(np.linspace(0.5, 3, len(line)))))
        green = np.array([0.10, 0.17, 0.04]) if rng.random() < 0.5 else np.array([0.42, 0.34, 0.17])
        out = np.maximum(out, _lay(rng, rgb, rings, green * rng.uniform(0.6, 1.5), light_rad, 1.0))
    return out


def needles(rng: Rng, rgb: F32, light_rad: float) -> F32:
    """Conifer needles: many thin straight pairs."""
    shape = (rgb.shape[0], rgb.shape[1])
    rings = []
    size = rng.uniform(12, 90)
    for _ in range(int(rng.integers(3, 50))):
        at, a = _place(rng, shape), rng.uniform(0, 6.28)
        for k in range(2):
            end = curves.turned(a + k * rng.uniform(0.05, 0.4)) * size * rng.uniform(0.8, 1.1)
            rings.append(ribbon(np.stack([at, at + end]), rng.uniform(0.5, 1.0) * max(size / 40, 0.9)))
    colour = np.array([0.28, 0.15, 0.06]) * rng.uniform(0.4, 1.6)
    return _lay(rng, rgb, rings, colour, light_rad, 0.8)


def pebbles(rng: Rng, rgb: F32, light_rad: float) -> F32:
    """Loose stones and crumbs with their shadows."""
    shape = (rgb.shape[0], rgb.shape[1])
    out = np.zeros(shape, np.float32)
    big = float(np.exp(rng.uniform(math.log(2), math.log(22))))
    for _ in range(int(rng.integers(1, 40 if big < 6 else 9))):
        r = big * rng.uniform(0.3, 1.2)
        ring = disc((0, 0), r, 12) * rng.uniform(0.75, 1.25, (12, 1)) * rng.uniform(0.7, 1.2, 2)
        stamp = cover([ring + _place(rng, shape)], shape)
        if stamp.empty:
            continue
        drop_shadow(rgb, stamp, light_rad, 0.4 * r + 0.4, rng.uniform(0.2, 0.6))
        size = (stamp.alpha.shape[0], stamp.alpha.shape[1])
        dr = np.linspace(-1, 1, size[0], dtype=np.float32)[:, None] * math.cos(light_rad)
        dc = np.linspace(-1, 1, size[1], dtype=np.float32)[None, :] * math.sin(light_rad)
        shade = 1 - np.float32(0.35) * (dr + dc)
        colour = rng.uniform(0.08, 0.6) * (1 + rng.normal(0, 0.06, 3))
        blend(rgb, stamp, np.clip(shade[..., None] * colour, 0.01, 1).astype(np.float32))
        out[stamp.window] = np.maximum(out[stamp.window], stamp.alpha)
    return out


def _tube(rng: Rng, rgb: F32, light_rad: float, width: float, colour: F64) -> F32:
    shape = (rgb.shape[0], rgb.shape[1])
    size = max(shape)
    line = curves.smooth_curve(rng, size * 2.5, rng.uniform(0, 6.28), rng.uniform(0.1, 1.2))
    line = line - line[int(len(line) * rng.uniform(0.3, 0.7))] + rng.uniform(0.1, 0.9, 2) * shape
    stamp = cover([ribbon(line, width)], shape)
    drop_shadow(rgb, stamp, light_rad, width * 0.35 + 0.5, rng.uniform(0.3, 0.7))
    blend(rgb, stamp, colour)
    side = 1.0 if rng.random() < 0.5 else -1.0
    gain(rgb, cover([ribbon(line, width * 0.35, -side * width * 0.3)], shape), 0.55)
    gain(rgb, cover([ribbon(line, width * 0.2, side * width * 0.2)], shape), rng.uniform(1.3, 3.0))
    return full(stamp, shape)


def cable(rng: Rng, rgb: F32, light_rad: float) -> F32:
    """An electric cable or rope."""
    palette = [(0.02, 0.02, 0.02), (0.6, 0.2, 0.02), (0.5, 0.5, 0.48), (0.5, 0.4, 0.05), (0.35, 0.28, 0.18)]
    return _tube(rng, rgb, light_rad, rng.uniform(1.5, 12), np.array(palette[int(rng.integers(5))]))


def hose(rng: Rng, rgb: F32, light_rad: float) -> F32:
    """A garden hose."""
    palette = [(0.05, 0.22, 0.07), (0.03, 0.03, 0.03), (0.5, 0.42, 0.06), (0.10, 0.15, 0.3)]
    return _tube(rng, rgb, light_rad, rng.uniform(10, 34), np.array(palette[int(rng.integers(4))]))


def shoe(rng: Rng, rgb: F32, light_rad: float) -> F32:
    """The toe of a shoe at the picture's border, as the photographer leaves it."""
    rows, cols = rgb.shape[:2]
    t = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    size = rng.uniform(0.12, 0.3) * max(rows, cols)
    ring = np.stack([np.cos(t), 0.38 * np.sin(t) * (1 + 0.15 * np.cos(t))], axis=1) * size
    at = np.array([rows + size * rng.uniform(-0.4, 0.6), rng.uniform(0.1, 0.9) * cols])
    colour = rng.uniform(0.02, 0.5) * (1 + rng.normal(0, 0.2, 3))
    out = _lay(rng, rgb, [ring + at], colour, light_rad, size * 0.08, 0.1)
    lace = []
    for k in range(3):
        middle = at - np.array((size * (0.3 + 0.12 * k), 0.0))
        reach = np.array((0.0, size * 0.2))
        lace.append(ribbon(np.stack([middle - reach, middle + reach]), size * 0.03))
    blend(rgb, cover(lace, (rows, cols)), np.full(3, rng.uniform(0.3, 0.8)))
    return out


def drain(rng: Rng, rgb: F32, light_rad: float) -> F32:
    """A round or square grating with slots."""
    shape = (rgb.shape[0], rgb.shape[1])
    r = rng.uniform(0.05, 0.28) * max(shape)
    at = _place(rng, shape)
    a = rng.uniform(0, math.pi)
    ring = disc((0, 0), r, 48) if rng.random() < 0.5 else disc((0, 0), r * 1.3, 4)
    gain(rgb, cover([ring * 1.06 + at], shape), 0.3)
    out = _lay(rng, rgb, [ring + at], np.full(3, rng.uniform(0.05, 0.35)), light_rad, 0.5, 0.15)
    slots = []
    n = int(rng.integers(4, 11))
    for k in range(n):
        off = (k + 0.5) / n * 1.6 - 0.8
        half = math.sqrt(1 - off * off) * r * 0.8
        p = at + curves.turned(a) * off * r
        d = curves.turned(a + math.pi / 2) * half
        slots.append(ribbon(np.stack([p - d, p + d]), 0.7 * 1.6 * r / n))
    blend(rgb, cover(slots, shape), np.full(3, 0.012))
    return out


def lid(rng: Rng, rgb: F32, light_rad: float) -> F32:
    """A cast or plastic access lid: rim, pattern, lifting holes."""
    shape = (rgb.shape[0], rgb.shape[1])
    r = rng.uniform(0.08, 0.35) * max(shape)
    at = _place(rng, shape)
    ring = disc((0, 0), r, 60) if rng.random() < 0.6 else disc((0, 0), r * 1.3, 4)
    gain(rgb, cover([ring * 1.04 + at], shape), 0.25)
    colour = np.array([1, 0.95, 0.88]) * rng.uniform(0.05, 0.4)
    out = _lay(rng, rgb, [ring + at], colour, light_rad, 0.5, 0.3)
    gain(rgb, cover([ring * 0.9 + at], shape), rng.uniform(0.6, 1.4))
    marks = []
    pitch = r / int(rng.integers(3, 9))
    for i in range(-8, 9):
        for j in range(-8, 9):
            p = np.array([i, j]) * pitch * 1.1
            if np.hypot(*p) < 0.75 * r:
                marks.append(disc((p[0] + at[0], p[1] + at[1]), pitch * 0.3, 4))
    if marks:
        gain(rgb, cover(marks, shape), rng.uniform(0.5, 1.7))
    return out


def tie_holes(rng: Rng, rgb: F32, light_rad: float) -> F32:
    """Holes left by form ties, in a row."""
    shape = (rgb.shape[0], rgb.shape[1])
    r = rng.uniform(3, 16)
    at, step = _place(rng, shape), curves.turned(rng.uniform(0, 6.28)) * rng.uniform(8, 25) * r
    out = np.zeros(shape, np.float32)
    for k in range(int(rng.integers(1, 5))):
        p = at + step * k
        stamp = cover([disc((p[0], p[1]), r, 24)], shape)
        gain(rgb, cover([disc((p[0], p[1]), r * 1.5, 24)], shape), rng.uniform(0.75, 1.2))
        blend(rgb, stamp, np.full(3, rng.uniform(0.015, 0.15)))
        out = np.maximum(out, full(stamp, shape))
    return out


def sheet(rng: Rng, rgb: F32, light_rad: float) -> F32:
    """A printed sheet, card or ruler with black marks."""
    shape = (rgb.shape[0], rgb.shape[1])
    w, h = rng.uniform(30, 200), rng.uniform(10, 160)
    a = rng.uniform(0, math.pi)
    turn = np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]])
    box = np.array([[-h, -w], [-h, w], [h, w], [h, -w]]) / 2
    at = _place(rng, shape)
    out = _lay(rng, rgb, [box @ turn.T + at], np.full(3, rng.uniform(0.55, 0.85)), light_rad, 1.0, 0.02)
    marks = []
    n = int(rng.integers(3, 9))
    dark = rng.random((n, n)) < 0.5
    for i in range(n):
        for j in range(n):
            if dark[i, j]:
                q = np.array([[i, j], [i, j + 1], [i + 1, j + 1], [i + 1, j]]) / n - 0.5
                marks.append((q * np.array([h, w]) * 0.8) @ turn.T + at)
    if marks:
        blend(rgb, cover(marks, shape), np.full(3, 0.03))
    return out


OBJECTS: dict[str, Callable[[Rng, F32, float], F32]] = {
    "leaves": leaves, "twigs": twigs, "grass_blades": grass_blades, "needles": needles,
    "pebbles": pebbles, "cable": cable, "hose": hose, "shoe": shoe, "drain": drain, "lid": lid,
    "tie_holes": tie_holes, "sheet": sheet,
}  # fmt: skip
