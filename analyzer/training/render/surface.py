"""Concrete and its finishes as reflectance pictures (rows, cols, 3), linear light."""

from __future__ import annotations

import math

import cv2
import numpy as np

from .noise import F32, Shape, cells, emboss, fractal, lattice, smoothstep, streaks, white
from .raster import Stamp, blend, cover, disc, gain

FINISHES = (
    "trowel", "broom", "float", "worn_sand", "exposed_fine", "exposed_coarse", "board_marked",
    "formed",
)  # fmt: skip


def base_colour(rng: np.random.Generator) -> F32:
    """Mean reflectance of a concrete: mostly grey, some buff, red or dark."""
    level = float(np.clip(rng.normal(0.34, 0.11), 0.10, 0.68))
    tint = np.array([1.0, rng.normal(0.985, 0.02), rng.normal(0.93, 0.07)])
    kind = rng.random()
    if kind < 0.06:  # coloured concrete
        tint = np.array([1.0, rng.uniform(0.65, 0.9), rng.uniform(0.5, 0.8)])
    elif kind < 0.14:
        tint = np.array([rng.uniform(0.88, 0.98), rng.uniform(0.95, 1.0), 1.0])
    return np.asarray(level * tint / tint.mean(), np.float32)


def _tint(rng: np.random.Generator, strength: float) -> F32:
    t = rng.normal(0, 0.25, 3) + rng.normal(0, 1) * np.array([1.0, 0.2, -1.2])
    return np.asarray(t * strength, np.float32)


def tone(rng: np.random.Generator, shape: Shape, scale: float = 1.0) -> F32:
    """Cloudy multi-octave tone as a gain picture (rows, cols, 3) about 1."""
    big = max(shape)
    coarse = fractal(rng, shape, big * rng.uniform(0.15, 0.7), 6.0, rng.uniform(0.5, 0.95))
    middle = fractal(rng, shape, rng.uniform(14, 60), 2.0, rng.uniform(0.6, 1.0))
    a = rng.uniform(0.015, 0.11) * scale
    b = rng.uniform(0.008, 0.06) * scale
    field = coarse * np.float32(a) + middle * np.float32(b)
    out = 1 + field[..., None] * (1 + _tint(rng, 0.12))
    if rng.random() < 0.5:
        hue = fractal(rng, shape, big * rng.uniform(0.1, 0.5), 8.0, 0.7)
        out = out + hue[..., None] * _tint(rng, rng.uniform(0.002, 0.02))
    return np.asarray(out, np.float32)


def grains(rng: np.random.Generator, shape: Shape, grain_px: float, strength: float) -> F32:
    """Sand in the surface: noise at grain size with dark and light specks, a gain about 1."""
    fine = white(rng, shape)
    if grain_px > 1.2:
        fine = cv2.GaussianBlur(fine, (0, 0), grain_px * 0.42)
        fine *= np.float32(1.0 / max(float(fine.std()), 1e-3))
    field = fine * np.float32(0.5 * strength)
    dark, light = rng.uniform(1.2, 2.6), rng.uniform(1.3, 3.0)
    field -= smoothstep(fine, dark, dark + 0.5) * np.float32(strength * rng.uniform(0.5, 4.0))
    field += smoothstep(-fine, light, light + 0.5) * np.float32(strength * rng.uniform(0.3, 3.0))
    out = np.clip(1 + field, 0.25, 2.0)
    return np.asarray(out / out.mean(), np.float32)


def flecks(rng: np.random.Generator, rgb: F32, size_px: float, angle: float) -> None:
    """Small irregular areas of another tone with crisp borders, as paste and weather leave."""
    shape = (rgb.shape[0], rgb.shape[1])
    stretch = rng.uniform(1.0, 3.5)
    field = lattice(rng, shape, (size_px * stretch, size_px), angle)
    field += 0.6 * lattice(rng, shape, (size_px * 0.5, size_px * 0.35), angle)
    field += 0.6 * fractal(rng, shape, max(shape) * 0.4, 12.0, 0.7)
    level = rng.uniform(0.9, 2.6)
    where = smoothstep(field, level, level + rng.uniform(0.1, 0.6))
    factor = np.array([1.0, rng.uniform(0.97, 1.0), rng.uniform(0.9, 1.0)])
    factor *= rng.uniform(0.68, 0.96) if rng.random() < 0.6 else rng.uniform(1.04, 1.3)
    rgb *= 1 + where[..., None] * (factor.astype(np.float32) - 1)


def stones(
    rng: np.random.Generator,
    rgb: F32,
    stone_px: float,
    light_rad: float,
    cover_share: float = 1.0,
    area: F32 | None = None,
) -> None:
    """Exposed stones in a matrix, in place; `area` (rows, cols) 0..1 limits them."""
    shape = (rgb.shape[0], rgb.shape[1])
    label, edge = cells(rng, shape, stone_px, rng.uniform(0.2, 0.6), rng.uniform(0.3, 0.48))
    if stone_px > 6:  # worn stones have round corners
        edge = cv2.GaussianBlur(edge, (0, 0), stone_px * rng.uniform(0.02, 0.09))
    n = int(label.max()) + 1
    gap = rng.uniform(0.02, 0.16) * stone_px + 0.3
    size = rng.uniform(0.0, 0.25, n).astype(np.float32) * np.float32(stone_px)
    there = (rng.random(n) < cover_share).astype(np.float32)
    depth = edge - np.float32(gap) - size[label]
    inside = np.clip(depth / 1.2 + 0.5, 0, 1) * there[label]
    if area is not None:
        inside = inside * area
    spread = rng.uniform(0.08, 0.45)
    level = np.exp(rng.normal(rng.uniform(-0.15, 0.2), spread, n)).astype(np.float32)
    hue = rng.normal(0, rng.uniform(0.01, 0.08), (n, 3)).astype(np.float32)
    hue[:, 2] -= np.float32(rng.uniform(0, 0.1)) * rng.random(n).astype(np.float32)
    base = rgb.mean(axis=(0, 1))
    palette = np.clip(level[:, None] * (1 + hue) * base, 0.02, 0.9).astype(np.float32)
    dome = np.minimum(np.maximum(depth, 0), np.float32(0.35 * stone_px))
    shade = emboss(cv2.GaussianBlur(dome, (0, 0), max(stone_px * 0.08, 0.7)), light_rad, -1.0)
    relief = 1 + shade * np.float32(rng.uniform(0.05, 0.5))
    matrix = np.float32(rng.uniform(0.45, 1.15))
    shadow = np.float32(rng.uniform(0.0, 0.35)) * np.clip(1 - edge / (0.25 * stone_px + 1), 0, 1)
    ground = (matrix * (1 - shadow))[..., None]
    where = area[..., None] if area is not None else np.float32(1.0)
    rgb *= 1 + where * (ground - 1)
    a = inside[..., None]
    rgb += a * (palette[label] * relief[..., None] - rgb)
    np.clip(rgb, 0.01, 1.0, out=rgb)


def pores(
    rng: np.random.Generator, rgb: F32, count: int, radius_px: tuple[float, float], light_rad: float
) -> None:
    """Bugholes, popouts' pits and pores: small dark pits with a lit lower rim, in place."""
    shape = (rgb.shape[0], rgb.shape[1])
    rings = []
    for _ in range(count):
        r = float(np.exp(rng.uniform(math.log(radius_px[0]), math.log(radius_px[1]))))
        ring = disc((0.0, 0.0), r, 12)
        ring = ring * rng.uniform(0.6, 1.3, (12, 1)) * rng.uniform(0.6, 1.4, 2)
        rings.append(ring + rng.uniform(0, 1, 2) * shape)
    stamp = cover(rings, shape)
    if stamp.empty:
        return
    d = 0.8 + 0.15 * radius_px[1]
    m = np.array([[1, 0, -d * math.sin(light_rad)], [0, 1, -d * math.cos(light_rad)]])
    size = (stamp.alpha.shape[1], stamp.alpha.shape[0])
    lit = np.clip(stamp.alpha - cv2.warpAffine(stamp.alpha, m, size), 0, 1)
    gain(rgb, stamp, rng.uniform(0.12, 0.7))
    gain(rgb, Stamp(stamp.row, stamp.col, lit), rng.uniform(1.0, 1.6))


def broom(
    rng: np.random.Generator,
    rgb: F32,
    pitch_px: float,
    light_rad: float,
    angle_rad: float | None = None,
) -> None:
    """Parallel grooves of a broom, in place; seen best across the light."""
    shape = (rgb.shape[0], rgb.shape[1])
    angle = light_rad + math.pi / 2 + rng.normal(0, 0.5) if angle_rad is None else angle_rad
    pitch = max(pitch_px, 1.3)
    h = streaks(rng, shape, pitch, pitch * rng.uniform(25, 120), angle, 2)
    fade = min(1.0, pitch_px / 1.3)
    rgb *= 1 + (h * np.float32(rng.uniform(0.02, 0.11) * fade))[..., None]


def boards(rng: np.random.Generator, rgb: F32, board_px: float, light_rad: float) -> None:
    """Board-marked face: wood grain, a tone of its own per board, seams between them; in place.

    The seams are neither crack nor joint.
    """
    rows, cols = rgb.shape[:2]
    shape = (rows, cols)
    angle = rng.choice([0.0, math.pi / 2]) + rng.normal(0, 0.03)
    grain = streaks(rng, shape, max(board_px / rng.uniform(8, 25), 1.2), board_px * 6, angle, 3)
    across = np.array([-math.sin(angle), math.cos(angle)])
    r, c = np.mgrid[0:rows, 0:cols].astype(np.float32)
    s = (r - rows / 2) * np.float32(across[0]) + (c - cols / 2) * np.float32(across[1])
    s += lattice(rng, shape, (board_px * 3, board_px), angle) * np.float32(0.4)
    s /= np.float32(board_px)
    s += np.float32(rng.random() + 40)
    index = s.astype(np.int32)
    if rng.random() < 0.4:  # saw marks across the boards
        pitch = max(board_px / rng.uniform(10, 30), 2.0)
        marks = streaks(rng, shape, pitch, board_px * 0.6, angle + math.pi / 2, 2)
        rgb *= (1 + marks * np.float32(rng.uniform(0.01, 0.04)))[..., None]
    own = rng.normal(0, rng.uniform(0.01, 0.07), 200).astype(np.float32)[np.clip(index, 0, 199)]
    rgb *= (1 + own + grain * np.float32(rng.uniform(0.01, 0.07)))[..., None]
    seam_at = (s - index - 0.5) * np.float32(board_px)
    distance = np.float32(board_px / 2) - np.abs(seam_at)
    seam_px = rng.uniform(0.4, 2.2)
    depth = np.clip(seam_px / 2 + 0.5 - distance, 0, 1)
    depth *= np.clip(0.5 + 0.8 * lattice(rng, shape, (60.0, 8.0), angle), 0, 1)
    rgb *= (1 - depth * np.float32(rng.uniform(0.1, 0.75)))[..., None]
    if rng.random() < 0.5:  # paste that ran out along the boards
        run = lattice(rng, shape, (board_px * 2.5, board_px * 0.22), angle)
        run += 0.5 * lattice(rng, shape, (board_px * 0.5, board_px * 0.1), angle)
        run = smoothstep(run, rng.uniform(1.2, 2.0), 2.1)
        view = rgb.mean(axis=2, keepdims=True) * np.float32(rng.uniform(0.75, 1.15))
        rgb += run[..., None] * (cv2.GaussianBlur(view, (0, 0), 3.0)[..., None] - rgb)
    step = np.clip(1 - np.abs(distance - seam_px) / rng.uniform(1, 4), 0, 1) * np.sign(seam_at)
    rgb *= (1 + step * np.float32(rng.uniform(-0.12, 0.12)))[..., None]


def scaling(rng: np.random.Generator, rgb: F32, grain_px: float, light_rad: float) -> F32:
    """Areas whose paste has flaked off: rougher, stones showing; in place. Returns the area 0..1."""
    shape = (rgb.shape[0], rgb.shape[1])
    field = fractal(rng, shape, max(shape) * rng.uniform(0.1, 0.35), 2.5, 0.72)
    level = rng.uniform(0.7, 1.7)
    area = smoothstep(field, level, level + 0.12)
    if area.max() < 0.5:
        return area
    edge = emboss(cv2.GaussianBlur(area, (0, 0), 0.8), light_rad, rng.uniform(0.1, 0.7))
    rgb *= 1 + edge[..., None]
    before = rgb.copy()
    rgb *= np.float32(rng.uniform(0.75, 1.15))
    stones(rng, rgb, max(grain_px * rng.uniform(2, 5), 4.0), light_rad, rng.uniform(0.4, 0.9))
    rgb *= grains(rng, shape, grain_px, rng.uniform(0.06, 0.2))[..., None]
    rgb[...] = before + area[..., None] * (rgb - before)
    return area


def popouts(rng: np.random.Generator, rgb: F32, count: int, radius_px: float, light_rad: float) -> F32:
    """Conical holes over single stones; in place. Returns their coverage."""
    shape = (rgb.shape[0], rgb.shape[1])
    out = np.zeros(shape, np.float32)
    for _ in range(count):
        ring = disc((0, 0), radius_px * rng.uniform(0.5, 1.3), 20) * rng.uniform(0.75, 1.2, (20, 1))
        stamp = cover([ring + rng.uniform(0, 1, 2) * shape], shape)
        if stamp.empty:
            continue
        soft = cv2.GaussianBlur(stamp.alpha, (0, 0), max(radius_px * 0.3, 0.8))
        shade = emboss(soft, light_rad, rng.uniform(0.8, 2.5) * max(radius_px * 0.3, 1))
        gain(rgb, stamp, (1 + shade[..., None]) * rng.uniform(0.7, 1.0))
        core = disc((0, 0), radius_px * 0.3, 14) * rng.uniform(0.7, 1.3, (14, 1))
        middle = (stamp.row + soft.shape[0] / 2, stamp.col + soft.shape[1] / 2)
        blend(rgb, cover([core + np.array(middle)], shape), np.full(3, rng.uniform(0.1, 0.6)), 0.8)
        out[stamp.window] = np.maximum(out[stamp.window], stamp.alpha)
    return out


def concrete(
    rng: np.random.Generator,
    shape: Shape,
    mm_per_px: float,
    finish: str | None = None,
    light_rad: float = 0.8,
    colour: F32 | None = None,
    broom_rad: float | None = None,
) -> F32:
    """Reflectance of a concrete surface of a finish (one of `FINISHES`, drawn when None)."""
    if finish is None:
        finish = str(rng.choice(FINISHES, p=[0.18, 0.19, 0.13, 0.18, 0.07, 0.07, 0.10, 0.08]))
    base = base_colour(rng) if colour is None else colour
    rgb = tone(rng, shape, rng.uniform(0.4, 1.4)) * base
    grain_px = float(np.clip(rng.uniform(0.5, 2.2) / mm_per_px, 1.0, 9.0))
    strength = rng.uniform(0.015, 0.11)
    if finish == "worn_sand":
        strength = rng.uniform(0.08, 0.25)
    elif finish in ("trowel", "formed"):
        strength *= 0.5
    rgb *= grains(rng, shape, grain_px, strength)[..., None]
    for _ in range(int(rng.integers(0, 4))):
        size = float(np.exp(rng.uniform(math.log(1.6), math.log(16))))
        flecks(rng, rgb, size, rng.uniform(0, math.pi))
    if finish not in ("broom", "trowel") and rng.random() < 0.5:  # weathered: sand stands out
        rough = fractal(rng, shape, float(np.clip(rng.uniform(2, 12) / mm_per_px, 3, 24)), 1.5, 0.95)
        shade = emboss(rough, light_rad, rng.uniform(0.02, 0.2))
        rgb *= np.clip(1 + shade, 0.4, 1.8)[..., None]
    if finish == "broom":
        broom(rng, rgb, rng.uniform(1.5, 4.5) / mm_per_px, light_rad, broom_rad)
    elif finish == "float":
        swirl = fractal(rng, shape, rng.uniform(6, 20) / mm_per_px + 3, 2.0, 0.8)
        rgb *= (1 + emboss(swirl, light_rad, rng.uniform(0.02, 0.12)))[..., None]
    elif finish == "trowel":
        angle = rng.uniform(0, math.pi)
        marks = lattice(rng, shape, (90.0, 9.0), angle) * lattice(rng, shape, (120.0, 60.0), angle + 0.5)
        rgb *= (1 + marks * np.float32(rng.uniform(0.0, 0.05)))[..., None]
    elif finish == "worn_sand":
        size = float(np.clip(rng.uniform(2, 6) / mm_per_px, 3.0, 14.0))
        stones(rng, rgb, size, light_rad, rng.uniform(0.1, 0.6))
    elif finish in ("exposed_fine", "exposed_coarse"):
        mm = rng.uniform(3, 9) if finish == "exposed_fine" else rng.uniform(8, 28)
        size = float(np.clip(mm / mm_per_px, 4.0, 64.0))
        stones(rng, rgb, size, light_rad, rng.uniform(0.6, 1.0))
        if size > 14:
            rgb *= grains(rng, shape, max(size / 10, 1.0), rng.uniform(0.02, 0.1))[..., None]
    elif finish == "board_marked":
        boards(rng, rgb, float(np.clip(rng.uniform(60, 160) / mm_per_px, 24, 220)), light_rad)
    if finish in ("formed", "board_marked") or rng.random() < 0.2:
        big = max(rng.uniform(1.0, 6.0) / mm_per_px, 1.2)
        pores(rng, rgb, int(rng.integers(5, 120)), (0.6, min(big, 9.0)), light_rad)
    rgb *= base / rgb.mean(axis=(0, 1))
    return np.asarray(np.clip(rgb, 0.01, 1.0), np.float32)
