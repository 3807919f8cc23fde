"""At which scales the network looks at a picture, and how its answers become one.

A fine look keeps hairlines; a coarse one sees more of the slab around each line, so that wide
cracks, coarse stones and joints fool it less. For cracks two neighbouring looks are averaged, so
that what only one of them sees must be seen clearly, and the greatest of these averages counts, so
that a hairline need not show in the coarse looks nor a wide crack in the fine ones. A plain average
of all looks loses hairlines; a plain greatest keeps every false alarm (figures: MODEL_CARD.md).
Joints, which are wide or long, take the plain average; areas take the look at half scale.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from analyzer.errors import RuleError

UInt8 = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.floating[Any]]

CLASSES = ("crack", "joint", "patch", "slab")
PLANS = ("enlarged", "native")
"""Whether the finest look is an enlargement or the picture as it is; each is calibrated apart."""

FINEST_MM_PER_PX = 0.25
"""Looking closer than this shows no more: a 0.3 mm hairline is wider than a pixel already."""

WORK_PX = 12_000_000
"""A picture is enlarged only as far as its finest look stays under this: it bounds the time."""

ENLARGED_MOST = 2.0
ENLARGED_LEAST = 1.25
"""Smaller enlargements are not worth the blur of resampling."""

COARSEST = 0.25
COARSEST_SIDE_PX = 32
"""The coarsest look, and the shortest side that it may have."""

NATIVE_FINE_SHARE = 0.7
"""Share of the finest look in its pair when that look is not enlarged: hairlines hang on it."""

SOFT_DETAIL = 0.1
"""Below this :func:`detail` a picture holds nothing at its own resolution."""


@dataclass(frozen=True, slots=True)
class Fusion:
    """Offset and slope that make a class's joined logit a probability: `offset[plan][class]`."""

    offset: Mapping[str, Mapping[str, float]]
    slope: Mapping[str, Mapping[str, float]]
    logit_step: float
    logit_zero: int

    def table(self, plan: str, name: str) -> UInt8:
        """255 x probability for each 8-bit logit, (256,)."""
        logit = (np.arange(256) - self.logit_zero) * self.logit_step
        z = self.offset[plan][name] + self.slope[plan][name] * logit
        return np.asarray(np.rint(255 / (1 + np.exp(-np.clip(z, -30, 30)))), np.uint8)


def read_fusion(about: Mapping[str, Any]) -> Fusion:
    """The calibration from the weights' companion file; plain logistic when it has none.

    Raises
    ------
    RuleError
        If a plan or class is missing or unknown.
    """
    table = about.get("calibration") or {p: {k: [0.0, 1.0] for k in CLASSES} for p in PLANS}
    if set(table) != set(PLANS) or any(set(table[p]) != set(CLASSES) for p in PLANS):
        raise RuleError(
            "calibration of the weights",
            f"it lists {', '.join(sorted(table))}",
            f"give {' and '.join(PLANS)}, each with {', '.join(CLASSES)}",
        )
    offset = {p: {k: float(v[0]) for k, v in table[p].items()} for p in PLANS}
    slope = {p: {k: float(v[1]) for k, v in table[p].items()} for p in PLANS}
    return Fusion(offset, slope, float(about["logit_step"]), int(about["logit_zero"]))


def choose_scales(rgb: UInt8, mm_per_px: float | None = None) -> tuple[float, ...]:
    """Scales to look at, the finest first, each half the one before.

    A small picture is enlarged up to two times, because the network, whose features live at half
    resolution, sees one-pixel lines better then. At a known scale nothing is looked at closer than
    `FINEST_MM_PER_PX`. A picture without detail at its own resolution (out of focus, enlarged) is
    looked at from twice as far.
    """
    rows, cols = rgb.shape[:2]
    finest = min(ENLARGED_MOST, (WORK_PX / (rows * cols)) ** 0.5)
    finest = finest if finest >= ENLARGED_LEAST else 1.0
    if mm_per_px is not None:
        closest = mm_per_px / FINEST_MM_PER_PX
        finest = min(finest, closest if closest >= ENLARGED_LEAST else min(closest, 1.0))
    elif detail(rgb) < SOFT_DETAIL:
        finest /= 2
    # a picture that is tiny at its finest look is looked at as it is, however close it was taken
    finest = max(finest, min(1.0, 4 * COARSEST_SIDE_PX / min(rows, cols)))
    scales = [finest]
    while scales[-1] / 2 >= COARSEST * 0.7 and scales[-1] / 2 * min(rows, cols) >= COARSEST_SIDE_PX:
        scales.append(scales[-1] / 2)
    return tuple(scales)


def plan_of(scales: Sequence[float]) -> str:
    """``enlarged`` or ``native``, see `PLANS`."""
    return PLANS[0] if scales[0] >= ENLARGED_LEAST else PLANS[1]


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


def join(levels: Sequence[UInt8], scales: Sequence[float], shape: tuple[int, int]) -> list[UInt8]:
    """One map of 8-bit logits (R, C) per class from looks (4, r, c), the finest first.

    `shape` is the picture's (R, C).
    """
    size = (shape[1], shape[0])

    def full(level: int, plane: int) -> UInt8:
        part = levels[level][plane]
        if part.shape == shape:
            return part
        return np.asarray(cv2.resize(part, size, interpolation=cv2.INTER_LINEAR), np.uint8)

    crack = full(0, 0)
    if len(levels) > 1:
        looks = [crack, *(full(i, 0) for i in range(1, len(levels)))]
        shares = [0.5] * (len(looks) - 1)
        if plan_of(scales) == "native":
            shares[0] = NATIVE_FINE_SHARE
        pairs = [
            cv2.addWeighted(fine, a, coarse, 1 - a, 0)
            for (fine, coarse), a in zip(pairwise(looks), shares, strict=True)
        ]
        crack = np.asarray(pairs[0], np.uint8)
        for other in pairs[1:]:
            crack = np.asarray(cv2.max(crack, other), np.uint8)
    near = [i for i, s in enumerate(scales) if s >= 0.35] or [0]
    joint = full(near[0], 1)
    for done, i in enumerate(near[1:], start=1):
        joint = np.asarray(cv2.addWeighted(joint, done / (done + 1), full(i, 1), 1 / (done + 1), 0), np.uint8)
    area = min(range(len(scales)), key=lambda i: abs(np.log(scales[i] / 0.5)))
    return [crack, joint, full(area, 2), full(area, 3)]


def fuse(
    levels: Sequence[UInt8], scales: Sequence[float], shape: tuple[int, int], fusion: Fusion
) -> list[UInt8]:
    """Maps of 255 x probability, (R, C) each, from looks (4, r, c) of 8-bit logits."""
    plan = plan_of(scales)
    joined = join(levels, scales, shape)
    return [
        np.asarray(cv2.LUT(z, fusion.table(plan, name)), np.uint8)
        for z, name in zip(joined, CLASSES, strict=True)
    ]
