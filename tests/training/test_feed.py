"""The tile store: same tiles whoever draws them, nothing drawn twice."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analyzer.training.feed import TileStore, fill


def _draw(seed: int, style: str, side_px: int) -> np.ndarray:
    return np.full((side_px, side_px, 4), seed % 251, np.uint8)


def test_places_get_their_seed_whoever_draws_them(tmp_path: Path) -> None:
    alone = TileStore(tmp_path / "a", 7, 8)
    fill(alone, style="train", first_seed=100, worker=0, workers=1, rounds=2, draw=_draw)
    shared = TileStore(tmp_path / "b", 7, 8)
    for worker in (2, 0, 1):
        fill(shared, style="train", first_seed=100, worker=worker, workers=3, rounds=2, draw=_draw)
    np.testing.assert_array_equal(alone.tiles, shared.tiles)
    assert [int(t[0, 0, 0]) for t in shared.tiles] == [107 + i for i in range(7)]
    assert shared.drawn().tolist() == list(range(7))


def test_a_store_opened_again_goes_on_where_it_was(tmp_path: Path) -> None:
    calls: list[int] = []

    def draw(seed: int, style: str, side_px: int) -> np.ndarray:
        calls.append(seed)
        if len(calls) == 3:
            raise KeyboardInterrupt
        return _draw(seed, style, side_px)

    for _ in range(2):
        store = TileStore(tmp_path, 4, 8)
        try:
            fill(store, style="train", first_seed=0, worker=0, workers=1, rounds=1, draw=draw)
        except KeyboardInterrupt:
            assert store.drawn().tolist() == [0, 1]
    assert calls == [0, 1, 2, 2, 3]


def test_a_seed_that_cannot_be_drawn_is_left_out_and_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def draw(seed: int, style: str, side_px: int) -> np.ndarray:
        if seed == 2:
            raise ValueError("no such stone")
        return _draw(seed, style, side_px)

    store = TileStore(tmp_path, 4, 8)
    fill(store, style="train", first_seed=0, worker=0, workers=1, rounds=1, draw=draw)
    assert store.drawn().tolist() == [0, 1, 3]
    assert "seed 2 left out" in capsys.readouterr().err
