"""The network: a plain convolutional encoder and decoder, four maps out. Needs PyTorch.

Nothing here is novel on purpose: 3x3 convolution, batch norm, rectifier (Ioffe and Szegedy 2015),
skip connections added instead of concatenated (as in LinkNet, Chaurasia and Culurciello 2017), and
a sub-pixel head (Shi et al. 2016) so that thin lines come out at the picture's own resolution
although no layer but the first one sees it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import torch
from torch import Tensor, nn
from torch.nn import functional as fn

ZERO = 128 / 255
"""Grey that the network sees as nothing: the zero point of 8-bit input, and of the padding."""

CLASSES = ("crack", "joint", "patch", "slab")
"""Order of the output maps. `patch` stands for spall or patch."""


@dataclass(frozen=True, slots=True)
class Shape:
    """Widths of the network, from the finest level (half resolution) to the coarsest."""

    channels: tuple[int, ...] = (24, 48, 96, 128, 128)
    encoder_convs: tuple[int, ...] = (1, 1, 2, 2, 2)
    decoder_convs: tuple[int, ...] = (1, 1, 2, 1)

    @property
    def stride(self) -> int:
        """Sides of the input must be multiples of this many pixels."""
        return int(2 ** len(self.channels))


def conv_norm_relu(inputs: int, outputs: int, stride: int = 1) -> nn.Sequential:
    """3x3 convolution, batch norm, rectifier."""
    return nn.Sequential(
        nn.Conv2d(inputs, outputs, 3, stride, padding=1, bias=False),
        nn.BatchNorm2d(outputs),
        nn.ReLU(inplace=True),
    )


class SlabNet(nn.Module):  # type: ignore[misc]
    """Logits of crack, joint, patch and slab, (n, 4, rows, cols), from RGB 0..1 of that size.

    Rows and columns must be multiples of `shape.stride`.
    """

    def __init__(self, shape: Shape | None = None) -> None:
        super().__init__()
        self.shape = shape or Shape()
        c = self.shape.channels
        before = (3, *c[:-1])
        self.encoder = nn.ModuleList(
            nn.Sequential(conv_norm_relu(b, a, stride=2), *(conv_norm_relu(a, a) for _ in range(n)))
            for b, a, n in zip(before, c, self.shape.encoder_convs, strict=True)
        )
        self.lateral = nn.ModuleList(nn.Conv2d(a, b, 1) for b, a in pairwise(c))
        self.decoder = nn.ModuleList(
            nn.Sequential(*(conv_norm_relu(b, b) for _ in range(n)))
            for b, n in zip(c[:-1], self.shape.decoder_convs, strict=True)
        )
        self.head = nn.Conv2d(c[0], 4 * len(CLASSES), 3, padding=1)
        bias = self.head.bias
        if bias is not None:  # lines are rare: start from what most pixels are
            with torch.no_grad():
                bias[: 4 * 3] = -4.0
                bias[4 * 3 :] = 1.0

    def forward(self, rgb: Tensor) -> Tensor:
        """(n, 3, rows, cols) in 0..1 to logits (n, 4, rows, cols)."""
        return self.centred(rgb - ZERO)

    def centred(self, x: Tensor) -> Tensor:
        """The same from a picture with its zero at `ZERO`."""
        skips: list[Tensor] = []
        for level in self.encoder:
            x = level(x)
            skips.append(x)
        x = skips.pop()
        for i in range(len(self.lateral) - 1, -1, -1):
            x = fn.interpolate(self.lateral[i](x), scale_factor=2.0, mode="nearest")
            x = self.decoder[i](x + skips.pop())
        out: Tensor = fn.pixel_shuffle(self.head(x), 2)
        return out


def count_parameters(net: nn.Module) -> int:
    """Number of trained values."""
    return sum(p.numel() for p in net.parameters())


def macs_per_pixel(net: nn.Module, side_px: int = 256) -> float:
    """Multiply-accumulate operations per input pixel, counted over the convolutions."""
    total = 0

    def count(module: nn.Module, _inputs: Sequence[Tensor], output: Tensor) -> None:
        nonlocal total
        weight = module.weight
        if isinstance(weight, Tensor):
            total += output.numel() * weight[0].numel()

    hooks = [m.register_forward_hook(count) for m in net.modules() if isinstance(m, nn.Conv2d)]
    was_training = net.training
    net.eval()
    with torch.no_grad():
        net(torch.zeros(1, 3, side_px, side_px))
    net.train(was_training)
    for hook in hooks:
        hook.remove()
    return total / side_px**2
