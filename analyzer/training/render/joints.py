"""Joints of slabs: sawn, tooled, construction, isolation, sealed, filled, ravelled, faint."""

from __future__ import annotations

import math

import cv2
import numpy as np

from . import curves
from .curves import F64
from .noise import F32, lattice
from .raster import Stamp, blend, cover, gain, normals, ribbon
from .truth import Ribbon, make_ribbon

JOINT_KINDS = (
    "sawn", "tooled", "construction", "isolation", "sealed_new", "sealed_worn", "weed", "dirt",
    "ravelled", "faint",
)  # fmt: skip


def lay(
    rng: np.random.Generator, kind: str, start: F64, end: F64, width_px: float, bow_px: float = 0.0
) -> Ribbon:
    """A joint from start to end: straight, constant width, edges as true as its kind is made."""
    n = max(3, int(np.hypot(*(end - start)) / 4))
    t = np.linspace(0, 1, n)[:, None]
    line = start + (end - start) * t
    line = line + normals(line) * (bow_px * 4 * t * (1 - t))
    waver = {"sawn": 0.03, "sealed_new": 0.06, "construction": 0.25, "weed": 0.3, "dirt": 0.2,
             "ravelled": 0.5, "sealed_worn": 0.15, "isolation": 0.08}.get(kind, 0.06)  # fmt: skip
    rough = waver * min(width_px, 6.0)
    left = width_px / 2 + rough * curves.fractal_1d(rng, n, 4.0, 2)
    right = width_px / 2 + rough * curves.fractal_1d(rng, n, 4.0, 2)
    if kind == "ravelled":
        for side in (left, right):
            chips = np.maximum(curves.fractal_1d(rng, n, 5.0, 2) - rng.uniform(0.6, 1.2), 0)
            side += chips * rng.uniform(0.5, 1.6) * width_px
    if kind == "construction":
        line = line + normals(line) * (curves.noise_1d(rng, n, 14.0) * rng.uniform(0, 0.8))[:, None]
    left, right = np.maximum(left, 0.05 * width_px), np.maximum(right, 0.05 * width_px)
    return make_ribbon(kind, line, left + right, left / (left + right))


def _along(rng: np.random.Generator, stamp: Stamp, length_px: float) -> F32:
    return lattice(rng, (stamp.alpha.shape[0], stamp.alpha.shape[1]), (length_px, length_px))


def _shoulders(
    rng: np.random.Generator, rgb: F32, joint: Ribbon, reach_px: float, light_rad: float
) -> None:
    """Rounded edges of a tooled joint: one shoulder lit, the other in shade."""
    shape = (rgb.shape[0], rgb.shape[1])
    line, width = joint.centre_px, joint.width_px
    d = line[-1] - line[0]
    n = np.array([d[1], -d[0]]) / max(float(np.hypot(*d)), 1e-9)
    facing = float(n @ np.array([math.cos(light_rad), math.sin(light_rad)]))
    contrast = rng.uniform(0.08, 0.4)
    steps = 1 if reach_px < 1.5 else (2 if reach_px < 4 else 4)
    for side in (-1, 1):
        for k in range(steps):
            w = reach_px / steps
            band = ribbon(line, w, side * (width / 2 + w * (k + 0.5)))
            slope = (1 - (k + 0.5) / steps) ** 1.2
            shade = 1 + contrast * slope * (-side * facing) * 1.2 - 0.25 * contrast * slope
            gain(rgb, cover([band], shape), float(np.clip(shade, 0.4, 1.5)))


def draw(
    rgb: F32, joint: Ribbon, rng: np.random.Generator, light_rad: float, mm_per_px: float
) -> Stamp:
    """Draws a joint into `rgb` in place; returns the exact coverage of its groove."""
    shape = (rgb.shape[0], rgb.shape[1])
    kind, line = joint.kind, joint.centre_px
    width = float(np.median(joint.width_px))
    stamp = cover([joint.ring], shape)
    if stamp.empty:
        return stamp
    base = rgb[stamp.window].mean(axis=(0, 1))
    size = (stamp.alpha.shape[0], stamp.alpha.shape[1])
    if kind == "tooled" and rng.random() < 0.6:  # smooth margin left by the edging tool
        margin = float(np.clip(rng.uniform(20, 60) / mm_per_px, 2, 120))
        band = cover([ribbon(line, 2 * margin)], shape)
        soft = cv2.GaussianBlur(band.alpha, (0, 0), rng.uniform(0.6, 2.0))
        view = rgb[band.window]
        flat = cv2.GaussianBlur(view, (0, 0), 1.2) * np.float32(rng.uniform(0.94, 1.08))
        view += (soft * np.float32(rng.uniform(0.3, 0.9)))[..., None] * (flat - view)
    if kind in ("tooled", "sealed_new", "sealed_worn", "dirt", "weed") and (
        kind == "tooled" or rng.random() < 0.4
    ):
        _shoulders(rng, rgb, joint, float(np.clip(rng.uniform(3, 12) / mm_per_px, 0.8, 30)), light_rad)
    if rng.random() < 0.4:  # dirt gathers beside the groove
        band = cover([joint.widened(width + rng.uniform(3, 16))], shape)
        soft = cv2.GaussianBlur(band.alpha, (0, 0), rng.uniform(1.0, 4.0))
        soft = soft * np.clip(0.6 + 0.5 * _along(rng, band, 22.0), 0, 1)
        gain(rgb, Stamp(band.row, band.col, soft), np.array([0.8, 0.77, 0.7]) * rng.uniform(0.9, 1.15))
    dark = np.full(3, rng.uniform(0.012, 0.07), np.float32) + base * np.float32(rng.uniform(0, 0.3))
    field = _along(rng, stamp, float(np.exp(rng.uniform(2.0, 4.5))))[..., None]
    strength = 1.0
    if kind in ("sawn", "ravelled", "tooled", "construction"):
        colour = dark * (1 + 0.2 * field)
        if kind == "tooled" and rng.random() < 0.5:  # closed bottom: only a shaded valley
            colour = base * np.float32(rng.uniform(0.35, 0.75)) * (1 + 0.15 * field)
        strength = rng.uniform(0.6, 1.0)
    elif kind == "isolation":
        filler = [(0.03, 0.027, 0.025), (0.10, 0.07, 0.045), (0.22, 0.22, 0.21), (0.05, 0.05, 0.05)]
        fine = lattice(rng, size, (1.6, 1.6))[..., None]
        colour = np.array(filler[int(rng.integers(4))]) * (1 + 0.2 * field + 0.25 * fine)
    elif kind == "sealed_new":
        grey = rng.uniform(0.015, 0.06) if rng.random() < 0.65 else rng.uniform(0.12, 0.4)
        colour = np.full(3, grey) * (1 + 0.06 * field)
    elif kind == "sealed_worn":
        mix = np.clip(_along(rng, stamp, 30.0) * 1.2 + rng.uniform(-0.5, 0.7), 0, 1)[..., None]
        seal = np.full(3, rng.uniform(0.03, 0.3)) * (1 + 0.2 * field)
        colour = seal * (1 - mix) + mix * (dark if rng.random() < 0.5 else base * 0.55)
    elif kind in ("weed", "dirt"):
        soil = np.array([0.10, 0.075, 0.05]) * rng.uniform(0.5, 2.2)
        if rng.random() < 0.35:
            soil = base * np.array([0.7, 0.66, 0.58]) * rng.uniform(0.7, 1.15)
        fine = lattice(rng, size, (2.0, 2.0))[..., None]
        colour = soil * (1 + 0.2 * field + 0.2 * fine)
    else:  # faint
        colour = base * np.float32(rng.uniform(0.55, 0.93)) * (1 + 0.06 * field)
    blend(rgb, stamp, np.clip(colour, 0.005, 1).astype(np.float32), strength)
    if width > 4 and kind in ("sawn", "isolation", "sealed_new", "sealed_worn", "construction"):
        side = rng.choice([-1, 1])
        strip = ribbon(line, rng.uniform(0.5, 0.2 * width + 0.6), side * joint.width_px * rng.uniform(0.3, 0.47))
        factor = rng.uniform(0.2, 0.6) if rng.random() < 0.5 else rng.uniform(1.5, 3.0)
        gain(rgb, cover([strip], shape), factor)
    if kind == "weed":
        tufts(rng, rgb, joint)
    if kind == "sealed_worn" and width > 3:  # the sealant has let go of one edge
        strip = ribbon(line, rng.uniform(0.5, 1.5), rng.choice([-1, 1]) * joint.width_px / 2)
        torn = cover([strip], shape)
        part = torn.alpha * np.clip(_along(rng, torn, 25.0) + 0.4, 0, 1)
        blend(rgb, Stamp(torn.row, torn.col, part), dark)
    return stamp


def tufts(rng: np.random.Generator, rgb: F32, line: Ribbon, dense: float = 1.0) -> None:
    """Grass and moss growing out of a line, in place."""
    shape = (rgb.shape[0], rgb.shape[1])
    centre = line.centre_px
    n = len(centre)
    width = float(np.median(line.width_px))
    grown = np.maximum(curves.noise_1d(rng, n, 12.0) + rng.uniform(-0.6, 0.5), 0)
    count = int(min(curves.length_of(centre) * 0.12 * dense, 160))
    weights = grown + 1e-6
    at = rng.choice(n, count, p=weights / weights.sum())
    for shade in range(3):
        rings = []
        for i in at[shade::3]:
            size = rng.uniform(1.0, 3.5) * (2 + width * 0.8)
            root = centre[i] + rng.normal(0, width * 0.25 + 0.3, 2)
            blade = curves.smooth_curve(rng, size, rng.uniform(0, 2 * math.pi), 0.6, max(size / 5, 0.7))
            thick = np.linspace(rng.uniform(0.6, 1.2) + 0.06 * width, 0.15, len(blade))
            rings.append(ribbon(blade + root, thick))
        green = np.array([0.07, 0.12, 0.025]) if rng.random() < 0.75 else np.array([0.3, 0.24, 0.11])
        blend(rgb, cover(rings, shape), green * rng.uniform(0.5, 2.2))
