"""Size, cost and geometry of the network."""

from __future__ import annotations

import pytest

torch = pytest.importorskip("torch")

from analyzer.training.model import CLASSES, Shape, SlabNet, count_parameters, macs_per_pixel  # noqa: E402


def test_network_keeps_the_agreed_size_and_cost() -> None:
    net = SlabNet()
    assert count_parameters(net) <= 1_500_000
    assert 4_000 <= macs_per_pixel(net) <= 16_000


def test_cost_is_counted_as_by_hand() -> None:
    net = SlabNet(Shape((8, 16), (0, 0), (0,)))
    # per input pixel: 3x3x3x8 at 1/4, 3x3x8x16 at 1/16, 16x8 at 1/16, 3x3x8x16 at 1/4
    by_hand = 216 / 4 + 1152 / 16 + 128 / 16 + 1152 / 4
    assert macs_per_pixel(net, 64) == pytest.approx(by_hand)


def test_maps_have_the_pictures_size_and_start_from_rare_lines() -> None:
    net = SlabNet(Shape((8, 8, 8), (0, 0, 0), (1, 1))).eval()
    with torch.no_grad():
        logits = net(torch.rand(2, 3, 32, 48))
    assert logits.shape == (2, len(CLASSES), 32, 48)
    p = torch.sigmoid(logits).mean(dim=(0, 2, 3))
    assert p[0] < 0.1 < 0.5 < p[3]


def test_mid_grey_picture_equals_its_padding() -> None:
    """Zero padding is mid-grey, so a grey picture has no border: all output cells are alike."""
    net = SlabNet(Shape((8, 8), (1, 1), (1,))).eval()
    with torch.no_grad():
        logits = net(torch.full((1, 3, 32, 32), 128 / 255))
    inner = logits[..., 8:10, 8:10]
    assert torch.allclose(inner, logits[..., 8:10, 12:14], atol=1e-5)
