"""Packing and varying tiles; the JPEG stand-in against Pillow's own JPEG."""

from __future__ import annotations

import dataclasses
import io
import random

import numpy as np
import pytest
from PIL import Image

torch = pytest.importorskip("torch")

from analyzer.training.augment import jpeg_like, pack, unpack, vary  # noqa: E402
from analyzer.training.config import read_config  # noqa: E402


def _tile(side: int = 96) -> np.ndarray:
    rng = np.random.default_rng(5)
    rgb = rng.integers(90, 170, (side, side, 3), dtype=np.uint8)
    crack = np.zeros((side, side), np.uint8)
    crack[side // 2 - 1 : side // 2 + 2] = 255
    rgb[crack > 0] = 20
    joint = np.zeros_like(crack)
    joint[:, 10:14] = 255
    weight = np.ones((side, side), np.float32)
    weight[:, side // 2 :] = 0.4
    return pack(rgb, (crack, joint, np.zeros_like(crack), np.full_like(crack, 255)), weight)


def test_packing_is_undone() -> None:
    tile = _tile()
    rgb, masks, weight = unpack(torch.from_numpy(tile)[None])
    np.testing.assert_array_equal((rgb[0].permute(1, 2, 0) * 255).round().numpy(), tile[..., :3])
    assert masks[0].mean(dim=(1, 2)).tolist() == pytest.approx([3 / 96, 4 / 96, 0, 1])
    assert weight[0, 0, 0, [0, 95]].tolist() == pytest.approx([1.0, 0.4])


def test_without_variation_a_crop_is_the_tile() -> None:
    plain = {f.name: 0.0 for f in dataclasses.fields(read_config().variation)}
    how = dataclasses.replace(read_config().variation, **plain)
    tiles = torch.from_numpy(_tile())[None].repeat(4, 1, 1, 1)
    generator = torch.Generator().manual_seed(2)
    host = random.Random(1)
    for _ in range(4):
        _, masks, weight = vary(tiles, 96, how, generator, host)
        assert masks[:, 0].mean().item() == pytest.approx(3 / 96)
        assert sorted(weight.unique().tolist()) == pytest.approx([0.4, 1.0], abs=1e-6)


def test_crack_stays_dark_under_its_mask_whatever_the_variation() -> None:
    how = read_config().variation
    tiles = torch.from_numpy(_tile(128))[None].repeat(8, 1, 1, 1)
    generator = torch.Generator().manual_seed(3)
    host = random.Random(1)
    for _ in range(12):
        rgb, masks, weight = vary(tiles, 96, how, generator, host)
        assert rgb.shape[-2:] == masks.shape[-2:] == weight.shape[-2:]
        assert rgb.shape[-1] % 32 == 0
        assert 0 <= rgb.min() <= rgb.max() <= 1
        grey = rgb.mean(1)
        on, off = masks[:, 0] > 0, (masks[:, 0] == 0) & (masks[:, 1] == 0)
        if on.any():
            assert grey[on].mean() < grey[off].mean()


def test_same_seed_same_batch() -> None:
    tiles = torch.from_numpy(_tile())[None].repeat(4, 1, 1, 1)
    how = read_config().variation
    a, b = (vary(tiles, 64, how, torch.Generator().manual_seed(9), random.Random(1))[0] for _ in range(2))
    assert torch.equal(a, b)


@pytest.mark.parametrize(("quality", "strength"), [(50, 1.0), (90, 0.2)])
def test_jpeg_loss_is_like_pillows(quality: int, strength: float) -> None:
    """Same order of error as a real JPEG; the table's scaling with quality is libjpeg's."""
    rng = np.random.default_rng(8)
    smooth = np.asarray(Image.fromarray(rng.integers(0, 255, (24, 24, 3), dtype=np.uint8)).resize((96, 96)))
    buffer = io.BytesIO()
    Image.fromarray(smooth).save(buffer, "JPEG", quality=quality)
    theirs = np.asarray(Image.open(buffer), np.float32) - smooth
    x = torch.from_numpy(smooth.copy()).permute(2, 0, 1)[None].float() / 255
    ours = (jpeg_like(x, torch.tensor(strength).view(1, 1, 1, 1)) - x).numpy() * 255
    assert np.std(ours) == pytest.approx(np.std(theirs), rel=0.35)
