"""Draws training tiles on all cores into a store on disk that any number of trainers can read.

The store is a folder with one flat file of packed tiles (see :func:`augment.pack`) and one number
per place: 0 empty, n drawn n times. Tile `i` of round `n` has seed `first_seed + n * places + i`,
so a store is the same whoever drew it, and a stopped run goes on where it was.
"""

from __future__ import annotations

import multiprocessing
import os
import sys
import traceback
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Draw = Callable[[int, str, int], NDArray[np.uint8]]
"""(seed, style, side_px) -> packed tile (side, side, 4)."""


def draw_packed(seed: int, style: str, side_px: int) -> NDArray[np.uint8]:
    """One drawn tile, packed (see :func:`augment.pack`)."""
    from .augment import pack
    from .render.tile import render_tile

    tile = render_tile(seed, style=style, size_px=side_px)
    return pack(tile.rgb, (tile.crack, tile.joint, tile.patch, tile.slab), tile.crack_weight)


class TileStore:
    """Places for packed tiles in `folder`; opened by drawers to write and by trainers to read."""

    def __init__(self, folder: Path, places: int, side_px: int) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.folder, self.places, self.side_px = folder, places, side_px
        self.tiles = _memmap(folder / f"tiles_{side_px}.u8", (places, side_px, side_px, 4))
        self.rounds = _memmap(folder / f"rounds_{side_px}.u8", (places,))

    def drawn(self) -> NDArray[np.intp]:
        """Indices of the places that hold a tile."""
        return np.flatnonzero(np.asarray(self.rounds))


def _memmap(path: Path, shape: tuple[int, ...]) -> NDArray[np.uint8]:
    if not path.exists():
        with path.open("wb") as f:
            f.truncate(int(np.prod(shape, dtype=np.int64)))
    return np.memmap(path, np.uint8, "r+", shape=shape)


def fill(
    store: TileStore,
    *,
    style: str,
    first_seed: int,
    worker: int,
    workers: int,
    rounds: int,
    draw: Draw = draw_packed,
) -> None:
    """Draws every `workers`-th place until each has been drawn `rounds` times."""
    for n in range(rounds):
        for place in range(worker, store.places, workers):
            if store.rounds[place] > n:
                continue
            seed = first_seed + n * store.places + place
            try:
                tile = draw(seed, style, store.side_px)
            except Exception:  # one seed that cannot be drawn must not cost a core for the whole run
                print(f"tile of seed {seed} left out:", file=sys.stderr)
                traceback.print_exc()
                continue
            store.tiles[place] = tile
            store.rounds[place] = n + 1


def _work(
    folder: Path, places: int, side_px: int, style: str, first_seed: int, at: tuple[int, int, int]
) -> None:
    import cv2

    cv2.setNumThreads(1)
    os.nice(5)
    worker, workers, rounds = at
    store = TileStore(folder, places, side_px)
    fill(
        store,
        style=style,
        first_seed=first_seed,
        worker=worker,
        workers=workers,
        rounds=rounds,
    )


def start_drawers(
    store: TileStore, *, style: str, first_seed: int, workers: int, rounds: int
) -> list[multiprocessing.process.BaseProcess]:
    """Starts `workers` processes that fill the store; they end with this process."""
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ[name] = "1"  # before they import numpy: one core each
    context = multiprocessing.get_context("spawn")
    out: list[multiprocessing.process.BaseProcess] = []
    for i in range(workers):
        process = context.Process(
            target=_work,
            args=(
                store.folder,
                store.places,
                store.side_px,
                style,
                first_seed,
                (i, workers, rounds),
            ),
            daemon=True,
        )
        process.start()
        out.append(process)
    return out
