"""Tiles: repeatable, consistent with their vector truth, and with the shares training relies on."""

import hashlib

import numpy as np
import pytest
from shapely.geometry import Point, Polygon

from analyzer.training.render.tile import RenderedTile, apply, render_tile
from analyzer.training.render.truth import mask_of

SIZE = 128


def digest(tile: RenderedTile) -> str:
    h = hashlib.sha256()
    for name in ("rgb", "crack", "joint", "patch", "slab", "crack_weight", "crack_width_px", "crack_centre"):
        h.update(np.ascontiguousarray(getattr(tile, name)).tobytes())
    return h.hexdigest()


@pytest.fixture(scope="module")
def many() -> list[RenderedTile]:
    return [render_tile(seed, "train", SIZE) for seed in range(90)]


@pytest.mark.parametrize("style", ["train", "holdout"])
def test_same_seed_same_bytes(style: str) -> None:
    for seed in (3, 8):
        first = digest(render_tile(seed, style, SIZE))
        assert first == digest(render_tile(seed, style, SIZE))
        assert first != digest(render_tile(seed + 100, style, SIZE))


def test_holdout_is_another_picture() -> None:
    assert digest(render_tile(5, "train", SIZE)) != digest(render_tile(5, "holdout", SIZE))


def test_unknown_style_is_refused() -> None:
    with pytest.raises(ValueError, match="unknown"):
        render_tile(1, "other", SIZE)


def test_arrays_have_the_promised_types(many: list[RenderedTile]) -> None:
    for tile in many:
        assert tile.rgb.shape == (SIZE, SIZE, 3)
        assert tile.rgb.dtype == np.uint8
        for mask in (tile.crack, tile.joint, tile.patch, tile.slab, tile.crack_centre):
            assert mask.shape == (SIZE, SIZE)
            assert mask.dtype == np.uint8
            assert set(np.unique(mask)) <= {0, 255}
        assert tile.crack_weight.dtype == np.float32
        assert tile.crack_weight.min() >= 0
        assert tile.crack_weight.max() <= 1
        assert len(tile.joints) == len(tile.joint_kinds)
        assert 0.1 <= tile.mm_per_px <= 8.0
        assert tile.rgb.std() > 0.5


def test_masks_agree_with_the_vector_truth(many: list[RenderedTile]) -> None:
    for tile in many:
        for mask, ribbons in ((tile.crack, tile.cracks), (tile.joint, tile.joints)):
            assert not ((mask > 0) & (mask_of(ribbons, mask.shape) == 0)).any()


def test_crack_pixels_lie_in_a_ribbon_by_shapely(many: list[RenderedTile]) -> None:
    checked = 0
    for tile in many:
        if not (4 < len(tile.cracks) < 9) or not tile.crack.any():
            continue
        rings = [Polygon(r.widened(1.6)).buffer(0) for r in tile.cracks]
        rows, cols = np.nonzero(tile.crack)
        for k in range(0, len(rows), max(len(rows) // 40, 1)):
            assert min(ring.distance(Point(rows[k], cols[k])) for ring in rings) < 0.75
            checked += 1
    assert checked > 40


def test_something_else_holds_no_truth(many: list[RenderedTile]) -> None:
    other = [t for t in many if t.subject not in ("slab", "asphalt")]
    assert 2 <= len(other) <= 20
    for tile in other:
        assert not tile.crack.any()
        assert not tile.joint.any()
        assert not tile.slab.any()


def test_shares_of_empty_tiles(many: list[RenderedTile]) -> None:
    slabs = [t for t in many if t.subject == "slab"]
    without_crack = np.mean([not t.crack.any() for t in slabs])
    without_joint = np.mean([not t.joint.any() for t in slabs])
    assert 0.12 < without_crack < 0.5
    assert 0.25 < without_joint < 0.7
    widths = [np.median(np.concatenate([r.width_px for r in t.cracks])) for t in slabs if t.cracks]
    assert min(widths) < 1.0
    assert max(widths) > 9.0


def test_weight_drops_only_at_cracks(many: list[RenderedTile]) -> None:
    for tile in many:
        if not tile.cracks:
            assert tile.crack_weight.min() == 1.0
    dropped = sum(float((t.crack_weight[t.crack > 0] < 0.5).sum()) for t in many)
    total = sum(float((t.crack > 0).sum()) for t in many)
    assert 0.01 < dropped / total < 0.5


def test_apply_is_a_homography() -> None:
    h = np.array([[1.0, 0.1, 5.0], [0.0, 1.2, -3.0], [1e-4, 0.0, 1.0]])
    p = np.array([[10.0, 20.0]])
    w = 1e-4 * 10 + 1
    assert apply(h, p)[0] == pytest.approx([(10 + 2 + 5) / w, (24 - 3) / w])
    assert apply(None, p) is p
