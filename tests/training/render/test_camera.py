"""The photographic chain; the tone curve against scikit-image's sRGB conversion."""

from dataclasses import replace

import numpy as np
import pytest
from skimage.color import rgb2xyz

from analyzer.training.render import camera
from analyzer.training.render.noise import generator


def flat(level: float = 0.3) -> np.ndarray:
    return np.full((64, 64, 3), level, np.float32)


def test_encoding_equals_skimage_srgb() -> None:
    light = np.linspace(0, 1, 41, dtype=np.float32)
    coded = np.repeat(camera.encode(light)[:, None], 3, axis=1)
    luminance = rgb2xyz(coded)[:, 1]  # Y of a grey is its linear light
    assert luminance == pytest.approx(light, abs=4e-4)


def test_plain_camera_is_linear_and_clean() -> None:
    out = camera.expose(flat(0.4), camera.PLAIN, generator(1))
    assert out.dtype == np.uint8
    assert (out == 102).all()


@pytest.mark.parametrize(
    "change",
    [
        {"blur_px": 1.2}, {"motion_px": 6.0, "motion_rad": 0.5}, {"vignette": 0.3},
        {"aberration_px": 2.0}, {"noise": 0.03}, {"noise": 0.03, "noise_px": 0.8},
        {"noise": 0.03, "bayer": True}, {"smooth": 0.8}, {"gamma": "srgb"},
        {"gamma": "srgb", "curve": 0.5}, {"saturation": 0.4}, {"black": 0.1},
        {"sharpen": 1.5}, {"jpeg": 35}, {"enlarge": 2.0},
        {"white_balance": (1.2, 1.0, 0.8)}, {"exposure": 1.5},
    ],
)  # fmt: skip
def test_every_setting_acts(change: dict) -> None:
    scene = np.random.default_rng(2).uniform(0.1, 0.6, (64, 64, 3)).astype(np.float32)
    plain = camera.expose(scene.copy(), camera.PLAIN, generator(1))
    changed = camera.expose(scene.copy(), replace(camera.PLAIN, **change), generator(1))
    assert (plain != changed).mean() > 0.2


def test_mosaic_returns_the_colour() -> None:
    scene = flat() * np.array([1.5, 1.0, 0.4], np.float32)
    look = replace(camera.PLAIN, bayer=True, noise=1e-6)
    out = camera.expose(scene, look, generator(1))[8:-8, 8:-8]
    assert out.mean(axis=(0, 1)) == pytest.approx([0.45 * 255, 0.3 * 255, 0.12 * 255], abs=1.0)


def test_blur_keeps_the_light() -> None:
    scene = flat(0.5)
    scene[:, 30:33] = 0.1
    before = scene.mean()
    out = camera.expose(scene, replace(camera.PLAIN, blur_px=1.5), generator(1))
    assert out.mean() / 255 == pytest.approx(before, abs=0.003)


def test_random_looks_expose_to_a_visible_picture() -> None:
    for seed in range(12):
        rng = generator(seed)
        out = camera.expose(flat(0.2), camera.random_look(rng, 0.2), rng)
        assert 20 < out.mean() < 250


def test_uneven_light_is_slow() -> None:
    f = camera.uneven_light(generator(3), (120, 150), 0.2)
    assert np.abs(np.diff(f, axis=0)).max() < 0.03
    assert f.std() > 0.01
