"""Tiles against one pass, sizes, errors and the weights' companion file."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from skimage import data

from analyzer.detect.network import (
    MARGIN_PX,
    TILE_PX2,
    WEIGHTS,
    load_weights,
    score_at_scale,
    score_network,
    tile_grid,
)
from analyzer.errors import PictureError, RuleError
from analyzer.terms import DetectMethod


def _photograph(rows: int, cols: int) -> np.ndarray:
    """Brick of skimage.data (CC0), repeated: real texture, no matter what it shows."""
    gray = np.tile(data.brick(), (2, 3))[:rows, :cols]
    return np.dstack([gray] * 3).astype(np.uint8)


def test_tiles_give_what_one_pass_gives() -> None:
    weights = load_weights(1)
    rgb = _photograph(700, 900)
    whole = score_at_scale(rgb, 1.0, weights, tile_px2=10**9)
    tiled = score_at_scale(rgb, 1.0, weights, tile_px2=260_000)
    for name, most in (("crack", 5e-4), ("joint", 5e-3), ("patch", 5e-3), ("slab", 2e-2)):
        gap = np.abs(whole[name].astype(int) - tiled[name])
        assert (gap > 8).mean() < most  # half a logit
    for name in ("crack", "joint"):
        assert ((whole[name] >= 128) != (tiled[name] >= 128)).mean() < 5e-4


@pytest.mark.parametrize("shape", [(3000, 4000), (1200, 9000), (500, 700), (8000, 12500)])
def test_tiles_cover_the_picture_once_with_enough_margin(shape: tuple[int, int]) -> None:
    limit = TILE_PX2
    for spans, side in zip(tile_grid(*shape, limit, 32), shape, strict=True):
        assert [s[0] for s in spans] == [0, *(s[1] for s in spans[:-1])]
        assert spans[-1][1] == side
        for a, b, low, high in spans:
            assert low % 32 == 0
            assert a - low >= MARGIN_PX or low == 0
            assert high - b >= MARGIN_PX or high == side
    rows, cols = tile_grid(*shape, limit, 32)
    assert max(s[3] - s[2] for s in rows) * max(s[3] - s[2] for s in cols) <= 1.1 * limit


def test_maps_have_the_pictures_size_and_name_their_weights() -> None:
    maps = score_network(_photograph(333, 421), threads=1)
    for m in (maps.crack, maps.joint, maps.patch, maps.slab):
        assert m is not None
        assert m.shape == (333, 421)
        assert m.dtype == np.uint8
        assert not m.flags.writeable
    assert maps.method is DetectMethod.NETWORK
    assert maps.weights_sha256 == load_weights(1).sha256


def test_same_picture_same_maps_on_one_and_two_threads() -> None:
    rgb = _photograph(200, 260)
    a, b = (score_network(rgb, threads=n) for n in (1, 2))
    np.testing.assert_array_equal(a.crack, b.crack)


@pytest.mark.parametrize(
    "picture",
    [
        np.zeros((100, 100), np.uint8),
        np.zeros((100, 100, 3), np.float32),
        np.zeros((8, 100, 3), np.uint8),
    ],
)
def test_what_is_no_picture_is_refused(picture: np.ndarray) -> None:
    with pytest.raises(PictureError):
        score_network(picture)


def test_weights_are_within_the_agreed_size() -> None:
    assert WEIGHTS.stat().st_size <= 6e6


def test_altered_or_missing_weights_are_refused(tmp_path: Path) -> None:
    path = tmp_path / WEIGHTS.name
    with pytest.raises(RuleError, match="missing"):
        load_weights(1, path)
    shutil.copy(WEIGHTS, path)
    about = json.loads(WEIGHTS.with_suffix(".json").read_text())
    path.with_suffix(".json").write_text(json.dumps({**about, "sha256": "0" * 64}))
    with pytest.raises(RuleError, match="differ"):
        load_weights(1, path)
