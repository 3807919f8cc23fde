"""Choice of scales, joining of looks, and calibration."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from skimage import data

from analyzer.detect.scales import (
    CLASSES,
    PLANS,
    WORK_PX,
    choose_scales,
    classes_at,
    detail,
    fuse,
    join,
    plan_of,
    read_fusion,
)
from analyzer.errors import RuleError

ZERO = 128
ABOUT = {"logit_step": 1 / 16, "logit_zero": ZERO}


def _look(plane: np.ndarray) -> dict[str, np.ndarray]:
    return {name: plane.copy() for name in CLASSES}


def _levels(values: list[int], shape: tuple[int, int] = (32, 48)) -> list[dict[str, np.ndarray]]:
    """Even looks, each half the size of the one before."""
    return [_look(np.full((shape[0] >> i, shape[1] >> i), ZERO + v, np.uint8)) for i, v in enumerate(values)]


def test_one_look_gives_the_logistic_of_its_logits() -> None:
    logits = _look(np.broadcast_to(np.arange(256, dtype=np.uint8), (8, 256)).copy())
    crack = fuse([logits], (1.0,), (8, 256), read_fusion(ABOUT))[0]
    expected = [255 / (1 + np.exp(-(v - ZERO) / 16)) for v in range(256)]
    np.testing.assert_allclose(crack[0], expected, atol=0.51)


def test_calibration_shifts_and_stretches() -> None:
    table = {p: {k: [-1.0, 0.5] for k in CLASSES} for p in PLANS}
    crack = fuse(_levels([32]), (1.0,), (32, 48), read_fusion({**ABOUT, "calibration": table}))[0]
    assert int(crack[0, 0]) == pytest.approx(255 / (1 + np.exp(1.0 - 0.5 * 2)), abs=0.51)


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ([60, 20, -40], 40),  # fine pair
        ([-40, 20, 60], 40),  # coarse pair
        ([-80, 60, -80], -10),  # one look alone, doubted by both its neighbours
    ],
)
def test_cracks_take_the_best_pair_of_neighbouring_looks(values: list[int], expected: int) -> None:
    crack = join(_levels(values, (64, 96)), (2.0, 1.0, 0.5), (32, 48))["crack"]
    assert int(np.median(crack)) - ZERO == pytest.approx(expected, abs=1)


def test_a_hairline_seen_at_full_size_only_survives_better_than_in_the_mean() -> None:
    fine, coarse, coarsest = _levels([-80, -60, -60])
    fine["crack"] = fine["crack"].copy()
    fine["crack"][:, 16] = ZERO + 90
    crack = join([fine, coarse, coarsest], (1.0, 0.5, 0.25), (32, 48))["crack"]
    assert crack[10, 16] > ZERO > ZERO + (90 - 60 - 60) / 3


def test_joints_take_the_mean_of_the_looks_that_can_see_them() -> None:
    joint = join(_levels([60, 0, -90]), (1.0, 0.5, 0.25), (32, 48))["joint"]
    assert int(np.median(joint)) - ZERO == pytest.approx(30, abs=1)


def test_maps_come_at_the_pictures_size() -> None:
    levels = [_look(np.zeros((61, 83), np.uint8)), _look(np.zeros((30, 42), np.uint8))]
    for scales, shape in (((1.0, 0.5), (61, 83)), ((2.0, 1.0), (30, 42)), ((0.5, 0.25), (122, 166))):
        for m in fuse(levels, scales, shape, read_fusion(ABOUT)):
            assert m.shape == shape
            assert m.dtype == np.uint8


def _gravel(side: int) -> np.ndarray:
    """skimage.data.gravel (CC0), repeated or cut."""
    gray = np.tile(data.gravel(), (8, 8))[:side, :side]
    return np.dstack([gray] * 3).astype(np.uint8)


def test_small_pictures_are_enlarged_and_large_ones_cost_no_more() -> None:
    assert choose_scales(_gravel(512)) == (2.0, 1.0, 0.5, 0.25)
    assert choose_scales(_gravel(3500)) == (1.0, 0.5, 0.25)
    for side in (200, 1000, 2000, 2600):
        scales = choose_scales(_gravel(side))
        assert (side * scales[0]) ** 2 <= 1.01 * WORK_PX
        assert plan_of(scales) == ("enlarged" if scales[0] > 1 else "native")


def test_huge_pictures_are_reduced() -> None:
    rgb = np.broadcast_to(np.uint8(120), (9000, 11000, 3))
    finest = choose_scales(rgb, mm_per_px=1.0)[0]
    assert rgb.shape[0] * rgb.shape[1] * finest**2 == pytest.approx(60e6, rel=0.01)


def test_known_scale_bounds_the_closest_look() -> None:
    rgb = _gravel(1000)
    assert choose_scales(rgb, mm_per_px=0.125)[0] == 0.5
    assert choose_scales(rgb, mm_per_px=0.3)[0] == 1.0
    assert choose_scales(rgb, mm_per_px=2.0)[0] == 2.0
    assert choose_scales(rgb[:80, :80], mm_per_px=0.01)[0] == 1.0


def test_detail_is_low_for_an_enlarged_photograph_which_is_looked_at_from_farther() -> None:
    gravel = _gravel(512)
    enlarged = cv2.resize(gravel, None, fx=4, fy=4, interpolation=cv2.INTER_CUBIC)
    assert detail(np.asarray(enlarged, np.uint8)) < 0.1 < detail(gravel)
    assert choose_scales(np.asarray(enlarged, np.uint8))[0] < 1.0 < choose_scales(gravel)[0]


@pytest.mark.parametrize(
    "table", [{"native": {}}, {p: {"crack": [0, 1]} for p in PLANS}, {"native": 1, "other": 2}]
)
def test_incomplete_calibration_is_refused(table: dict[str, object]) -> None:
    with pytest.raises(RuleError, match="calibration"):
        read_fusion({**ABOUT, "calibration": table})


@pytest.mark.parametrize("scales", [(2.0, 1.0, 0.5, 0.25), (1.0, 0.5, 0.25), (0.4, 0.2), (1.0,), (0.5,)])
def test_looks_hold_no_more_than_joining_needs(scales: tuple[float, ...]) -> None:
    looks = [{name: np.full((16, 16), ZERO, np.uint8) for name in names} for names in classes_at(scales)]
    assert set(join(looks, scales, (16, 16))) == set(CLASSES)
    assert sum("slab" in look for look in looks) == 1


def test_bands_join_as_the_whole_does_and_enlarge_as_opencv_resizes() -> None:
    rng = np.random.default_rng(4)
    shape, scales = (601, 333), (1.0, 0.5, 0.25)
    looks = []
    for s in scales:
        small = rng.integers(90, 170, (round(601 * s / 8), round(333 * s / 8)), dtype=np.uint8)
        size = (round(333 * s), round(601 * s))
        looks.append(_look(np.asarray(cv2.resize(small, size, interpolation=cv2.INTER_CUBIC), np.uint8)))
    whole = join(looks, scales, shape)
    for rows in ((0, 256), (256, 512), (512, 601)):
        band = join(looks, scales, shape, rows)
        for name in CLASSES:
            gap = np.abs(band[name].astype(int) - whole[name][rows[0] : rows[1]])
            assert gap.max() <= 3  # OpenCV places samples to 1/32 px
            assert gap.mean() < 0.2
    resized = cv2.resize(looks[1]["slab"], (333, 601), interpolation=cv2.INTER_LINEAR)
    assert np.abs(whole["slab"].astype(int) - resized).max() <= 2
