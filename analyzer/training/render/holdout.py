"""A second way to draw everything, for evaluation only: never trained on.

It shares the exact rasteriser, the truth, the joints' make, grounds and loose things with the
training style, and nothing else: surfaces come from filtered spectra and from heaps of overlapping
discs, crack courses are cheapest paths through random resistance, stains are diffused pools and
brush strokes, shadows are lattices and crowns of discs, and the camera has a defocus disc, film-like
grain, row banding, another tone curve and another codec.
"""

from __future__ import annotations

import math

import cv2
import numpy as np

from . import curves
from .cracks import CrackStyle
from .curves import F64
from .noise import F32, Shape, smoothstep, white
from .raster import Stamp, blend, cover, disc, full, gain, normals, ribbon
from .truth import U8

Rng = np.random.Generator


def spectrum(
    rng: Rng, shape: Shape, slope: float, low_px: float, high_px: float,
    direction: float | None = None, narrow: float = 6.0,
) -> F32:  # fmt: skip
    """Gaussian field of unit deviation with power falling as frequency**-slope between two
    wavelengths; a `direction` keeps waves within about 1/`narrow` rad of it."""
    rows, cols = (cv2.getOptimalDFTSize(n) for n in shape)
    spec = cv2.dft(white(rng, (rows, cols)), flags=cv2.DFT_COMPLEX_OUTPUT)
    fr = np.fft.fftfreq(rows).astype(np.float32)[:, None]
    fc = np.fft.fftfreq(cols).astype(np.float32)[None, :]
    f = np.sqrt(fr * fr + fc * fc)
    keep = np.maximum(f, 1e-5) ** np.float32(-slope / 2)
    keep *= (f > 1 / low_px) & (f < 1 / high_px)
    if direction is not None:
        across = fr * np.float32(math.cos(direction)) + fc * np.float32(math.sin(direction))
        keep *= np.exp(-narrow * (1 - np.abs(across) / np.maximum(f, 1e-6)) * narrow)
    spec *= keep[..., None]
    out = cv2.dft(spec, flags=cv2.DFT_INVERSE | cv2.DFT_REAL_OUTPUT | cv2.DFT_SCALE)
    out = out[: shape[0], : shape[1]]
    return np.asarray(out / max(float(out.std()), 1e-9), np.float32)


def discs(rng: Rng, rgb: F32, radius_px: float, share: float, spread: float) -> None:
    """Stones as discs and polygons laid over each other, in place."""
    shape = (rgb.shape[0], rgb.shape[1])
    count = int(min(share * shape[0] * shape[1] / (3.1 * radius_px**2), 2600))
    base = rgb.mean(axis=(0, 1))
    for _ in range(6):
        rings = []
        for _ in range(count // 6):
            n = int(rng.integers(5, 10))
            t = np.sort(rng.uniform(0, 2 * math.pi, n))
            r = radius_px * float(rng.lognormal(0, 0.35))
            rings.append(np.stack([np.sin(t), np.cos(t)], axis=1) * r + rng.uniform(0, 1, 2) * shape)
        stamp = cover(rings, shape)
        if stamp.empty:
            continue
        size = (stamp.alpha.shape[0], stamp.alpha.shape[1])
        own = np.exp(rng.normal(0, spread)) * (1 + rng.normal(0, 0.04, 3))
        edge = cv2.GaussianBlur(stamp.alpha, (0, 0), max(radius_px * 0.2, 0.7)) * stamp.alpha
        vary = 1 + 0.1 * cv2.GaussianBlur(white(rng, size), (0, 0), radius_px * 0.8) * radius_px * 1.5
        shade = (0.6 + 0.4 * edge) * vary
        blend(rgb, stamp, np.clip(base * own * shade[..., None], 0.01, 1).astype(np.float32), 0.9)


def concrete(rng: Rng, shape: Shape, mm_per_px: float, light_rad: float) -> F32:
    """Reflectance of a concrete surface."""
    level = rng.uniform(0.16, 0.5)
    base = (level * (1 + rng.normal(0, 0.02, 3) + rng.normal(0, 0.04) * np.array([1, 0, -1]))).astype(
        np.float32
    )
    tone = spectrum(rng, shape, rng.uniform(1.6, 3.2), 900, 3) * np.float32(rng.uniform(0.03, 0.12))
    fine = spectrum(rng, shape, rng.uniform(0.0, 1.0), 12, 2) * np.float32(rng.uniform(0.02, 0.12))
    rgb = base * np.exp(tone + fine)[..., None]
    kind = rng.random()
    if kind < 0.3:  # brushed
        pitch = max(rng.uniform(2, 6) / mm_per_px, 2.5)
        lines = spectrum(rng, shape, 0.5, pitch * 4, pitch, rng.uniform(0, math.pi), rng.uniform(5, 14))
        rgb *= np.exp(lines * np.float32(rng.uniform(0.02, 0.09)))[..., None]
    elif kind < 0.65:  # stones
        r = float(np.clip(rng.uniform(1.5, 10) / mm_per_px, 1.6, 26))
        discs(rng, rgb, r, rng.uniform(0.2, 1.6), rng.uniform(0.08, 0.3))
    if rng.random() < 0.4:  # pits
        rings = [
            disc((0, 0), float(rng.lognormal(0.3, 0.5)), 9) + rng.uniform(0, 1, 2) * shape
            for _ in range(int(rng.integers(20, 250)))
        ]
        gain(rgb, cover(rings, shape), rng.uniform(0.2, 0.8))
    return np.clip(rgb, 0.01, 1).astype(np.float32)


def course(rng: Rng, style: CrackStyle, start: F64, end: F64) -> F64:
    """Cheapest path from start to end through a field of random resistance."""
    from skimage.graph import route_through_array

    d = end - start
    size = float(np.hypot(*d))
    if size < 12:
        return np.stack([start, end])
    n = int(np.clip(size / 4, 16, 110))
    wide = max(n // 2, 10) | 1
    cost = cv2.GaussianBlur(white(rng, (wide, n)), (0, 0), 1.0) * 2
    cost += cv2.GaussianBlur(white(rng, (wide, n)), (0, 0), 3.0) * 5
    field = np.exp(np.clip((0.6 + 2.0 * style.kink) * cost, -4, 4))
    path, _ = route_through_array(field, (wide // 2, 0), (wide // 2, n - 1), geometric=True)
    p = np.array(path, dtype=np.float64)
    along = p[:, 1] / (n - 1)
    across = (p[:, 0] - wide // 2) / (n - 1)
    k = np.ones(3) / 3
    across = np.convolve(np.pad(across, 1, mode="edge"), k, "valid")
    side = np.array([d[1], -d[0]])
    line = curves.resample(start + along[:, None] * d + across[:, None] * side, 1.5)
    return line + normals(line) * (rng.normal(0, 0.35, len(line)) * min(style.jitter_px, 1.0))[:, None]


def stain(rng: Rng, rgb: F32, light_rad: float) -> None:
    """Diffused pools, rings or brush strokes, in place."""
    shape = (rgb.shape[0], rgb.shape[1])
    kind = rng.random()
    tint = np.array([1.0, rng.uniform(0.85, 1.0), rng.uniform(0.65, 1.0)])
    if kind < 0.4:
        f = np.zeros(shape, np.float32)
        at = rng.uniform(0, 1, 2) * shape
        for _ in range(int(rng.integers(3, 12))):
            p = at + rng.normal(0, 50, 2)
            f = np.maximum(f, full(cover([disc((p[0], p[1]), rng.uniform(6, 60), 30)], shape), shape))
        f = cv2.GaussianBlur(f, (0, 0), rng.uniform(3, 15))
        a = smoothstep(f, 0.35, rng.uniform(0.4, 0.9))
        gain(rgb, Stamp(0, 0, a), tint * rng.uniform(0.45, 0.9))
    elif kind < 0.65:
        p, r = rng.uniform(0, 1, 2) * shape, rng.uniform(10, 150)
        outer = full(cover([disc((p[0], p[1]), r, 80)], shape), shape)
        inner = full(cover([disc((p[0], p[1]), r - rng.uniform(2, 12), 80)], shape), shape)
        a = cv2.GaussianBlur(outer - inner, (0, 0), rng.uniform(0.8, 3))
        gain(rgb, Stamp(0, 0, np.clip(a, 0, 1)), tint * rng.uniform(0.5, 0.9))
    else:
        line = curves.smooth_curve(rng, rng.uniform(80, 900), rng.uniform(0, 6.28), 0.8)
        line = line + rng.uniform(0, 1, 2) * shape
        for _ in range(6):
            off, w = rng.normal(0, 9), rng.uniform(1, 9)
            gain(rgb, cover([ribbon(line, w, off)], shape), tint * rng.uniform(0.8, 1.08))


def shadow(rng: Rng, shape: Shape) -> F32:
    """Gain picture (rows, cols, 3) of a lattice, a crown of discs or a straight roof edge."""
    kind = rng.random()
    rings: list[F64] = []
    if kind < 0.3:
        pitch, a = rng.uniform(20, 140), rng.uniform(0, math.pi)
        for turn in (a, a + math.pi / 2):
            u, v = curves.turned(turn), curves.turned(turn + math.pi / 2)
            for k in range(-18, 19):
                p = np.array(shape) / 2 + v * k * pitch
                rings.append(ribbon(np.stack([p - u * 900, p + u * 900]), pitch * 0.12))
    elif kind < 0.65:
        for _ in range(int(rng.integers(20, 160))):
            p = rng.uniform(-0.1, 1.1, 2) * shape
            rings.append(disc((p[0], p[1]), rng.uniform(3, 40), 7))
    else:
        p, u = rng.uniform(0.2, 0.8, 2) * shape, curves.turned(rng.uniform(0, 6.28))
        v = np.array([-u[1], u[0]])
        rings.append(np.stack([p - v * 2000, p + v * 2000, p + v * 2000 + u * 2000, p - v * 2000 + u * 2000]))
    dark = cv2.GaussianBlur(full(cover(rings, shape), shape), (0, 0), rng.uniform(0.5, 6))
    return np.asarray(1 - dark[..., None] * np.array([1, 0.98, 0.92]) * rng.uniform(0.25, 0.7), np.float32)


def expose(rgb: F32, rng: Rng) -> U8:
    """Photographs a linear picture with the other camera; returns uint8 RGB."""
    rows, cols = rgb.shape[:2]
    img = rgb * np.float32(rng.uniform(0.18, 0.45) / max(float(rgb.mean()), 0.02))
    img *= np.exp(rng.normal(0, 0.03, 3)).astype(np.float32)
    r = rng.uniform(0.4, 1.6)
    k = int(r) * 2 + 3
    yy, xx = np.mgrid[0:k, 0:k] - k // 2
    kernel = np.clip(r + 0.5 - np.hypot(yy, xx), 0, 1).astype(np.float32)
    img = cv2.filter2D(img, -1, kernel / kernel.sum(), borderType=cv2.BORDER_REFLECT)
    img = np.clip(img, 0, None) / (1 + 0.25 * np.clip(img, 0, None)) * np.float32(1.15)
    img = img ** np.float32(1 / rng.uniform(1.7, 2.3))
    grain = cv2.GaussianBlur(white(rng, (rows, cols)), (0, 0), rng.uniform(0.5, 1.0))
    img *= (1 + grain * np.float32(rng.uniform(0.0, 0.05)))[..., None]
    img += white(rng, (rows, 1))[..., None] * np.float32(rng.uniform(0, 0.004))
    img += rng.standard_normal(img.shape, dtype=np.float32) * np.float32(rng.uniform(0, 0.012))
    out: U8 = np.clip(img * 255 + 0.5, 0, 255).astype(np.uint8)
    if rng.random() < 0.8:
        _, code = cv2.imencode(".webp", out[..., ::-1], [cv2.IMWRITE_WEBP_QUALITY, int(rng.integers(40, 95))])
        out = np.ascontiguousarray(np.asarray(cv2.imdecode(code, cv2.IMREAD_COLOR), np.uint8)[..., ::-1])
    return out
