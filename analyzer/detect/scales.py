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
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from analyzer.errors import RuleError

UInt8 = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.floating[Any]]

CLASSES = ("crack", "joint", "patch", "slab")
SURFACES = ("patch", "slab")
Look = Mapping[str, UInt8]
"""8-bit logits (r, c) by class, of one look at a picture."""

PLANS = ("enlarged", "native")
"""Whether the finest look is an enlargement or the picture as it is; each is calibrated apart."""

FINEST_MM_PER_PX = 0.25
"""Looking closer than this shows no more: a 0.3 mm hairline is wider than a pixel already."""

WORK_PX = 12_000_000
"""A picture is enlarged only as far as its finest look stays under this: it bounds the time."""

MOST_WORK_PX = 60_000_000
"""A larger picture is reduced to this many pixels: lenses leave no more detail in it than that."""

ENLARGED_MOST = 2.0
ENLARGED_LEAST = 1.25
"""Smaller enlargements are not worth the blur of resampling."""

COARSEST = 0.25
COARSEST_SIDE_PX = 32
"""The coarsest look, and the shortest side that it may have."""

NATIVE_FINE_SHARE = 0.7
"""Share of the finest look in its pair when that look is not enlarged: hairlines hang on it."""

JOINT_FROM = 0.35
"""Scale from which a look takes part in the mean for joints."""

BAND_ROWS = 256
"""Rows joined at a time."""

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
    if finest < ENLARGED_LEAST:
        finest = min(1.0, (MOST_WORK_PX / (rows * cols)) ** 0.5)
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


def classes_at(scales: Sequence[float]) -> list[tuple[str, ...]]:
    """Which classes each look is needed for, see :func:`join`."""
    area = _area_look(scales)
    return [
        (
            "crack",
            *(("joint",) if s >= JOINT_FROM or i == 0 else ()),
            *(SURFACES if i == area else ()),
        )
        for i, s in enumerate(scales)
    ]


def _area_look(scales: Sequence[float]) -> int:
    return min(range(len(scales)), key=lambda i: abs(np.log(scales[i] / 0.5)))


def join(
    looks: Sequence[Look],
    scales: Sequence[float],
    shape: tuple[int, int],
    rows: tuple[int, int] | None = None,
) -> dict[str, UInt8]:
    """8-bit logits (R, C) by class from looks at a picture of `shape`, the finest first.

    With `rows` = (from, to) only that band is made.
    """
    band = rows or (0, shape[0])

    def full(level: int, name: str) -> UInt8:
        return _enlarged(looks[level][name], shape, band)

    share = NATIVE_FINE_SHARE if plan_of(scales) == "native" else 0.5
    fine = full(0, "crack")
    crack = fine if len(looks) == 1 else None
    for i in range(1, len(looks)):
        coarse = full(i, "crack")
        pair = np.asarray(cv2.addWeighted(fine, share, coarse, 1 - share, 0), np.uint8)
        crack = pair if crack is None else np.asarray(cv2.max(crack, pair, crack), np.uint8)
        fine, share = coarse, 0.5
    joint = full(0, "joint")
    for i, names in enumerate(classes_at(scales)):
        if i > 0 and "joint" in names:
            mean = cv2.addWeighted(joint, i / (i + 1), full(i, "joint"), 1 / (i + 1), 0)
            joint = np.asarray(mean, np.uint8)
    area = _area_look(scales)
    assert crack is not None
    return {"crack": crack, "joint": joint, **{name: full(area, name) for name in SURFACES}}


def _enlarged(plane: UInt8, shape: tuple[int, int], rows: tuple[int, int]) -> UInt8:
    """Rows of a plane resized to `shape`, pixel areas aligned, linear."""
    if plane.shape == shape:
        return plane[rows[0] : rows[1]]
    down, right = plane.shape[0] / shape[0], plane.shape[1] / shape[1]
    to_plane = np.array([[right, 0.0, 0.5 * right - 0.5], [0.0, down, (rows[0] + 0.5) * down - 0.5]])
    return np.asarray(
        cv2.warpAffine(
            plane,
            to_plane,
            (shape[1], rows[1] - rows[0]),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        ),
        np.uint8,
    )


def fuse(
    looks: Sequence[Look], scales: Sequence[float], shape: tuple[int, int], fusion: Fusion
) -> list[UInt8]:
    """Maps of 255 x probability, (R, C) each in the order of `CLASSES`, from looks at a picture.

    Works in bands of rows and overwrites the planes of looks that have the picture's own size: a
    picture of 100 megapixels leaves no room for copies.
    """
    plan = plan_of(scales)
    tables = {name: fusion.table(plan, name) for name in CLASSES}
    out: dict[str, UInt8] = {}
    for name in CLASSES:
        own = looks[0].get(name)
        out[name] = own if own is not None and own.shape == shape else np.empty(shape, np.uint8)
    for start in range(0, shape[0], BAND_ROWS):
        rows = (start, min(start + BAND_ROWS, shape[0]))
        for name, z in join(looks, scales, shape, rows).items():
            out[name][rows[0] : rows[1]] = cv2.LUT(z, tables[name])
    return [out[name] for name in CLASSES]
