"""The two styles of drawing: one to train on, one kept out for evaluation."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from . import camera, cracks, holdout, shadows, stains, surface
from .curves import F64
from .noise import F32, Shape
from .truth import U8

Rng = np.random.Generator
Course = Callable[[Rng, cracks.CrackStyle, F64, F64], F64]


@dataclass(frozen=True, slots=True)
class Style:
    """The generators that differ between styles; the rasteriser and the truth are shared."""

    number: int
    concrete: Callable[[Rng, Shape, float, float], F32]
    stain: Callable[[Rng, F32, float], None]
    shadow: Callable[[Rng, Shape], F32]
    course: Course
    photograph: Callable[[F32, Rng], U8]


def _concrete(rng: Rng, shape: Shape, mm_per_px: float, light_rad: float) -> F32:
    return surface.concrete(rng, shape, mm_per_px, None, light_rad)


def _stain(rng: Rng, rgb: F32, light_rad: float) -> None:
    stains.STAINS[str(rng.choice(list(stains.STAINS)))](rng, rgb, light_rad)


def _photograph(rgb: F32, rng: Rng) -> U8:
    return camera.expose(rgb, camera.random_look(rng, float(rgb.mean())), rng)


STYLES: dict[str, Style] = {
    "train": Style(1, _concrete, _stain, shadows.cast, cracks.course, _photograph),
    "holdout": Style(2, holdout.concrete, holdout.stain, holdout.shadow, holdout.course, holdout.expose),
}


def style_of(name: str) -> Style:
    """The style of a name. Raises ValueError for another name."""
    if name not in STYLES:
        raise ValueError(f"tile style {name!r} is unknown: use one of {', '.join(STYLES)}")
    return STYLES[name]
