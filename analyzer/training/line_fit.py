"""Fits the probabilities of whole lines: ``python -m analyzer.training.line_fit [--real DIR]``.

Draws tiles in the style that the network was not trained on, runs a detector over them, looks up
for each line what it truly is, and fits the two logistic models of
:mod:`analyzer.detect.evidence`. ``--real DIR`` adds openly licensed photographs with crack masks
(``images/``, ``masks/``; ``real_tiles`` of the project's open data, MIT licence): small close-ups,
in which every line is a crack or nothing. Writes ``analyzer/detect/line_model.json``.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize

from analyzer.detect.cracks import find_candidates, free_runs
from analyzer.detect.evidence import (
    CRACK_FEATURES,
    JOINT_FEATURES,
    MODEL_FILE,
    LineModel,
    crack_features,
    joint_features,
)
from analyzer.detect.picture import score_maps
from analyzer.detect.settings import DEFAULTS, TraceSettings
from analyzer.records.picture import ScoreMaps
from analyzer.terms import DetectMethod

UInt8 = npt.NDArray[np.uint8]
Float = npt.NDArray[np.float64]

NEAR_PX = 3.0
"""A line is what the truth within this distance says of most of its points."""

REAL_WEIGHT = 3.0
"""A photograph counts as much as this many drawn tiles: there are few, and the product is for photographs."""

RIDGE = 0.002
"""Weight of the squared coefficients, per example: keeps them small where the data say nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """What a scored picture shows: masks (R, C) of crack, joint, and of cracks that nobody could see.

    ``weight`` is how much its lines count.
    """

    maps: ScoreMaps
    crack: UInt8
    joint: UInt8
    unseen: UInt8
    weight: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Examples:
    """Features (N, k), labels 0 or 1 and weights of N lines."""

    features: Float
    labels: Float
    weights: Float


def fit(truths: Iterable[Truth], settings: TraceSettings = DEFAULTS) -> LineModel:
    """Fit the joint model, then, with its decisions, the crack model."""
    kept = list(truths)
    blank = LineModel((0.0,) * len(JOINT_FEATURES), (0.0,) * len(CRACK_FEATURES))
    joint = logistic_fit(_join(joint_examples(t, blank, settings) for t in kept), JOINT_FEATURES.values())
    model = LineModel(tuple(joint), blank.crack)
    crack = logistic_fit(_join(crack_examples(t, model, settings) for t in kept), CRACK_FEATURES.values())
    return LineModel(model.joint, tuple(crack))


def joint_examples(truth: Truth, model: LineModel, settings: TraceSettings = DEFAULTS) -> Examples:
    """Fitted lines of one picture: joint or not."""
    threshold = _threshold(truth.maps.method, settings)
    lines = find_candidates(truth.maps, threshold, model, None, settings).lines
    away = _distance(truth.joint)
    labels = [_share(away, q.points, NEAR_PX + 0.3 * q.half_px) > 0.6 for q in lines]
    lengths = np.array([q.length_px for q in lines])
    widths = np.array([q.half_px for q in lines])
    weights = _capped(lengths / 100.0 * np.sqrt(widths + 0.5), 20.0)
    return Examples(joint_features(lines), np.array(labels, float), truth.weight * weights)


def crack_examples(truth: Truth, model: LineModel, settings: TraceSettings = DEFAULTS) -> Examples:
    """Runs outside joints of one picture: crack or not; runs on cracks that nobody could see are left out."""
    threshold = _threshold(truth.maps.method, settings)
    found = find_candidates(truth.maps, threshold, model, None, settings)
    lines = [q for q in found.lines if q.probability >= settings.joint_probability]
    rejected = [q for q in found.lines if q.probability < settings.joint_probability]
    runs = free_runs(found, lines, threshold, settings)
    away, dim = _distance(truth.crack), _distance(truth.unseen)
    known = [b for b in runs if _share(dim, b.points, 1.0) < 0.3]
    labels = [_share(away, b.points, NEAR_PX + 0.3 * b.middle_half_px) > 0.5 for b in known]
    lengths = np.array([b.length_px + 1.0 for b in known])
    widths = np.array([b.middle_half_px for b in known])
    # a wrong pixel counts the same on a wide line, and on a long one
    weights = _capped(np.minimum(lengths / 30.0, 8.0) * np.sqrt(widths + 0.5), 60.0)
    return Examples(
        crack_features(known, truth.maps, rejected), np.array(labels, float), truth.weight * weights
    )


def logistic_fit(examples: Examples, signs: Iterable[int]) -> Float:
    """Weighted logistic regression with a small ridge; returns coefficients (k,).

    ``signs`` (k,) says which coefficients may only be positive (1) or negative (-1); 0 is free.
    """
    x, y, w = examples.features, examples.labels, examples.weights / examples.weights.sum()
    scale = np.maximum(x.std(0), 1e-6)
    scale[0] = 1.0
    z = x / scale

    def loss(beta: Float) -> tuple[float, Float]:
        t = z @ beta
        rest = np.append(0.0, beta[1:])
        value = float(w @ (np.logaddexp(0.0, t) - y * t)) + 0.5 * RIDGE * float(rest @ rest)
        return value, z.T @ (w * (1.0 / (1.0 + np.exp(-np.clip(t, -30, 30))) - y)) + RIDGE * rest

    bounds = [(0.0 if s > 0 else None, 0.0 if s < 0 else None) for s in signs]
    found = minimize(loss, np.zeros(x.shape[1]), jac=True, method="L-BFGS-B", bounds=bounds)
    return np.asarray(found.x / scale)


def drawn_truths(method: DetectMethod, count: int, first_seed: int, side_px: int = 512) -> Iterator[Truth]:
    """Scored tiles of the held-out style."""
    from analyzer.training.render.tile import render_tile

    for seed in range(first_seed, first_seed + count):
        tile = render_tile(seed, "holdout", side_px)
        unseen = ((tile.crack > 0) & (tile.crack_weight < 0.4)).astype(np.uint8)
        yield Truth(score_maps(tile.rgb, None, method), tile.crack, tile.joint, unseen)


def real_truths(method: DetectMethod, folder: Path) -> Iterator[Truth]:
    """Scored photographs of a folder with ``images/`` and ``masks/`` of cracks; they hold no joints."""
    for path in sorted((folder / "images").iterdir()):
        mask = next((folder / "masks").glob(path.stem + ".*"))
        bgr = cv2.imread(str(path), cv2.IMREAD_COLOR)
        crack = cv2.imread(str(mask), cv2.IMREAD_GRAYSCALE)
        if bgr is None or crack is None:
            continue
        nothing = np.zeros(crack.shape, np.uint8)
        rgb = np.asarray(cv2.cvtColor(bgr, cv2.COLOR_BGR2RGB), np.uint8)
        yield Truth(score_maps(rgb, None, method), np.asarray(crack, np.uint8), nothing, nothing, REAL_WEIGHT)


def write_model(path: Path, method: DetectMethod, model: LineModel, note: str) -> None:
    """Store the coefficients of one method beside those of the other."""
    known = json.loads(path.read_text(encoding="utf-8")) if path.is_file() else {}
    known[method.value] = {
        "fitted_on": note,
        "joint": {k: round(v, 4) for k, v in zip(JOINT_FEATURES, model.joint, strict=True)},
        "crack": {k: round(v, 4) for k, v in zip(CRACK_FEATURES, model.crack, strict=True)},
    }
    path.write_text(json.dumps(known, indent=1) + "\n", encoding="utf-8")


def main(arguments: list[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--real", type=Path, help="folder with images/ and masks/")
    parser.add_argument("--tiles", type=int, default=400)
    parser.add_argument("--first-seed", type=int, default=5_000_000)
    parser.add_argument("--out", type=Path, default=MODEL_FILE)
    options = parser.parse_args(arguments)
    for method in DetectMethod:
        truths = list(drawn_truths(method, options.tiles, options.first_seed))
        note = f"{options.tiles} drawn tiles from seed {options.first_seed}"
        if options.real is not None:
            truths += list(real_truths(method, options.real))
            note += f" and the photographs of {options.real.name}"
        write_model(options.out, method, fit(truths), note)
        print(f"{method.value}: fitted on {note}")
    return 0


def _threshold(method: DetectMethod, settings: TraceSettings) -> float:
    """The shipped threshold of a method."""
    network = method is DetectMethod.NETWORK
    return settings.network_threshold if network else settings.filters_threshold


def _capped(weights: Float, most: float) -> Float:
    """Weights whose sum is at most ``most``: one picture full of cobbles must not outweigh all others."""
    return weights * min(1.0, most / max(float(weights.sum()), 1e-9))


def _distance(mask: UInt8) -> npt.NDArray[np.float32]:
    """Distance in px to the nearest set pixel."""
    if not mask.any():
        return np.full(mask.shape, 1e6, np.float32)
    return np.asarray(
        cv2.distanceTransform((mask == 0).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5), np.float32
    )


def _share(away: npt.NDArray[np.float32], points: npt.ArrayLike, reach_px: float) -> float:
    """Share of points that lie within a distance."""
    rc = np.rint(np.asarray(points, float)).astype(int)
    r, c = np.clip(rc[:, 0], 0, away.shape[0] - 1), np.clip(rc[:, 1], 0, away.shape[1] - 1)
    return float(np.mean(away[r, c] <= reach_px))


def _join(parts: Iterable[Examples]) -> Examples:
    """All examples in one."""
    kept = [p for p in parts if len(p.labels)]
    return Examples(
        np.concatenate([p.features for p in kept]),
        np.concatenate([p.labels for p in kept]),
        np.concatenate([p.weights for p in kept]),
    )


if __name__ == "__main__":
    raise SystemExit(main())
