"""What is known about a drawn picture: ribbons, masks and the weight of the crack label."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from analyzer.frames import xy_from_rc

from .raster import F32, F64, cover, normals

U8 = NDArray[np.uint8]

HAIRLINE_MASK_PX = 1.6
"""Least width at which a crack is drawn into its mask, so that hairlines stay connected."""


@dataclass(frozen=True, slots=True)
class Ribbon:
    """A crack or joint as a two-sided band.

    `centre_px`, `left_px`, `right_px` are (n, 2) arrays of (row, col); `width_px` (n,) is the
    opening across the line. `kind` names the look of a crack or the kind of a joint.
    """

    kind: str
    centre_px: F64
    left_px: F64
    right_px: F64
    width_px: F64

    @property
    def ring(self) -> F64:
        """The band as a closed polygon."""
        return np.concatenate([self.left_px, self.right_px[::-1]])

    def widened(self, least_px: float) -> F64:
        """Ring of the band, nowhere narrower than `least_px`."""
        n = normals(self.centre_px)
        more = (np.maximum(least_px - self.width_px, 0.0) / 2)[:, None]
        return np.concatenate([self.left_px - n * more, (self.right_px + n * more)[::-1]])


def make_ribbon(kind: str, centre: F64, width_px: F64, left_share: F64 | float = 0.5) -> Ribbon:
    """Builds a ribbon from a centreline and its opening; `left_share` of it lies on the left."""
    n = normals(centre)
    share = np.broadcast_to(np.asarray(left_share, dtype=np.float64), width_px.shape)
    left = centre - n * (width_px * share)[:, None]
    right = centre + n * (width_px * (1 - share))[:, None]
    return Ribbon(kind, (left + right) / 2, left, right, width_px)


def mask_of(ribbons: Sequence[Ribbon], shape: tuple[int, int], least_px: float = HAIRLINE_MASK_PX) -> U8:
    """0/255 mask of ribbons, at least about `least_px` wide."""
    out = np.zeros(shape, np.uint8)
    stamp = cover([r.widened(least_px) for r in ribbons if len(r.centre_px) > 1], shape)
    if not stamp.empty:
        out[stamp.window] = (stamp.alpha >= 0.5) * np.uint8(255)
    return out


def centre_mask(ribbons: Sequence[Ribbon], shape: tuple[int, int]) -> U8:
    """0/255 picture of the centrelines, one pixel wide."""
    out = np.zeros(shape, np.uint8)
    for r in ribbons:
        pts = np.round(xy_from_rc(r.centre_px)).astype(np.int32)
        cv2.polylines(out, [pts[:, None, :]], False, 255, 1, cv2.LINE_8)
    return out


def width_map(ribbons: Sequence[Ribbon], mask: U8) -> F32:
    """Opening in px at every pixel of the mask (that of the nearest centreline point), else 0."""
    shape = (mask.shape[0], mask.shape[1])
    seeds = np.full(shape, 255, np.uint8)
    value = np.zeros(shape, np.float32)
    for r in ribbons:
        rc = np.round(r.centre_px).astype(int)
        ok = (rc >= 0).all(axis=1) & (rc[:, 0] < shape[0]) & (rc[:, 1] < shape[1])
        seeds[rc[ok, 0], rc[ok, 1]] = 0
        value[rc[ok, 0], rc[ok, 1]] = r.width_px[ok]
    out = np.zeros(shape, np.float32)
    if (seeds == 0).any():
        _, label = cv2.distanceTransformWithLabels(
            seeds, cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL
        )
        table = np.zeros(int(label.max()) + 1, np.float32)
        at = seeds == 0
        table[label[at]] = value[at]
        on = mask > 0
        out[on] = table[label[on]]
    return out


def crack_weight(
    gray: F32,
    crack: U8,
    hidden: U8 | None = None,
    visible_at: tuple[float, float] = (0.35, 0.8),
) -> F32:
    """Loss weight 0..1 of the crack label, from what can be seen in the finished picture.

    On crack pixels the weight falls to 0 where the mean difference to both flanks is below
    `visible_at[0]` times the local texture's standard deviation (full weight from `visible_at[1]`);
    it is 0.5 in the one-pixel rim outside a crack, and 0 where `hidden` is set. `gray` is
    (rows, cols), any scale.
    """
    weight = np.ones(gray.shape, np.float32)
    if crack.any():
        inside = (crack > 0).astype(np.float32)
        near = cv2.dilate(crack, np.ones((3, 3), np.uint8))
        outside = (cv2.dilate(near, np.ones((3, 3), np.uint8)) == 0).astype(np.float32)

        def mean(values: F32, where: F32, sigma: float) -> F32:
            top = cv2.GaussianBlur(values * where, (0, 0), sigma)
            return np.asarray(top / (cv2.GaussianBlur(where, (0, 0), sigma) + 1e-4), np.float32)

        flank = mean(gray, outside, 5.0)
        texture = np.sqrt(mean((gray - flank) ** 2, outside, 8.0)) + 0.004 * float(gray.max())
        core = mean(gray, inside, 4.0)
        ratio = np.abs(core - flank) / texture
        seen = np.clip((ratio - visible_at[0]) / (visible_at[1] - visible_at[0]), 0.0, 1.0)
        rim = (near > 0) & (crack == 0)
        weight[rim] = 0.5 * seen[rim] + 0.1
        on = crack > 0
        weight[on] = seen[on]
    if hidden is not None:
        weight[hidden > 0] = 0.0
    return weight
