"""The ground and the bare slab of a scene, pixel by pixel, from textures in plan millimetres."""

from __future__ import annotations

import math

import cv2
import numpy as np

from . import curves, grounds, stains, surface
from .curves import F64
from .noise import F32, fractal, generator
from .plan import SlabScene
from .projection import Camera
from .raster import Stamp, cover, full, gain, ribbon

Rng = np.random.Generator
BAND_ROWS = 256
RASTER_MM = 4.0
"""Plan resolution of stains and soft shadows."""


class Texture:
    """A mirrored plan texture with coarser copies, read at the scale of each pixel."""

    def __init__(self, rgb: F32, mm_per_px: float, origin_mm: F64) -> None:
        self.mm_per_px, self.origin = mm_per_px, origin_mm
        self.levels = [rgb]
        while min(self.levels[-1].shape[:2]) > 64:
            self.levels.append(np.asarray(cv2.pyrDown(self.levels[-1]), np.float32))

    def read(self, x: F32, y: F32, scale: F32) -> F32:
        level = np.log2(np.maximum(scale / np.float32(self.mm_per_px), 1e-3)) + np.float32(0.25)
        top = float(len(self.levels) - 1)
        low = int(np.clip(math.floor(float(np.median(level))), 0, top))
        high = min(low + 1, int(top))
        a = self._at(low, x, y)
        if high == low or float(level.max()) <= 0:
            return a
        t = np.clip(level - low, 0, 1)[..., None]
        return np.asarray(a + t * (self._at(high, x, y) - a), np.float32)

    def _at(self, level: int, x: F32, y: F32) -> F32:
        step = np.float32(self.mm_per_px * 2**level)
        # pyrDown keeps pixel 0 at pixel 0
        u = (x - np.float32(self.origin[0])) / step
        v = (y - np.float32(self.origin[1])) / step
        img = self.levels[level]
        return np.asarray(
            cv2.remap(img, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT_101), np.float32
        )


def band_plan(camera: Camera, row0: int, row1: int) -> tuple[F32, F32, F32, F32]:
    """Plan x, y, scale (mm per px) and w of the pixels of some rows."""
    cols = camera.size_px[1]
    r, c = np.mgrid[row0:row1, 0:cols].astype(np.float64)
    if camera.k1 or camera.k2:
        ideal = camera.undistort(np.stack([r.ravel(), c.ravel()], axis=1))
        r, c = ideal[:, 0].reshape(r.shape), ideal[:, 1].reshape(c.shape)
    h = camera.plan_from_px
    w = h[2, 0] * r + h[2, 1] * c + h[2, 2]
    safe = np.where(w > 1e-6, w, 1.0)
    x = (h[0, 0] * r + h[0, 1] * c + h[0, 2]) / safe
    y = (h[1, 0] * r + h[1, 1] * c + h[1, 2]) / safe
    # a homography's area scale is |det| / w^3
    scale = np.sqrt(abs(np.linalg.det(h)) / safe**3)
    f = np.float32
    return x.astype(f), y.astype(f), scale.astype(f), w.astype(f)


def _ground_texture(kind: str, rng: Rng, origin: F64) -> Texture:
    step = {"grass": 1.6, "plants": 2.5, "gravel": 1.2, "soil": 1.5}.get(kind, 2.0)
    return Texture(grounds.GROUNDS[kind](rng, (1100, 1100)).astype(np.float32), step, origin)


def draw_surfaces(scene: SlabScene, camera: Camera, seed: int) -> F32:
    """Linear light (rows, cols, 3) of the bare slab and the ground round it."""
    rows, cols = camera.size_px
    shape = (rows, cols)
    low, high = scene.box_mm
    rng = generator(seed, 1)
    nearest = min(
        camera.mm_per_px(np.array([r, c], float))
        for r in (rows - 1, rows // 2) for c in (0, cols // 2, cols - 1)
    )  # fmt: skip
    step = float(np.clip(nearest * 0.8, 0.15, 2.0)) if scene.texture_mm is None else scene.texture_mm
    span = (high - low) / step + 40
    most = 2304 if scene.texture_mm is None else 3072
    size = (int(min(span[1], most)), int(min(span[0], most)))
    colour = None if scene.colour is None else np.array(scene.colour, np.float32)
    if colour is None:
        colour = surface.base_colour(generator(seed, 2))
    # broom marks along an axis, so that mirrored copies of the texture join
    brushed = float(rng.choice([0.0, math.pi / 2]))
    flat = surface.concrete(rng, size, step, scene.finish, rng.uniform(0, 6.28), colour, brushed)
    flat = (colour + np.float32(scene.texture) * (flat - colour)).astype(np.float32)
    slab = Texture(np.clip(flat, 0.01, 1), step, low - 20 * step)
    tone = Texture(_plan_gain(scene, seed), RASTER_MM, low)
    around = _ground_texture(scene.surround, generator(seed, 3), low)
    beds = [
        (_ground_texture(g.kind, generator(seed, 4, k), low),
         full(cover([camera.ring_px(np.array(g.outline_mm, float))], shape), shape))
        for k, g in enumerate(scene.grounds)
    ]  # fmt: skip
    inside = full(cover([camera.ring_px(np.array(scene.outline_mm, float))], shape), shape)
    rgb = np.empty((rows, cols, 3), np.float32)
    for row0 in range(0, rows, BAND_ROWS):
        row1 = min(row0 + BAND_ROWS, rows)
        x, y, scale, w = band_plan(camera, row0, row1)
        part = inside[row0:row1]
        out = rgb[row0:row1]
        if float(part.min()) < 1:
            out[...] = around.read(x, y, scale)
            for texture, where in beds:
                a = where[row0:row1, :, None]
                if a.any():
                    out += a * (texture.read(x, y, scale) - out)
        if part.any():
            top = slab.read(x, y, scale) * tone.read(x, y, scale)
            if float(part.min()) < 1:
                out += part[..., None] * (top - out)
            else:
                out[...] = top
        sky = w <= 1e-6
        if sky.any():
            out[sky] = (0.55, 0.65, 0.8)
    ring = np.array(scene.outline_mm, dtype=np.float64)
    for part_mm in camera.in_front(np.concatenate([ring, ring[:1]])):
        line = camera.project(curves.resample(part_mm, 25.0))
        near = camera.mm_per_px(np.array([rows * 0.6, cols / 2]))
        edge = cover([ribbon(line, 14.0 / near)], shape)  # the slab's side and its shade
        if not edge.empty:
            outside = edge.alpha * (1 - inside[edge.window])
            gain(rgb, Stamp(edge.row, edge.col, outside), 0.35)
    return rgb


def _plan_gain(scene: SlabScene, seed: int) -> F32:
    """Slow tone, panel tones and stains over the slab as a gain raster at `RASTER_MM`."""
    low, high = scene.box_mm
    span = (high - low) / RASTER_MM
    shape = (max(int(span[1]) + 2, 16), max(int(span[0]) + 2, 16))
    rng = generator(seed, 5)
    slow = fractal(rng, shape, max(shape) * 0.3, 4.0, 0.7) * np.float32(0.05 * scene.texture)
    out = np.repeat((1 + slow)[..., None], 3, axis=2).astype(np.float32)

    def raster(points: tuple[tuple[float, float], ...]) -> F64:
        p = (np.array(points, dtype=np.float64) - low) / RASTER_MM
        return p[:, ::-1]  # raster rows run with y, columns with x

    for outline, factor in scene.panel_tones:
        gain(out, cover([raster(outline)], shape), factor)
    for k, stain in enumerate(scene.stains):
        mid = raster((stain.at_mm,))[0]
        half = stain.size_mm / 2 / RASTER_MM
        r0, c0 = (max(int(v - half), 0) for v in mid)
        r1, c1 = (min(int(v + half) + 1, n) for v, n in zip(mid, shape, strict=True))
        if r1 - r0 > 8 and c1 - c0 > 8:
            window = np.ascontiguousarray(out[r0:r1, c0:c1])
            stains.STAINS[stain.kind](generator(seed, 6, k), window, 0.8)
            fade = np.outer(np.hanning(r1 - r0 + 2)[1:-1], np.hanning(c1 - c0 + 2)[1:-1])
            fade = np.clip(fade * 4, 0, 1)[..., None].astype(np.float32)
            view = out[r0:r1, c0:c1]
            view += fade * (np.clip(window, 0.05, 3.0) - view)
    return out


def slab_level(scene: SlabScene, camera: Camera, rgb: F32) -> F32:
    """Mean linear light (3,) of the slab in a picture."""
    rows, cols = camera.size_px
    small = cv2.resize(rgb, (64, 64), interpolation=cv2.INTER_AREA)
    ring = camera.ring_px(np.array(scene.outline_mm, float)) / [rows / 64, cols / 64]
    inside = full(cover([ring], (64, 64)), (64, 64)) > 0.9
    chosen = small[inside] if inside.any() else small.reshape(-1, 3)
    return np.asarray(chosen.mean(axis=0), np.float32)
