"""Trains the network from nothing: ``python -m analyzer.training.train --minutes 20 --out DIR``.

Tiles are drawn on all cores while the network learns from those that exist, so nothing has to be
prepared. The schedule runs over the time given. DIR gets checkpoints (``--resume`` goes on from the
last), the loss curve as CSV and PNG and, at the end, the exported and calibrated weights. Needs
PyTorch; a GPU makes it a matter of minutes.
"""

from __future__ import annotations

import argparse
import copy
import csv
import math
import os
import random
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor

from .augment import unpack, vary
from .config import DEFAULT_PATH, Config, read_config
from .feed import TileStore, draw_packed, start_drawers
from .losses import f1_of, map_loss, tolerant_counts
from .model import Shape, SlabNet, count_parameters

CURVE = ("seconds", "step", "tiles", "rate", "loss", "crack_f1", "crack_at", "joint_f1", "joint_at")
THRESHOLDS = (0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)


class Replay:
    """Tiles of a store, copied to the device as they appear."""

    def __init__(self, store: TileStore, device: torch.device) -> None:
        side = store.side_px
        self.store, self.device = store, device
        self.tiles = torch.zeros((store.places, side, side, 4), dtype=torch.uint8, device=device)
        self.known = np.zeros(store.places, np.uint8)
        self.ready = torch.zeros(0, dtype=torch.long, device=device)

    def poll(self, at_most: int = 256) -> int:
        """Copies up to `at_most` new tiles; returns how many tiles there are."""
        rounds = np.asarray(self.store.rounds).copy()
        new = np.flatnonzero(rounds > self.known)[:at_most]
        if len(new):
            fresh = torch.from_numpy(np.asarray(self.store.tiles[new]))
            self.tiles[torch.from_numpy(new).to(self.device)] = fresh.to(self.device)
            self.known[new] = rounds[new]
            self.ready = torch.from_numpy(np.flatnonzero(self.known)).to(self.device)
        return len(self.ready)

    def sample(self, count: int, generator: torch.Generator) -> Tensor:
        """(count, side, side, 4) tiles drawn with equal chance."""
        at = torch.randint(len(self.ready), (count,), generator=generator, device=self.device)
        return self.tiles[self.ready[at]]


def rate_at(progress: float, max_rate: float, warm_up: float) -> float:
    """One cycle (Smith and Topin 2018): linear rise, then half a cosine down to 1/200."""
    if progress < warm_up:
        return max_rate * (0.04 + 0.96 * progress / warm_up)
    down = (progress - warm_up) / (1 - warm_up)
    return max_rate * (0.005 + 0.995 * 0.5 * (1 + math.cos(math.pi * min(down, 1.0))))


@dataclass(slots=True)
class Progress:
    """What a checkpoint holds beside the weights."""

    step: int = 0
    seconds: float = 0.0
    curve: list[dict[str, float]] = field(default_factory=list)


class Trainer:
    """Network, its running average, optimizer and tiles."""

    def __init__(self, config: Config, store: TileStore, device: torch.device) -> None:
        torch.manual_seed(config.steps.seed)
        self.config, self.device = config, device
        n = config.network
        shape = Shape(n.channels, n.encoder_convs, n.decoder_convs)
        layout = torch.channels_last
        self.net = SlabNet(shape).to(device).to(memory_format=layout)
        self.average = copy.deepcopy(self.net).eval().requires_grad_(False)
        self.optimizer = torch.optim.AdamW(
            self.net.parameters(), lr=config.steps.max_rate, weight_decay=config.steps.weight_decay
        )
        self.generator = torch.Generator(device=device)
        self.generator.manual_seed(config.steps.seed)
        self.whole_batch = random.Random(config.steps.seed)
        self.replay = Replay(store, device)
        self.progress = Progress()

    def step(self, share: float) -> Tensor:
        """One step at `share` (0..1) of the schedule; the loss, still on the device."""
        steps = self.config.steps
        for group in self.optimizer.param_groups:
            group["lr"] = rate_at(share, steps.max_rate, steps.warm_up)
        tiles = self.replay.sample(steps.batch, self.generator)
        with torch.no_grad():
            rgb, masks, weight = vary(
                tiles, steps.crop_px, self.config.variation, self.generator, self.whole_batch
            )
        self.net.train()
        with torch.autocast(self.device.type, dtype=torch.bfloat16):
            logits = self.net(rgb.contiguous(memory_format=torch.channels_last))
        loss = map_loss(logits, masks, weight, self.config.loss)
        self.optimizer.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(self.net.parameters(), steps.clip_norm)
        self.optimizer.step()
        self.progress.step += 1
        self._average()
        return loss.detach()

    def _average(self) -> None:
        keep = min(self.config.steps.average, 1 - 1 / (1 + self.progress.step / 10))
        ours = [v for v in self.average.state_dict().values() if v.is_floating_point()]
        theirs = [v for v in self.net.state_dict().values() if v.is_floating_point()]
        with torch.no_grad():
            torch._foreach_lerp_(ours, theirs, 1 - keep)

    def evaluate(self, holdout: Tensor) -> dict[str, float]:
        """Best F1 at 2 px of the averaged network on tiles kept out of training."""
        thresholds = torch.tensor(THRESHOLDS, device=self.device)
        counts = [torch.zeros((len(THRESHOLDS), 4), device=self.device) for _ in range(2)]
        for tiles in holdout.split(16):
            rgb, masks, weight = unpack(tiles.to(self.device))
            with torch.no_grad():
                p = torch.sigmoid(self.average(rgb))
            weights = (weight[:, 0], torch.ones_like(weight[:, 0]))
            for i in range(2):
                counts[i] += tolerant_counts(p[:, i], masks[:, i], weights[i], thresholds, 2)
        out: dict[str, float] = {}
        for name, c in zip(("crack", "joint"), counts, strict=True):
            f1 = f1_of(c)
            best = int(f1.argmax())
            out[f"{name}_f1"], out[f"{name}_at"] = float(f1[best]), THRESHOLDS[best]
        return out

    def save(self, path: Path) -> None:
        """Writes a checkpoint in one move, so that a stopped run leaves a whole one."""
        part = path.with_suffix(".part")
        torch.save(
            {
                "net": self.net.state_dict(),
                "average": self.average.state_dict(),
                "optimizer": self.optimizer.state_dict(),
                "step": self.progress.step,
                "seconds": self.progress.seconds,
                "curve": self.progress.curve,
                "config": self.config.as_dict(),
            },
            part,
        )
        os.replace(part, path)
        torch.save(
            {
                "average": self.average.state_dict(),
                "step": self.progress.step,
                "seconds": self.progress.seconds,
                "config": self.config.as_dict(),
            },
            path.with_name("average.pt"),
        )

    def load(self, path: Path) -> None:
        """Goes on from a checkpoint."""
        saved: dict[str, Any] = torch.load(path, map_location=self.device, weights_only=True)
        self.net.load_state_dict(saved["net"])
        self.average.load_state_dict(saved["average"])
        self.optimizer.load_state_dict(saved["optimizer"])
        self.progress = Progress(saved["step"], saved["seconds"], saved["curve"])
        seed = self.config.steps.seed + self.progress.step
        self.generator.manual_seed(seed)
        self.whole_batch.seed(seed)


def train(
    config: Config,
    out: Path,
    *,
    minutes: float = 20,
    steps: int | None = None,
    store_folder: Path | None = None,
    workers: int | None = None,
    device: str = "",
    resume: bool = False,
    report_every_s: float = 30.0,
) -> Trainer:
    """Runs the schedule; returns the trainer with its averaged network (see the module).

    The schedule runs over `minutes` or, when given, over a number of `steps`.
    """
    out.mkdir(parents=True, exist_ok=True)
    tiles = config.tiles
    where = torch.device(device or ("cuda" if torch.cuda.is_available() else "cpu"))
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    store = TileStore(store_folder or out / "tiles", tiles.places, tiles.side_px)
    count = workers if workers is not None else (os.cpu_count() or 1)
    drawers = start_drawers(
        store, style="train", first_seed=tiles.first_seed, workers=count, rounds=tiles.rounds
    )
    trainer = Trainer(config, store, where)
    checkpoint = out / "checkpoint.pt"
    if resume and checkpoint.exists():
        trainer.load(checkpoint)
    holdout = holdout_tiles(config, out)
    while trainer.replay.poll() < min(tiles.wait_for, tiles.places):
        if drawers and not any(d.is_alive() for d in drawers):
            raise RuntimeError("no tile drawer is alive; see its traceback above")
        time.sleep(0.1)
    before = trainer.progress.seconds
    started = reported = time.monotonic()
    recent: list[Tensor] = []

    def share_done() -> float:
        done = trainer.progress
        return done.step / steps if steps else done.seconds / (60 * minutes)

    while (share := share_done()) < 1:
        recent.append(trainer.step(share))
        drawn = trainer.replay.poll()
        now = time.monotonic()
        trainer.progress.seconds = before + now - started
        if now - reported >= report_every_s or share_done() >= 1:
            reported = now
            row = {
                "seconds": round(trainer.progress.seconds, 1),
                "step": trainer.progress.step,
                "tiles": int(trainer.replay.known.astype(np.int64).sum()),
                "rate": rate_at(share, config.steps.max_rate, config.steps.warm_up),
                "loss": float(torch.stack(recent).mean()),
                **trainer.evaluate(holdout),
            }
            recent.clear()
            trainer.progress.curve.append(row)
            print(" ".join(f"{k} {v:.4g}" for k, v in row.items()), f"ready {drawn}", flush=True)
            trainer.save(checkpoint)
            write_curve(trainer.progress.curve, out)
    for d in drawers:
        d.terminate()
    return trainer


def holdout_tiles(config: Config, out: Path) -> Tensor:
    """Tiles of the style kept out of training, drawn once and kept in `out`."""
    path = out / "holdout.npy"
    t = config.tiles
    if not path.exists():
        with torch.multiprocessing.get_context("spawn").Pool(os.cpu_count()) as pool:
            jobs = [(t.holdout_seed + i, "holdout", t.side_px) for i in range(t.holdout)]
            np.save(path, np.stack(pool.starmap(draw_packed, jobs)))
    return torch.from_numpy(np.load(path))


def write_curve(curve: list[dict[str, float]], out: Path) -> None:
    """`loss.csv` and `loss.png` in `out`."""
    with (out / "loss.csv").open("w", newline="") as f:
        writer = csv.DictWriter(f, CURVE)
        writer.writeheader()
        writer.writerows(curve)
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot as plt

    figure, (left, right) = plt.subplots(1, 2, figsize=(9, 3.2), layout="constrained")
    minutes = [row["seconds"] / 60 for row in curve]
    left.semilogy(minutes, [row["loss"] for row in curve])
    left.set(xlabel="minutes", ylabel="training loss")
    for name in ("crack", "joint"):
        right.plot(minutes, [row[f"{name}_f1"] for row in curve], label=name)
    right.set(xlabel="minutes", ylabel="F1 at 2 px, kept-out style", ylim=(0, 1))
    right.legend()
    figure.savefig(out / "loss.png", dpi=100)
    plt.close(figure)


def main(arguments: list[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=20)
    parser.add_argument("--steps", type=int, help="instead of --minutes")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--config", type=Path, default=DEFAULT_PATH)
    parser.add_argument("--store", type=Path, help="folder of drawn tiles (default: OUT/tiles)")
    parser.add_argument("--workers", type=int, help="drawing processes (default: one per core)")
    parser.add_argument("--device", default="", help="cuda, cuda:1, cpu")
    parser.add_argument("--tiles", type=Path, help="photographs with coarse masks, to calibrate on")
    parser.add_argument("--resume", action="store_true")
    parser.add_argument("--no-export", action="store_true")
    a = parser.parse_args(arguments)
    trainer = train(
        read_config(a.config),
        a.out,
        minutes=a.minutes,
        steps=a.steps,
        store_folder=a.store,
        workers=a.workers,
        device=a.device,
        resume=a.resume,
    )
    print(f"{count_parameters(trainer.net)} parameters, {trainer.progress.step} steps")
    if not a.no_export:
        from .calibration import calibrate
        from .export import export

        export(a.out / "average.pt", a.out / "weights", np.load(a.out / "holdout.npy"))
        calibrate(a.out / "weights", a.tiles, 160)
    return 0


if __name__ == "__main__":
    sys.exit(main())
