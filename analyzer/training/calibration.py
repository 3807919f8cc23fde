"""Makes the exported network's logits probabilities.

``python -m analyzer.training.calibration WEIGHTS_FOLDER [--tiles FOLDER]`` draws tiles of the style
kept out of training, joins the network's looks as :mod:`analyzer.detect.scales` does, fits offset
and slope of every class by logistic regression (Platt 1999) on half of the tiles, and prints the
expected calibration error on the other half. The result goes into the weights' companion file.

Photographs with coarse masks (`--tiles`, a folder of ``images/`` and ``masks/``) join the fit of the
crack class: real pictures look less certain than drawn ones, and a score should be the share of
pixels that are truly crack there too. Their masks are wider than the cracks: what lies within two
pixels of a mask's centre line counts as crack, the rest of the mask counts as nothing.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize

from analyzer.detect.network import Weights, load_weights, score_at_scale
from analyzer.detect.scales import CLASSES, PLANS, join

from .line_scores import calibration_error, distance_to, thin
from .render.tile import render_tile

Floats = npt.NDArray[np.float64]
FIRST_SEED = 9_500_000
SCALES = {"enlarged": (2.0, 1.0, 0.5, 0.25), "native": (1.0, 0.5, 0.25)}
PHOTO_SHARE = 0.2
"""Part of the evidence that photographs get."""
LIVE_FROM = 0.05
"""Pixels under this probability are left out of the second, stricter error: background is easy."""


@dataclass(frozen=True, slots=True)
class Sample:
    """Pixels drawn from pictures: joined logit, truth and weight (how many pixels each stands for)."""

    logit: Floats
    truth: npt.NDArray[np.bool_]
    weight: Floats

    @staticmethod
    def joined(parts: list[Sample]) -> Sample:
        """All pixels of several samples."""
        return Sample(
            np.concatenate([p.logit for p in parts]),
            np.concatenate([p.truth for p in parts]),
            np.concatenate([p.weight for p in parts]),
        )


def fit_logistic(logit: Floats, truth: npt.NDArray[np.bool_], weight: Floats) -> tuple[float, float]:
    """Offset and slope of the logistic of largest weighted likelihood."""
    sign = np.where(truth, -1.0, 1.0)
    total = weight.sum()

    def loss(theta: Floats) -> tuple[float, Floats]:
        z = sign * (theta[0] + theta[1] * logit)
        pull = weight * sign / (1 + np.exp(-np.clip(z, -60, 60))) / total
        value = float((weight * np.logaddexp(0, z)).sum() / total)
        return value, np.array([pull.sum(), (pull * logit).sum()])

    found = minimize(loss, np.array([0.0, 1.0]), jac=True, method="L-BFGS-B")
    return float(found.x[0]), float(found.x[1])


def joined_logits(rgb: npt.NDArray[np.uint8], plan: str, weights: Weights) -> dict[str, Floats]:
    """(R, C) joined logits by class."""
    scales = SCALES[plan]
    looks = [score_at_scale(rgb, s, weights) for s in scales]
    zero, step = weights.fusion.logit_zero, weights.fusion.logit_step
    maps = join(looks, scales, (rgb.shape[0], rgb.shape[1]))
    return {k: (m.astype(np.float64) - zero) * step for k, m in maps.items()}


def pick(
    rng: np.random.Generator,
    logit: Floats,
    truth: npt.NDArray[np.bool_],
    usable: npt.NDArray[np.bool_],
    count: int = 4000,
) -> Sample:
    """Pixels of one picture, lines and doubtful places drawn more often and weighted back."""
    chance = np.where(truth | (logit > -4), 20.0, 1.0) * usable
    total = chance.sum()
    if total == 0:
        return Sample(np.zeros(0), np.zeros(0, bool), np.zeros(0))
    flat = chance.ravel() / total
    at = rng.choice(flat.size, count, p=flat)
    return Sample(logit.ravel()[at], truth.ravel()[at], 1.0 / (flat[at] * count))


def from_renders(
    weights: Weights, plan: str, count: int, rng: np.random.Generator, first_seed: int = FIRST_SEED
) -> Iterator[dict[str, Sample]]:
    """One sample per class for each drawn tile of the kept-out style."""
    for seed in range(first_seed, first_seed + count):
        tile = render_tile(seed, style="holdout", size_px=512)
        out = {}
        for name, logit in joined_logits(tile.rgb, plan, weights).items():
            truth = getattr(tile, name) > 0
            usable = np.ones_like(truth)
            if name == "crack":  # what nobody can see, and the rim of half-covered pixels, decide nothing
                usable = tile.crack_weight > np.where(truth, 0.5, 0.7)
            out[name] = pick(rng, logit, truth, usable)
        yield out


def from_photographs(folder: Path, weights: Weights, plan: str, rng: np.random.Generator) -> Iterator[Sample]:
    """Crack pixels of each photograph of a folder with coarse masks."""
    for path in sorted((folder / "images").iterdir()):
        rgb = cv2.imread(str(path))
        mask = cv2.imread(str(folder / "masks" / path.name), cv2.IMREAD_GRAYSCALE)
        if rgb is None or mask is None:
            continue
        picture = np.asarray(rgb[..., ::-1], np.uint8).copy()
        wide = np.asarray(mask) > 127
        core = distance_to(thin(wide)) <= 2
        logit = joined_logits(picture, plan, weights)["crack"]
        yield pick(rng, logit, core, core | (distance_to(wide) > 2))


def fit(
    samples: list[dict[str, Sample]], photographs: list[Sample]
) -> tuple[dict[str, list[float]], dict[str, tuple[float, float]]]:
    """Offset and slope per class, and two calibration errors on every other tile.

    The errors are over all pixels and over those with a probability of `LIVE_FROM` and more.
    """
    table: dict[str, list[float]] = {}
    errors: dict[str, tuple[float, float]] = {}
    for name in CLASSES:
        parts = [s[name] for s in samples[::2]]
        used = Sample.joined(parts)
        if name == "crack" and photographs:
            extra = Sample.joined(photographs)
            factor = PHOTO_SHARE / (1 - PHOTO_SHARE) * used.weight.sum() / extra.weight.sum()
            used = Sample.joined([used, Sample(extra.logit, extra.truth, extra.weight * factor)])
        offset, slope = fit_logistic(used.logit, used.truth, used.weight)
        table[name] = [round(offset, 4), round(slope, 4)]
        check = Sample.joined([s[name] for s in samples[1::2]])
        p = 1 / (1 + np.exp(-(offset + slope * check.logit)))
        live = p >= LIVE_FROM
        errors[name] = (
            calibration_error(p, check.truth, check.weight),
            calibration_error(p[live], check.truth[live], check.weight[live]),
        )
    return table, errors


def calibrate(folder: Path, tiles: Path | None, count: int) -> dict[str, Any]:
    """Fits both plans and writes the companion file; returns what was added to it."""
    weights = load_weights(2, folder / "slab_lines.onnx")
    rng = np.random.default_rng(1)
    calibration, errors = {}, {}
    for plan in PLANS:
        samples = list(from_renders(weights, plan, count, rng))
        photographs = list(from_photographs(tiles, weights, plan, rng)) if tiles else []
        calibration[plan], found = fit(samples, photographs)
        errors[plan] = {k: [round(x, 4) for x in v] for k, v in found.items()}
    path = folder / "slab_lines.json"
    about = json.loads(path.read_text(encoding="utf-8"))
    added = {"calibration": calibration, "calibration_error": errors}
    path.write_text(json.dumps({**about, **added}, indent=1) + "\n", encoding="utf-8")
    return added


def main(arguments: list[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("weights", type=Path)
    parser.add_argument("--tiles", type=Path, help="photographs with coarse masks")
    parser.add_argument("--count", type=int, default=200, help="drawn tiles")
    a = parser.parse_args(arguments)
    added = calibrate(a.weights, a.tiles, a.count)
    for plan in PLANS:
        for name in CLASSES:
            every, live = added["calibration_error"][plan][name]
            print(
                f"{plan:9s}{name:6s} ECE {every:.4f}, of pixels from {LIVE_FROM:g} on {live:.4f}; "
                f"offset, slope {added['calibration'][plan][name]}"
            )
    return 0


if __name__ == "__main__":
    sys.exit(main())
