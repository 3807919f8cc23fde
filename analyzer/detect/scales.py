"""At which scales the network looks at a picture, and how its answers become one.

A fine look keeps hairlines; a coarse one sees more of the slab around each line, so that wide
cracks, coarse stones and joints fool it less. The two are joined by a formula per class whose
coefficients were fitted (``python -m analyzer.training.calibration``) and are kept beside the
weights: what a hairline loses by averaging, the greater of the two answers gives back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from analyzer.errors import RuleError

UInt8 = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.floating[Any]]

CLASSES = ("crack", "joint", "patch", "slab")
SURFACES = ("patch", "slab")
"""Areas and not lines: the coarse look alone decides."""

FINEST_MM_PER_PX = 0.25
"""Closer than this a photo is reduced first: a 0.3 mm hairline is wider than a pixel already."""

SMALL_SIDE_PX = 320
"""Pictures with a shorter side under this are thumbnails: too small for a coarse look."""


@dataclass(frozen=True, slots=True)
class Fusion:
    """Per class: how the logits of one look, or of a fine and a coarse look, become a probability.

    `single[class]` = (offset, slope); `double[class]` = (offset, fine, coarse, greater, lesser):
    logit = offset + fine x f + coarse x c + greater x max(f, c) + lesser x min(f, c).
    """

    single: Mapping[str, tuple[float, ...]]
    double: Mapping[str, tuple[float, ...]]
    logit_step: float
    logit_zero: int

    def line(self, name: str) -> UInt8:
        """255 x probability for each 8-bit logit of a single look, (256,)."""
        o, w = self.single[name]
        return _percent(o + w * (np.arange(256) - self.logit_zero) * self.logit_step)

    def join(self, name: str, fine: UInt8, coarse: UInt8) -> UInt8:
        """255 x probability from 8-bit logits of a fine and a coarse look of the same shape."""
        o, wf, wc, wg, wl = self.double[name]
        zero = self.logit_zero
        plain = cv2.addWeighted(fine, wf, coarse, wc, zero * (1 - wf - wc))
        sorted_ = cv2.addWeighted(cv2.max(fine, coarse), wg, cv2.min(fine, coarse), wl, zero * (1 - wg - wl))
        both = cv2.addWeighted(plain, 1.0, sorted_, 1.0, o / self.logit_step - zero)
        to_percent = _percent((np.arange(256) - zero) * self.logit_step)
        return np.asarray(cv2.LUT(both, to_percent), np.uint8)


def _percent(logit: Floats) -> UInt8:
    return np.asarray(np.rint(255 / (1 + np.exp(-np.clip(logit, -30, 30)))), np.uint8)


def read_fusion(about: Mapping[str, Any]) -> Fusion:
    """The fusion from the weights' companion file; plain probabilities when it has none.

    Raises
    ------
    RuleError
        If a class is missing or has the wrong number of coefficients.
    """
    fusion = about.get("fusion", {})
    single = {k: tuple(map(float, v)) for k, v in fusion.get("single", {}).items()}
    double = {k: tuple(map(float, v)) for k, v in fusion.get("double", {}).items()}
    for k in CLASSES:
        single.setdefault(k, (0.0, 1.0))
        double.setdefault(k, (0.0, 0.5, 0.5, 0.0, 0.0))
        if len(single[k]) != 2 or len(double[k]) != 5:
            raise RuleError(
                f"fusion of {k}",
                f"it has {len(single[k])} and {len(double[k])} coefficients",
                "give 2 for one scale and 5 for two",
            )
    return Fusion(single, double, float(about["logit_step"]), int(about["logit_zero"]))


def choose_scales(rgb: UInt8, mm_per_px: float | None = None) -> tuple[float, ...]:
    """Scales to look at, the finest first.

    At a known scale, a close-up is reduced until a pixel is `FINEST_MM_PER_PX`. Without one, a
    picture that holds no detail at its own resolution (out of focus, enlarged) is halved.
    """
    finest = 1.0
    if mm_per_px is not None:
        finest = min(1.0, mm_per_px / FINEST_MM_PER_PX)
    elif min(rgb.shape[:2]) >= 4 * SMALL_SIDE_PX and detail(rgb) < 0.1:
        finest = 0.5
    shortest = min(rgb.shape[:2]) * finest
    return (finest,) if shortest < SMALL_SIDE_PX else (finest, finest / 2)


def detail(rgb: UInt8) -> float:
    """Share of local contrast that is lost by halving the picture, 0..1; sampled in windows.

    About 0.25 or more for a sharp photograph of concrete, near 0 for an enlarged one.
    """
    side = 256
    rows, cols = rgb.shape[:2]
    shares = []
    for r in np.linspace(0, max(rows - side, 0), 4).astype(int):
        for c in np.linspace(0, max(cols - side, 0), 4).astype(int):
            gray = cv2.cvtColor(rgb[r : r + side, c : c + side], cv2.COLOR_RGB2GRAY)
            gray = gray.astype(np.float32)
            half = cv2.resize(gray, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
            back = cv2.resize(half, (gray.shape[1], gray.shape[0]), interpolation=cv2.INTER_CUBIC)
            around = cv2.GaussianBlur(gray, (0, 0), 4)
            whole = float(np.mean((gray - around) ** 2))
            shares.append(float(np.mean((gray - back) ** 2)) / (whole + 0.25))
    return float(np.sqrt(np.median(shares)))


def fuse(
    levels: Sequence[UInt8],
    scales: Sequence[float],
    shape: tuple[int, int],
    fusion: Fusion,
) -> list[UInt8]:
    """Maps of 255 x probability, (R, C) each, from one or two looks (4, r, c) of 8-bit logits."""
    rows, cols = shape
    out = []
    for i, name in enumerate(CLASSES):
        fine = levels[0][i]
        if len(levels) == 1 or name in SURFACES:
            score = np.asarray(cv2.LUT(levels[-1][i], fusion.line(name)), np.uint8)
        else:
            coarse = cv2.resize(levels[1][i], (fine.shape[1], fine.shape[0]), interpolation=cv2.INTER_LINEAR)
            score = fusion.join(name, fine, np.asarray(coarse, np.uint8))
        if score.shape != (rows, cols):
            score = np.asarray(cv2.resize(score, (cols, rows), interpolation=cv2.INTER_LINEAR), np.uint8)
        out.append(score)
    return out
