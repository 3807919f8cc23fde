"""Pictures of cracks drawn with known width: exact area coverage, blur, texture, noise, sRGB."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt
import pytest

from analyzer.records import (
    Calibration,
    Corner,
    CrackBranch,
    CrackTrace,
    EdgeEntry,
    FieldBook,
    JobHead,
    JointTrace,
    Photo,
)
from analyzer.terms import Abuts, JointKind, ScaleMethod

Array = npt.NDArray[np.float64]
SUPERSAMPLING = 8


@dataclass(frozen=True)
class Drawn:
    """A picture and the true centreline of its crack as (row, col), finely sampled."""

    photo: Photo
    center_px: Array


def pixel_chain(points: Array) -> Array:
    """Chain of 8-connected pixels along a finely sampled curve, as a thinned trace would be."""
    pixels = np.rint(points).astype(int)
    pixels = pixels[np.concatenate([[True], (np.diff(pixels, axis=0) != 0).any(axis=1)])]
    chain = [pixels[0]]
    for pixel in pixels[1:]:
        if len(chain) > 1 and np.abs(pixel - chain[-2]).max() <= 1:
            chain[-1] = pixel
        else:
            chain.append(pixel)
    return np.array(chain, dtype=float)


def _texture(rng: np.random.Generator, shape: tuple[int, int], std: float, grain: float) -> Array:
    noise = cv2.GaussianBlur(rng.normal(size=shape), (0, 0), grain)
    return noise / noise.std() * std


def draw(
    width_px: float,
    angle_deg: float,
    *,
    blur: float = 1.0,
    texture: float = 0.05,
    floor: float = 0.15,
    seed: int = 0,
    size: int = 200,
    wave: tuple[float, float] = (0.0, 1.0),
    widen: float = 0.0,
    share: float = 0.4,
) -> Drawn:
    """Draw one crack across a square picture.

    ``floor`` is its light over that of the concrete (over 1: brighter). ``wave`` (amplitude,
    wavelength) bends it, ``widen`` makes it that much wider on its middle fifth. Light is mixed
    by exact coverage (8 x 8 sub-pixels), blurred, then coded as sRGB with 8 bits.
    """
    rng = np.random.default_rng(seed)
    n = size * SUPERSAMPLING
    center = size / 2 + rng.uniform(-0.5, 0.5, 2)
    a = np.radians(angle_deg)
    at = (np.arange(n, dtype=np.float32) + 0.5) / SUPERSAMPLING - 0.5
    row, col = at[:, None] - np.float32(center[0]), at[None, :] - np.float32(center[1])
    along = -np.float32(np.sin(a)) * row + np.float32(np.cos(a)) * col
    off = np.float32(np.cos(a)) * row + np.float32(np.sin(a)) * col
    off = off - np.float32(wave[0]) * np.sin(2 * np.pi / wave[1] * along)
    opening = width_px + widen * (np.abs(along) < size / 10)
    cover = (np.abs(off) <= opening / 2).astype(np.float32)
    cover = cover.reshape(size, SUPERSAMPLING, size, SUPERSAMPLING).mean(axis=(1, 3)).astype(float)
    if blur > 0:
        cover = cv2.GaussianBlur(cover, (0, 0), blur)
    shape = (size, size)
    concrete = 0.42 * (1 + 0.12 * np.linspace(-1, 1, size)[None, :] + np.zeros(shape))
    core = 0.42 * floor * np.ones(shape)
    if texture > 0:
        concrete *= 1 + _texture(rng, shape, texture, 1.0) + _texture(rng, shape, texture, 5.0)
        core *= 1 + _texture(rng, shape, 0.15 if floor < 1 else 0.05, 2.0)
    light = np.clip(concrete * (1 - cover) + core * cover, 0, 1)
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    coded = 255 * coded + (rng.normal(0, 1.5, shape) if texture > 0 else 0)
    grey = np.clip(np.rint(coded), 0, 255).astype(np.uint8)
    s = np.linspace(-share * size, share * size, 40 * size)
    bend = wave[0] * np.sin(2 * np.pi / wave[1] * s)
    line = np.stack([-np.sin(a) * s + np.cos(a) * bend, np.cos(a) * s + np.sin(a) * bend], axis=1)
    photo = Photo("P1", "drawn.png", np.repeat(grey[:, :, None], 3, axis=2), "0" * 64, 1)
    return Drawn(photo, center + line)


def calibration(plan_from_px: Array, scale_u_rel: float = 0.0, photo_id: str = "P1") -> Calibration:
    """A scale without residuals."""
    return Calibration(
        photo_id, np.array(plan_from_px, dtype=float), ScaleMethod.MARKER_SHEETS, 0.0, scale_u_rel, 0.0, ()
    )


def straight_down(mm_per_px: float) -> Array:
    """plan_from_px of a camera looking straight down."""
    return np.array([[0.0, mm_per_px, 0.0], [-mm_per_px, 0.0, 0.0], [0.0, 0.0, 1.0]])


def crack(chain_mm: Array, name: str = "C1") -> CrackTrace:
    """A crack of one branch."""
    return CrackTrace(name, (CrackBranch(np.asarray(chain_mm, dtype=float), 0.9, 0, 1),), 0.9)


def joint(name: str, *points: tuple[float, float], typed: bool = False) -> JointTrace:
    """A joint through points."""
    return JointTrace(
        name, np.array(points, dtype=float), JointKind.CONTRACTION, 1.0 if typed else 0.8, typed
    )


def field_book(outline: list[tuple[float, float]], house: int | None = 0) -> FieldBook:
    """A field book of an invented job with an outline and, if any, one house edge."""
    corners = tuple(Corner(chr(65 + i), x, y) for i, (x, y) in enumerate(outline))
    edges = ()
    if house is not None:
        edges = (EdgeEntry(corners[house].name, corners[(house + 1) % len(corners)].name, Abuts.HOUSE),)
    head = JobHead("J", "invented walk", dt.date(2024, 5, 1), "nobody", invented=True)
    return FieldBook(head, corners, "field_book.toml", "0" * 64, edges=edges)


@dataclass(frozen=True)
class Kit:
    """The helpers above, for test modules (they cannot import each other)."""

    draw: Callable[..., Drawn]
    pixel_chain: Callable[[Array], Array]
    calibration: Callable[..., Calibration]
    straight_down: Callable[[float], Array]
    crack: Callable[..., CrackTrace]
    joint: Callable[..., JointTrace]
    field_book: Callable[..., FieldBook]


@pytest.fixture(scope="session")
def kit() -> Kit:
    """Drawing and building helpers."""
    return Kit(draw, pixel_chain, calibration, straight_down, crack, joint, field_book)
