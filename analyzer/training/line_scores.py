"""Scores of found lines against true ones with a tolerance; used by benchmarks and calibration.

Precision is the share of found pixels within the tolerance of a true one, recall the share of true
pixels within the tolerance of a found one. ODS takes the one threshold that is best for the whole
set, OIS the best one for each picture (Arbelaez et al., IEEE TPAMI 33(5), 2011); both sum the
counts over the set.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt
from skimage.morphology import skeletonize

UInt8 = npt.NDArray[np.uint8]
Bool = npt.NDArray[np.bool_]

THRESHOLDS = tuple(range(26, 255, 19))
"""Levels 0..255 at which a score map is cut for ODS and OIS."""


@dataclass(frozen=True, slots=True)
class Counts:
    """Found and true pixels, and how many of each lie near one of the other kind."""

    found: int
    found_near: int
    true: int
    true_near: int

    def __add__(self, other: Counts) -> Counts:
        return Counts(
            self.found + other.found,
            self.found_near + other.found_near,
            self.true + other.true,
            self.true_near + other.true_near,
        )

    @property
    def precision(self) -> float:
        """1 when nothing was found."""
        return self.found_near / self.found if self.found else 1.0

    @property
    def recall(self) -> float:
        """1 when there was nothing to find."""
        return self.true_near / self.true if self.true else 1.0

    @property
    def f1(self) -> float:
        """Harmonic mean of precision and recall."""
        p, r = self.precision, self.recall
        return 2 * p * r / (p + r) if p + r else 0.0


def distance_to(mask: Bool) -> npt.NDArray[np.float32]:
    """Distance in px of every pixel to the nearest set one; infinite where none is set."""
    if not mask.any():
        return np.full(mask.shape, np.inf, np.float32)
    away = cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.asarray(away, np.float32)


def thin(mask: Bool) -> Bool:
    """One-pixel centre lines of a mask."""
    return np.asarray(skeletonize(mask), np.bool_)


def count(found: Bool, true: Bool, tolerance_px: float, ignore: Bool | None = None) -> Counts:
    """Counts of one picture; pixels set in `ignore` are left out on both sides."""
    near_true = distance_to(true) <= tolerance_px
    near_found = distance_to(found) <= tolerance_px
    if ignore is not None:
        found, true = found & ~ignore, true & ~ignore
    return Counts(
        int(found.sum()),
        int((found & near_true).sum()),
        int(true.sum()),
        int((true & near_found).sum()),
    )


def sweep(
    score: UInt8,
    true: Bool,
    tolerance_px: float,
    *,
    skeletons: bool = False,
    ignore: Bool | None = None,
    thresholds: Sequence[int] = THRESHOLDS,
) -> list[Counts]:
    """Counts of one picture at each threshold (found: score >= threshold)."""
    if skeletons:
        true = thin(true)
    out = []
    for t in thresholds:
        found = score >= t
        out.append(count(thin(found) if skeletons else found, true, tolerance_px, ignore))
    return out


def ods(sweeps: Sequence[Sequence[Counts]]) -> tuple[int, Counts]:
    """Index of the threshold best for the whole set, and the summed counts there."""
    sums = [sum(column[1:], column[0]) for column in zip(*sweeps, strict=True)]
    best = max(range(len(sums)), key=lambda i: sums[i].f1)
    return best, sums[best]


def ois(sweeps: Sequence[Sequence[Counts]]) -> Counts:
    """Summed counts with each picture at its own best threshold."""
    each = [max(s, key=lambda c: c.f1) for s in sweeps]
    return sum(each[1:], each[0])


def line_length_px(mask: Bool) -> float:
    """Length of a mask's centre lines: steps of 1 and of sqrt 2 between neighbouring pixels."""
    s = thin(mask)
    straight = (s[:, :-1] & s[:, 1:]).sum() + (s[:-1] & s[1:]).sum()
    # a diagonal step counts only where no straight path of two steps joins the same pixels
    down = s[:-1, :-1] & s[1:, 1:] & ~s[:-1, 1:] & ~s[1:, :-1]
    up = s[1:, :-1] & s[:-1, 1:] & ~s[:-1, :-1] & ~s[1:, 1:]
    return float(straight + np.sqrt(2) * (down.sum() + up.sum()))


def longest_part_px(mask: Bool) -> float:
    """Length of the longest connected part: the diagonal of its bounding box."""
    _, _, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    if len(stats) < 2:
        return 0.0
    boxes = stats[1:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]].astype(float)
    return float(np.hypot(boxes[:, 0], boxes[:, 1]).max())


def share_hit(lines: Bool, found: Bool, tolerance_px: float, except_near: Bool) -> tuple[int, int]:
    """Pixels of `lines`' centre lines that have a find near, and all of them.

    What lies near `except_near` is left out: a crack may run along a seam.
    """
    centre = thin(lines) & ~(distance_to(except_near) <= 2 * tolerance_px)
    return int((centre & (distance_to(found) <= tolerance_px)).sum()), int(centre.sum())


def calibration_error(
    probability: npt.NDArray[np.floating],
    truth: Bool,
    weight: npt.NDArray[np.floating] | None = None,
    bins: int = 15,
) -> float:
    """Expected calibration error (Guo et al., ICML 2017): equal-width bins, weighted by count."""
    p = np.asarray(probability, np.float64).ravel()
    w = np.ones_like(p) if weight is None else np.asarray(weight, np.float64).ravel()
    at = np.minimum((p * bins).astype(int), bins - 1)
    mass = np.bincount(at, w, bins)
    gap = np.abs(np.bincount(at, w * truth.ravel(), bins) - np.bincount(at, w * p, bins))
    total = mass.sum()
    return float(gap.sum() / total) if total else 0.0
