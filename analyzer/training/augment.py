"""Varies drawn tiles while they lie on the GPU, so that each one serves many times. Needs PyTorch.

Geometry is kept exact where it can be: turns and mirrors for every tile, one scale per batch, and
no resampling at all for a good part of the batches, because resampling smooths the pixel noise
that a real photograph has. What cameras and files do (exposure, tone, colour, focus, noise,
sharpening, JPEG) is drawn per tile.
"""

from __future__ import annotations

import math
import random

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor
from torch.nn import functional as fn

from .config import Variation

WEIGHT_STEPS = 15
"""Crack weights are stored in steps of 1/15, in the upper four bits of a tile's fourth byte."""


def pack(
    rgb: NDArray[np.uint8],
    masks: tuple[NDArray[np.uint8], ...],
    weight: NDArray[np.float32],
) -> NDArray[np.uint8]:
    """(rows, cols, 4): colour, then four mask bits and the crack weight in one byte."""
    bits = np.zeros(rgb.shape[:2], np.uint8)
    for i, mask in enumerate(masks):
        bits |= (mask > 0).astype(np.uint8) << i
    steps = np.clip(np.rint(weight * WEIGHT_STEPS), 0, WEIGHT_STEPS).astype(np.uint8)
    return np.dstack([rgb, bits | (steps << 4)])


def unpack(tiles: Tensor) -> tuple[Tensor, Tensor, Tensor]:
    """(n, r, c, 4) bytes to RGB 0..1 (n, 3, r, c), masks (n, 4, r, c), crack weight (n, 1, r, c)."""
    planes = tiles.permute(0, 3, 1, 2)
    rgb = planes[:, :3].float() / 255
    bits = planes[:, 3:4]
    shift = torch.arange(4, device=tiles.device, dtype=torch.uint8).view(1, 4, 1, 1)
    masks = ((bits >> shift) & 1).float()
    return rgb, masks, (bits >> 4).float() / WEIGHT_STEPS


def vary(
    tiles: Tensor,
    crop_px: int,
    how: Variation,
    generator: torch.Generator,
    whole_batch: random.Random,
) -> tuple[Tensor, Tensor, Tensor]:
    """Varied batch: RGB (n, 3, crop, crop), masks (n, 4, crop, crop), crack weight (n, 1, ...).

    `generator` lives on the device and draws per tile; `whole_batch` draws what a batch shares, on
    the host, so that the device never has to wait for an answer.
    """
    rgb, masks, weight = unpack(tiles)
    dice = _Dice(generator, whole_batch, tiles.device, len(tiles))
    rgb, masks, weight = _resize(rgb, masks, weight, crop_px, how, dice)
    rgb, masks, weight = _turn(rgb, masks, weight, dice)
    rgb = _borrow_texture(rgb, masks, how, dice)
    rgb, masks, weight = _paste(rgb, masks, weight, how, dice)
    return _camera(rgb, how, dice), masks, weight


class _Dice:
    """Random numbers on the device, shaped to multiply a batch."""

    def __init__(
        self, generator: torch.Generator, host: random.Random, device: torch.device, count: int
    ) -> None:
        self.generator, self.host, self.device, self.count = generator, host, device, count

    def uniform(self, low: float, high: float, *more: int) -> Tensor:
        size = (self.count, *(more or (1, 1, 1)))
        return low + (high - low) * torch.rand(size, generator=self.generator, device=self.device)

    def normal(self, like: Tensor) -> Tensor:
        return torch.randn(like.shape, generator=self.generator, device=self.device, dtype=like.dtype)

    def yes(self, share: float) -> Tensor:
        return (self.uniform(0.0, 1.0) < share).float()

    def one(self, low: float = 0.0, high: float = 1.0) -> float:
        return self.host.uniform(low, high)

    def whole(self, high: int) -> int:
        """0 to `high` - 1."""
        return min(int(self.one() * high), high - 1)


def _resize(
    rgb: Tensor, masks: Tensor, weight: Tensor, crop_px: int, how: Variation, dice: _Dice
) -> tuple[Tensor, Tensor, Tensor]:
    """Crop of one size per batch, scaled for part of the batches; thin lines keep their label.

    A line thinned below about half a pixel by the scaling has no weight: it is neither.
    """
    side = rgb.shape[-1]
    scale = 1.0
    if dice.one() < how.scale_share:
        scale = math.exp(dice.one(math.log(how.scale_low), math.log(how.scale_high)))
    squeeze = math.exp(dice.one(-1.0, 1.0) * math.log(how.squeeze)) if scale != 1.0 else 1.0
    sizes = [min(side, round(crop_px / s)) for s in (scale * squeeze, scale / squeeze)]
    r = dice.whole(side - sizes[0] + 1)
    c = dice.whole(side - sizes[1] + 1)
    part = (slice(None), slice(None), slice(r, r + sizes[0]), slice(c, c + sizes[1]))
    rgb, masks, weight = rgb[part], masks[part], weight[part]
    out = [
        max(64, round(n * s / 32) * 32)
        for n, s in zip(sizes, (scale * squeeze, scale / squeeze), strict=True)
    ]
    out = [min(n, crop_px) for n in out]
    if out == sizes:
        return rgb, masks, weight
    shrunk = min(out[0] / sizes[0], out[1] / sizes[1]) < 1
    rgb = fn.interpolate(rgb, size=out, mode="bilinear", antialias=True, align_corners=False)
    rgb = rgb.clamp(0, 1)
    soft = fn.interpolate(masks, size=out, mode="bilinear", antialias=True, align_corners=False)
    weight = fn.interpolate(weight, size=out, mode="bilinear", antialias=shrunk)
    level = 0.35 if shrunk else 0.5
    unsure = (soft[:, :1] > 0.15) & (soft[:, :1] < level)
    weight = torch.where(unsure, weight * 0.15, weight)
    return rgb, (soft >= level).float(), weight


def _turn(rgb: Tensor, masks: Tensor, weight: Tensor, dice: _Dice) -> tuple[Tensor, Tensor, Tensor]:
    """Quarter turns and mirrors, drawn for each quarter of the batch."""
    out: list[tuple[Tensor, Tensor, Tensor]] = []
    square = rgb.shape[-1] == rgb.shape[-2]
    for chunk in zip(rgb.chunk(4), masks.chunk(4), weight.chunk(4), strict=True):
        turns = dice.whole(4) if square else 2 * dice.whole(2)
        flip = dice.one() < 0.5
        turned = [torch.rot90(t, turns, (2, 3)) for t in chunk]
        turned = [t.flip(3) for t in turned] if flip else turned
        out.append((turned[0], turned[1], turned[2]))
    joined = [torch.cat(list(parts)) for parts in zip(*out, strict=True)]
    return joined[0], joined[1], joined[2]


def _blur(x: Tensor, sigma: float) -> Tensor:
    """Gaussian blur with one sigma."""
    radius = max(1, math.ceil(2.5 * sigma))
    at = torch.arange(-radius, radius + 1, device=x.device, dtype=x.dtype)
    kernel = torch.exp(-0.5 * (at / sigma) ** 2)
    kernel = kernel / kernel.sum()
    channels = x.shape[1]
    row = kernel.view(1, 1, 1, -1).expand(channels, 1, 1, -1)
    col = kernel.view(1, 1, -1, 1).expand(channels, 1, -1, 1)
    x = fn.pad(x, (radius, radius, radius, radius), mode="reflect")
    return fn.conv2d(fn.conv2d(x, row, groups=channels), col, groups=channels)


def _borrow_texture(rgb: Tensor, masks: Tensor, how: Variation, dice: _Dice) -> Tensor:
    """Multiplies some tiles by the fine texture of a neighbour that holds no line."""
    other = rgb.roll(1, 0)
    lines = masks[:, :2].roll(1, 0).amax(dim=(1, 2, 3)).view(-1, 1, 1, 1)
    grey = other.mean(1, keepdim=True)
    small = fn.avg_pool2d(grey, 8)
    wide = fn.interpolate(small, size=grey.shape[-2:], mode="bilinear", align_corners=False)
    detail = ((grey + 0.05) / (wide + 0.05)).clamp(0.6, 1.6)
    use = dice.yes(how.texture_share) * (1 - lines)
    return (rgb * detail ** (use * dice.uniform(0.2, 0.7))).clamp(0, 1)


def _paste(
    rgb: Tensor, masks: Tensor, weight: Tensor, how: Variation, dice: _Dice
) -> tuple[Tensor, Tensor, Tensor]:
    """Pastes a rectangle of a neighbour: a step of tone along a straight edge is no line."""
    rows, cols = rgb.shape[-2:]
    r = torch.arange(rows, device=rgb.device).view(1, 1, -1, 1) / rows
    c = torch.arange(cols, device=rgb.device).view(1, 1, 1, -1) / cols
    r0, c0 = dice.uniform(-0.3, 0.8), dice.uniform(-0.3, 0.8)
    inside = (r > r0) & (c > c0) & (r < r0 + dice.uniform(0.2, 0.8))
    inside = inside & (c < c0 + dice.uniform(0.2, 0.8)) & (dice.yes(how.paste_share) > 0)
    mixed = [torch.where(inside, t.roll(1, 0), t) for t in (rgb, masks, weight)]
    return mixed[0], mixed[1], mixed[2]


def _camera(rgb: Tensor, how: Variation, dice: _Dice) -> Tensor:
    """Exposure, tone, colour, light, focus, sharpening, noise, JPEG."""
    rows, cols = rgb.shape[-2:]
    grey = rgb.mean(1, keepdim=True)
    rgb = rgb + (grey - rgb) * torch.maximum(
        dice.yes(how.grey_share), dice.yes(0.3) * dice.uniform(-0.5, 0.8)
    )
    rgb = rgb * torch.exp(dice.uniform(-0.1, 0.1, 3, 1, 1) * dice.yes(0.5))
    mean = rgb.mean(dim=(1, 2, 3), keepdim=True)
    rgb = (rgb - mean) * torch.exp(dice.uniform(-0.45, 0.35)) + mean
    rgb = rgb.clamp(0, 1) ** torch.exp(dice.uniform(-0.4, 0.4))
    rgb = rgb * torch.exp(dice.uniform(-0.5, 0.35))
    coarse = dice.uniform(-0.5, 0.5, 1, 3, 3) * dice.yes(how.light_share)
    light = fn.interpolate(coarse, size=(rows, cols), mode="bicubic", align_corners=False)
    rgb = (rgb * torch.exp(light)).clamp(0, 1)

    focus = dice.yes(how.blur_share)
    soft = _blur(rgb, dice.one(0.4, 1.6))
    rgb = rgb + (soft - rgb) * focus
    sharp = dice.yes(how.sharpen_share) * dice.uniform(0.2, 1.2) * (1 - focus)
    rgb = (rgb + (rgb - _blur(rgb, 1.0)) * sharp).clamp(0, 1)

    level = dice.yes(how.noise_share) * dice.uniform(0.003, 0.03)
    white = dice.normal(rgb)
    shared = dice.normal(grey)
    if dice.one() < 0.4:  # noise that a camera has smoothed
        white, shared = _blur(white, 0.7) * 2.0, _blur(shared, 0.7) * 2.0
    rgb = (rgb + level * (0.6 * white + 0.8 * shared)).clamp(0, 1)
    if dice.one() < 0.8 and rows % 16 == 0 and cols % 16 == 0:
        quality = torch.exp(dice.uniform(math.log(0.15), math.log(2.5)))
        rgb = rgb + (jpeg_like(rgb, quality) - rgb) * dice.yes(how.jpeg_share / 0.8)
    return (rgb * 255).round().clamp(0, 255) / 255


_LUMA = (
    (16, 11, 10, 16, 24, 40, 51, 61),
    (12, 12, 14, 19, 26, 58, 60, 55),
    (14, 13, 16, 24, 40, 57, 69, 56),
    (14, 17, 22, 29, 51, 87, 80, 62),
    (18, 22, 37, 56, 68, 109, 103, 77),
    (24, 35, 55, 64, 81, 104, 113, 92),
    (49, 64, 78, 87, 103, 121, 120, 101),
    (72, 92, 95, 98, 112, 100, 103, 99),
)
"""Luminance quantisation table of ITU-T T.81 (1992), table K.1; typed from memory."""


def jpeg_like(rgb: Tensor, strength: Tensor) -> Tensor:
    """What JPEG leaves of a picture: 8x8 cosine transform, quantised, colour at half resolution.

    `rgb` (n, 3, rows, cols) in 0..1, sides multiples of 16; `strength` (n, 1, 1, 1) multiplies the
    table (1 is about quality 50, 0.2 about 90).
    """
    k = torch.arange(8, device=rgb.device, dtype=rgb.dtype)
    basis = torch.cos((2 * k + 1).view(1, -1) * k.view(-1, 1) * math.pi / 16) / 2
    basis[0] = math.sqrt(1 / 8)
    table = torch.tensor(_LUMA, device=rgb.device, dtype=rgb.dtype) / 255

    def squash(plane: Tensor, times: float) -> Tensor:
        n, _, rows, cols = plane.shape
        blocks = plane.reshape(n, rows // 8, 8, cols // 8, 8).permute(0, 1, 3, 2, 4)
        step = (table * times).view(1, 1, 1, 8, 8) * strength.view(n, 1, 1, 1, 1)
        kept = torch.round(basis @ blocks @ basis.T / step) * step
        back = (basis.T @ kept @ basis).permute(0, 1, 3, 2, 4)
        return back.reshape(n, 1, rows, cols)

    red, green, blue = rgb[:, :1], rgb[:, 1:2], rgb[:, 2:]
    luma = 0.299 * red + 0.587 * green + 0.114 * blue  # ITU-R BT.601
    size = luma.shape[-2:]
    chroma = [fn.avg_pool2d(x, 2) for x in (blue - luma, red - luma)]
    chroma = [squash(x, 1.6) for x in chroma]
    chroma = [fn.interpolate(x, size=size, mode="bilinear", align_corners=False) for x in chroma]
    luma = squash(luma - 0.5, 1.0) + 0.5
    blue, red = luma + chroma[0], luma + chroma[1]
    green = (luma - 0.299 * red - 0.114 * blue) / 0.587
    return torch.cat([red, green, blue], 1).clamp(0, 1)
