"""Joints of slabs: sawn, tooled, construction, isolation, sealed, filled, ravelled, faint."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from . import curves
from .curves import F64
from .noise import F32, fractal, lattice
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
            chips = np.maximum(curves.fractal_1d(rng, n, 3.0, 2) - rng.uniform(0.5, 1.2), 0)
            side += np.sqrt(chips) * rng.uniform(0.3, 1.1) * min(width_px, 9.0)
    if kind == "construction":
        line = line + normals(line) * (curves.noise_1d(rng, n, 14.0) * rng.uniform(0, 0.8))[:, None]
    left, right = np.maximum(left, 0.05 * width_px), np.maximum(right, 0.05 * width_px)
    return make_ribbon(kind, line, left + right, left / (left + right))


def _along(rng: np.random.Generator, stamp: Stamp, length_px: float) -> F32:
    return lattice(rng, (stamp.alpha.shape[0], stamp.alpha.shape[1]), (length_px, length_px))


@dataclass(frozen=True, slots=True)
class JointLook:
    """Colours and strengths of one joint, the same along its whole length."""

    core: tuple[float, float, float]
    second: tuple[float, float, float]
    mottle: float = 0.1
    mottle_px: float = 20.0
    fine: float = 0.0
    strength: float = 1.0
    mix: float = -9.0
    margin_px: float = 0.0
    margin_tone: float = 1.0
    shoulder_px: float = 0.0
    shoulder: float = 0.0
    dirt_px: float = 0.0
    dirt: tuple[float, float, float] = (0.8, 0.77, 0.7)
    strip: float = 0.0
    strip_at: float = 0.4
    strip_px: float = 1.0
    torn: float = 0.0
    valley: float = 0.0
    tufts: float = 0.0


def _three(values: F32 | F64) -> tuple[float, float, float]:
    return (float(values[0]), float(values[1]), float(values[2]))


def random_look(
    rng: np.random.Generator, kind: str, width_px: float, base: F32, mm_per_px: float
) -> JointLook:
    """How a joint of a kind looks on concrete of reflectance `base` (3,)."""
    core = np.full(3, rng.uniform(0.008, 0.06)) + base * rng.uniform(0, 0.25)
    second = base * 0.55
    valley = 0.0
    mottle, fine, strength, mix = rng.uniform(0.03, 0.18), 0.0, 1.0, -9.0
    if kind in ("sawn", "ravelled", "tooled", "construction"):
        strength = rng.uniform(0.6, 1.0)
        if kind == "tooled" and rng.random() < 0.5:  # closed bottom: only a shaded valley
            core, mottle, strength = base * rng.uniform(0.5, 0.85), 0.05, 1.0
            valley = rng.uniform(0.35, 0.85)
    elif kind == "isolation":
        filler = [(0.03, 0.027, 0.025), (0.10, 0.07, 0.045), (0.22, 0.22, 0.21), (0.05, 0.05, 0.05)]
        core, fine = np.array(filler[int(rng.integers(4))]), 0.25
    elif kind == "sealed_new":
        grey = rng.uniform(0.015, 0.06) if rng.random() < 0.65 else rng.uniform(0.12, 0.4)
        core, mottle = np.full(3, grey), 0.06
    elif kind == "sealed_worn":
        mix = rng.uniform(-0.5, 0.7)
        second = core if rng.random() < 0.5 else second
        core = np.full(3, rng.uniform(0.03, 0.3))
    elif kind in ("weed", "dirt"):
        core, fine = np.array([0.10, 0.075, 0.05]) * rng.uniform(0.5, 2.2), 0.2
        if rng.random() < 0.35:
            core = base * np.array([0.7, 0.66, 0.58]) * rng.uniform(0.7, 1.15)
    elif kind == "faint":
        core, mottle = base * rng.uniform(0.5, 0.9), 0.06
    shoulders = kind == "tooled" or (
        kind in ("sealed_new", "sealed_worn", "dirt", "weed") and rng.random() < 0.4
    )
    strip = 0.0
    if width_px > 4 and kind in ("sawn", "isolation", "sealed_new", "sealed_worn", "construction"):
        strip = rng.uniform(0.2, 0.6) if rng.random() < 0.5 else rng.uniform(1.5, 3.0)
    margin = kind == "tooled" and rng.random() < 0.6  # smooth band left by the edging tool
    return JointLook(
        core=_three(core), second=_three(second), mottle=mottle,
        mottle_px=float(np.exp(rng.uniform(2.0, 4.5))), fine=fine, strength=strength, mix=mix,
        margin_px=float(np.clip(rng.uniform(20, 60) / mm_per_px, 2, 120)) if margin else 0.0,
        margin_tone=rng.uniform(0.94, 1.08),
        shoulder_px=float(np.clip(rng.uniform(3, 12) / mm_per_px, 0.8, 30)) if shoulders else 0.0,
        shoulder=rng.uniform(0.08, 0.4),
        dirt_px=rng.uniform(3, 16) if rng.random() < 0.4 else 0.0,
        dirt=_three(np.array([0.8, 0.77, 0.7]) * rng.uniform(0.9, 1.15)),
        strip=strip, strip_at=rng.choice([-1, 1]) * rng.uniform(0.3, 0.47),
        strip_px=rng.uniform(0.5, 0.2 * width_px + 0.6),
        torn=rng.choice([-1, 1]) * rng.uniform(0.5, 1.5) if kind == "sealed_worn" else 0.0,
        valley=valley, tufts=1.0 if kind == "weed" else 0.0,
    )  # fmt: skip


def _facing(joint: Ribbon, light_rad: float) -> float:
    """Cosine between the line's normal and the light."""
    d = joint.centre_px[-1] - joint.centre_px[0]
    n = np.array([d[1], -d[0]]) / max(float(np.hypot(*d)), 1e-9)
    return float(n @ np.array([math.cos(light_rad), math.sin(light_rad)]))


def _shoulders(rgb: F32, joint: Ribbon, look: JointLook, light_rad: float) -> None:
    """Rounded edges of a tooled joint: one shoulder lit, the other in shade."""
    shape = (rgb.shape[0], rgb.shape[1])
    line, width = joint.centre_px, joint.width_px
    facing = _facing(joint, light_rad)
    reach, contrast = look.shoulder_px, look.shoulder
    steps = 1 if reach < 1.5 else (2 if reach < 4 else 4)
    w = reach / steps
    for side in (-1, 1):
        for k in range(steps):
            band = ribbon(line, w, side * (width / 2 + w * (k + 0.5)))
            slope = (1 - (k + 0.5) / steps) ** 1.2
            shade = 1 + contrast * slope * (-side * facing) * 1.2 - 0.25 * contrast * slope
            gain(rgb, cover([band], shape), float(np.clip(shade, 0.4, 1.5)))


def draw(rgb: F32, joint: Ribbon, look: JointLook, rng: np.random.Generator, light_rad: float) -> Stamp:
    """Draws a joint into `rgb` in place; returns the exact coverage of its groove."""
    shape = (rgb.shape[0], rgb.shape[1])
    line = joint.centre_px
    width = float(np.median(joint.width_px))
    stamp = cover([joint.ring], shape)
    if stamp.empty:
        return stamp
    size = (stamp.alpha.shape[0], stamp.alpha.shape[1])
    if look.margin_px > 0:
        band = cover([ribbon(line, 2 * look.margin_px)], shape)
        soft = cv2.GaussianBlur(band.alpha, (0, 0), 1.0, borderType=cv2.BORDER_REPLICATE)
        view = rgb[band.window]
        flat = cv2.GaussianBlur(view, (0, 0), 1.2) * np.float32(look.margin_tone)
        view += (soft * np.float32(0.7))[..., None] * (flat - view)
    if look.shoulder_px > 0:
        _shoulders(rgb, joint, look, light_rad)
    if look.dirt_px > 0:  # dirt gathers beside the groove
        band = cover([joint.widened(width + look.dirt_px)], shape)
        soft = cv2.GaussianBlur(band.alpha, (0, 0), look.dirt_px / 4)
        soft = soft * np.clip(0.6 + 0.5 * _along(rng, band, 22.0), 0, 1)
        gain(rgb, Stamp(band.row, band.col, soft), look.dirt)
    field = fractal(rng, size, look.mottle_px, 1.5, 0.8)[..., None]
    colour = np.asarray(look.core, np.float32) * (1 + np.float32(look.mottle) * field)
    if look.fine > 0:
        colour *= 1 + np.float32(look.fine) * lattice(rng, size, (1.8, 1.8))[..., None]
    if look.mix > -5:
        mix = np.clip(_along(rng, stamp, 30.0) * 1.2 + look.mix, 0, 1)[..., None]
        colour = colour * (1 - mix) + mix * np.asarray(look.second, np.float32)
    blend(rgb, stamp, np.clip(colour, 0.005, 1).astype(np.float32), look.strength)
    if look.valley > 0:  # a rounded bottom: darker towards the middle, one side in shade
        steps = 5 if width > 8 else 3 if width > 3 else 1
        lean = _facing(joint, light_rad) * 0.25
        for k in range(steps):
            part = 1 - (k + 0.5) / steps
            core = ribbon(line, joint.width_px * part, joint.width_px * (1 - part) * lean)
            gain(rgb, cover([core], shape), (1 - look.valley) ** (1 / steps))
    if look.strip > 0:
        strip = ribbon(line, look.strip_px, joint.width_px * look.strip_at)
        gain(rgb, cover([strip], shape), look.strip)
    if look.tufts > 0:
        tufts(rng, rgb, joint, look.tufts)
    if look.torn and width > 3:  # the sealant has let go of one edge
        edge = ribbon(line, abs(look.torn), math.copysign(1, look.torn) * joint.width_px / 2)
        torn = cover([edge], shape)
        if not torn.empty:
            part = torn.alpha * np.clip(_along(rng, torn, 25.0) + 0.4, 0, 1)
            blend(rgb, Stamp(torn.row, torn.col, part), (0.02, 0.02, 0.02))
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
        green = np.array([0.07, 0.12, 0.025]) if rng.random() < 0.6 else np.array([0.3, 0.24, 0.11])
        blend(rgb, cover(rings, shape), green * rng.uniform(0.5, 2.2))
