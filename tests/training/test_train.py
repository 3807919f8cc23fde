"""A tiny network learns a drawn line in seconds and goes on from a checkpoint."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

torch = pytest.importorskip("torch")
torch.set_num_threads(1)  # two threads on a busy machine wait for each other
pytest.importorskip("matplotlib")

from analyzer.training.augment import pack  # noqa: E402
from analyzer.training.config import Config, read_config  # noqa: E402
from analyzer.training.feed import TileStore, fill  # noqa: E402
from analyzer.training.train import rate_at, train  # noqa: E402

SIDE = 64


def draw_line_tile(seed: int, style: str, side_px: int) -> np.ndarray:
    """Noise with one dark straight line."""
    rng = np.random.default_rng(seed)
    rgb = rng.normal(150, 6, (side_px, side_px, 3)).clip(0, 255).astype(np.uint8)
    crack = np.zeros((side_px, side_px), np.uint8)
    at = int(rng.integers(8, side_px - 8))
    crack[:, at : at + 3] = 255
    if rng.random() < 0.5:
        crack = crack.T.copy()
    rgb[crack > 0] = 40
    none = np.zeros_like(crack)
    return pack(rgb, (crack, none, none, none + 255), np.ones(crack.shape, np.float32))


def small_config() -> Config:
    return read_config(
        network__channels=[8, 12, 16],
        network__encoder_convs=[0, 1, 1],
        network__decoder_convs=[0, 1],
        tiles__side_px=SIDE,
        tiles__places=24,
        tiles__wait_for=24,
        steps__batch=8,
        steps__crop_px=SIDE,
        steps__max_rate=0.01,
        variation__scale_share=0.0,
        variation__jpeg_share=0.0,
    )


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Config]:
    out = tmp_path_factory.mktemp("run")
    config = small_config()
    store = TileStore(out / "tiles", config.tiles.places, SIDE)
    fill(store, style="train", first_seed=1, worker=0, workers=1, rounds=1, draw=draw_line_tile)
    np.save(out / "holdout.npy", np.stack([draw_line_tile(900 + i, "holdout", SIDE) for i in range(8)]))
    train(config, out, steps=120, workers=0, device="cpu", report_every_s=1)
    return out, config


def test_it_learns_the_line(run: tuple[Path, Config]) -> None:
    out, _ = run
    rows = (out / "loss.csv").read_text().splitlines()
    first, last = (dict(zip(rows[0].split(","), r.split(","), strict=True)) for r in (rows[1], rows[-1]))
    assert float(last["loss"]) < 0.7 * float(first["loss"])
    assert float(last["crack_f1"]) > 0.8
    assert (out / "loss.png").stat().st_size > 1000


def test_resuming_goes_on_from_the_checkpoint(run: tuple[Path, Config]) -> None:
    out, config = run
    before = torch.load(out / "checkpoint.pt", weights_only=True)
    trainer = train(config, out, steps=125, workers=0, device="cpu", resume=True)
    assert trainer.progress.step == 125 > before["step"]
    assert trainer.progress.seconds >= before["seconds"]
    assert len(trainer.progress.curve) > len(before["curve"])


def test_rate_rises_then_falls() -> None:
    rates = [rate_at(x, 1.0, 0.1) for x in (0.0, 0.1, 0.5, 1.0)]
    assert rates[0] < 0.1
    assert rates[1] == pytest.approx(1.0)
    assert rates[1] > rates[2] > rates[3]
    assert rates[3] == pytest.approx(0.005)
