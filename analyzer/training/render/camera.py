"""From reflectance to a stored photograph: light, lens, sensor, tone, sharpening, JPEG."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from .noise import F32, lattice, white

U8 = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class CameraLook:
    """Settings of the photographic chain. `PLAIN` is the noise-free, sharp, linear camera."""

    exposure: float = 1.0
    white_balance: tuple[float, float, float] = (1.0, 1.0, 1.0)
    blur_px: float = 0.0
    motion_px: float = 0.0
    motion_rad: float = 0.0
    vignette: float = 0.0
    aberration_px: float = 0.0
    noise: float = 0.0
    noise_px: float = 0.0
    bayer: bool = False
    smooth: float = 0.0
    gamma: str = "linear"
    curve: float = 0.0
    saturation: float = 1.0
    black: float = 0.0
    sharpen: float = 0.0
    sharpen_px: float = 1.0
    enlarge: float = 1.0
    jpeg: int = 0


PLAIN = CameraLook()


def random_look(rng: np.random.Generator, mean_level: float) -> CameraLook:
    """A phone or compact camera; `mean_level` is the scene's mean linear value before exposure."""
    target = float(np.clip(np.exp(rng.normal(math.log(0.26), 0.42)), 0.05, 0.75))
    warm, green = rng.normal(0, 0.05), rng.normal(0, 0.015)
    if rng.random() < 0.12:
        warm, green = rng.normal(0, 0.14), rng.normal(0, 0.04)
    cast = np.exp(np.array([warm, green, -warm]))
    noisy = float(np.exp(rng.uniform(math.log(0.002), math.log(0.035))))
    return CameraLook(
        exposure=target / max(mean_level, 0.02),
        white_balance=(float(cast[0]), float(cast[1]), float(cast[2])),
        blur_px=float(rng.uniform(0.3, 0.9) if rng.random() < 0.7 else rng.uniform(0.7, 2.2)),
        motion_px=float(rng.uniform(1.5, 7.0)) if rng.random() < 0.1 else 0.0,
        motion_rad=float(rng.uniform(0, math.pi)),
        vignette=float(rng.uniform(0, 0.25)) if rng.random() < 0.3 else 0.0,
        aberration_px=float(rng.uniform(0.2, 1.0)) if rng.random() < 0.2 else 0.0,
        noise=noisy,
        noise_px=float(rng.uniform(0.5, 1.1)) if rng.random() < 0.4 else 0.0,
        bayer=bool(rng.random() < 0.5),
        smooth=float(rng.uniform(0.3, 0.9)) if rng.random() < 0.25 else 0.0,
        gamma="srgb",
        curve=float(rng.uniform(-0.15, 0.6)),
        saturation=float(rng.uniform(0.5, 1.3)),
        black=float(rng.uniform(0, 0.04)) if rng.random() < 0.4 else 0.0,
        sharpen=float(rng.uniform(0.2, 1.8)) if rng.random() < 0.65 else 0.0,
        sharpen_px=float(rng.uniform(0.6, 1.8)),
        enlarge=float(rng.uniform(1.2, 2.6)) if rng.random() < 0.15 else 1.0,
        jpeg=int(rng.integers(35, 97)) if rng.random() < 0.9 else 0,
    )


_GRID = np.linspace(0, 1, 4096, dtype=np.float32)
_SRGB = np.where(_GRID <= 0.0031308, 12.92 * _GRID, 1.055 * _GRID ** (1 / 2.4) - 0.055).astype(
    np.float32
)  # IEC 61966-2-1 transfer function, from memory


def encode(linear: F32, curve: float = 0.0) -> F32:
    """sRGB encoding of 0..1 light with an S-curve of strength `curve`, by table."""
    table = _SRGB
    if curve:
        s = table * table * (3 - 2 * table)
        table = table + np.float32(curve) * (s - table)
    index = np.clip(linear * 4095 + 0.5, 0, 4095).astype(np.uint16)
    return np.asarray(table[index], np.float32)


def expose(rgb: F32, look: CameraLook, rng: np.random.Generator) -> U8:
    """Photographs a linear picture (rows, cols, 3); returns uint8 RGB. `rgb` is used up."""
    rows, cols = rgb.shape[:2]
    shape = (rows, cols)
    img = rgb
    img *= np.asarray(look.white_balance, np.float32) * np.float32(look.exposure)
    if look.blur_px > 0.25:
        img = cv2.GaussianBlur(img, (0, 0), look.blur_px)
    if look.motion_px > 1:
        k = int(look.motion_px) * 2 + 3
        kernel = np.zeros((k, k), np.float32)
        half = look.motion_px / 2
        d = np.array([math.sin(look.motion_rad), math.cos(look.motion_rad)]) * half * 16
        mid = (k // 2) * 16
        cv2.line(
            kernel, (round(mid - d[0]), round(mid - d[1])), (round(mid + d[0]), round(mid + d[1])),
            1.0, 1, cv2.LINE_AA, 4,
        )  # fmt: skip
        img = cv2.filter2D(img, -1, kernel / kernel.sum(), borderType=cv2.BORDER_REFLECT)
    if look.vignette > 0:
        r = np.linspace(-1, 1, rows, dtype=np.float32)[:, None] ** 2
        c = np.linspace(-1, 1, cols, dtype=np.float32)[None, :] ** 2
        img *= (1 - np.float32(look.vignette / 2) * (r + c))[..., None]
    if look.aberration_px > 0:
        for ch, sign in ((0, 1.0), (2, -1.0)):
            k = 1 + sign * look.aberration_px * 2 / max(rows, cols)
            m = np.array([[k, 0, (1 - k) * cols / 2], [0, k, (1 - k) * rows / 2]])
            img[..., ch] = cv2.warpAffine(
                np.ascontiguousarray(img[..., ch]), m, (cols, rows), borderMode=cv2.BORDER_REFLECT
            )
    if look.noise > 0:
        if look.bayer:
            img = _mosaic(img, look.noise, rng)
        else:
            for ch in range(3):
                n = white(rng, shape)
                if look.noise_px > 0.3:
                    n = cv2.GaussianBlur(n, (0, 0), look.noise_px) * np.float32(2.2 * look.noise_px)
                level = np.sqrt(np.maximum(img[..., ch], 0) * 1.5 + 0.04)
                img[..., ch] += n * level * np.float32(look.noise)
    if look.smooth > 0:
        soft = cv2.GaussianBlur(img, (0, 0), 1.2)
        img = img + np.float32(look.smooth) * (soft - img)
    if look.gamma == "srgb":
        img = encode(img, look.curve)
    else:
        img = np.clip(img, 0, 1)
    if look.saturation != 1.0:
        gray = img @ np.array([0.299, 0.587, 0.114], np.float32)
        img = gray[..., None] + np.float32(look.saturation) * (img - gray[..., None])
    if look.black > 0:
        img = img * np.float32(1 - look.black) + np.float32(look.black)
    if look.sharpen > 0:
        soft = cv2.GaussianBlur(img, (0, 0), look.sharpen_px)
        img = img + np.float32(look.sharpen) * (img - soft)
    out: U8 = np.clip(img * 255 + 0.5, 0, 255).astype(np.uint8)
    if look.enlarge > 1.0:  # a crop of a small picture: stored first, enlarged later
        size = (max(round(cols / look.enlarge), 8), max(round(rows / look.enlarge), 8))
        out = np.asarray(cv2.resize(out, size, interpolation=cv2.INTER_AREA), np.uint8)
    if look.jpeg:
        out = jpeg(out, look.jpeg)
    if look.enlarge > 1.0:
        out = np.asarray(cv2.resize(out, (cols, rows), interpolation=cv2.INTER_CUBIC), np.uint8)
    return out


def _mosaic(img: F32, noise: float, rng: np.random.Generator) -> F32:
    """Sees through a colour filter mosaic with shot and read noise, then interpolates it."""
    rows, cols = img.shape[:2]
    raw = np.empty((rows, cols), np.float32)
    raw[0::2, 0::2] = img[0::2, 0::2, 0]
    raw[0::2, 1::2] = img[0::2, 1::2, 1]
    raw[1::2, 0::2] = img[1::2, 0::2, 1]
    raw[1::2, 1::2] = img[1::2, 1::2, 2]
    raw += white(rng, (rows, cols)) * np.sqrt(np.maximum(raw, 0) * 1.5 + 0.04) * np.float32(noise)
    raw16 = np.clip(raw * 40000 + 4000, 0, 65535).astype(np.uint16)
    rgb = cv2.cvtColor(raw16, cv2.COLOR_BayerRGGB2RGB)
    return np.asarray((rgb.astype(np.float32) - 4000) / 40000, np.float32)


def jpeg(rgb: U8, quality: int) -> U8:
    """Stores and reads a picture as JPEG."""
    _, code = cv2.imencode(".jpg", rgb[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
    back = np.asarray(cv2.imdecode(code, cv2.IMREAD_COLOR), np.uint8)
    return np.ascontiguousarray(back[..., ::-1])


def uneven_light(rng: np.random.Generator, shape: tuple[int, int], strength: float) -> F32:
    """Slow gain of illumination over the picture, mean about 1."""
    rows, cols = shape
    r = np.linspace(-1, 1, rows, dtype=np.float32)[:, None]
    c = np.linspace(-1, 1, cols, dtype=np.float32)[None, :]
    a = rng.normal(0, strength, 2).astype(np.float32)
    slow = lattice(rng, shape, (max(rows, cols) * 0.8,) * 2) * np.float32(strength * 0.5)
    return np.asarray(np.exp(a[0] * r + a[1] * c + slow), np.float32)
