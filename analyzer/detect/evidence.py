"""How likely a whole line is a joint or a crack, from what it looks like over all its length.

Two logistic models per method; their coefficients are fitted on drawn slabs of a style that the
network was not trained on and on openly licensed photographs
(``python -m analyzer.training.line_fit``) and are kept in ``line_model.json`` beside this module.

References
----------
.. [1] Logistic regression as calibrated probability: Platt 1999 (from memory).
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt

from analyzer.detect.graph import Branch, components
from analyzer.detect.joint_lines import JointLine, distances
from analyzer.errors import RuleError
from analyzer.records.picture import ScoreMaps
from analyzer.terms import DetectMethod

UInt8 = npt.NDArray[np.uint8]
Float = npt.NDArray[np.float64]
Int = npt.NDArray[np.int64]

_SAMPLES = 8
_CHUNK = 512
_CROWD_PX = 132

MODEL_FILE = Path(__file__).with_name("line_model.json")

JOINT_FEATURES = {
    "one": 0,
    "joint score": 1,
    "crack score": -1,
    "clearly joint": 1,
    "support": 1,
    "stray": -1,
    "uneven width": -1,
    "slenderness": 1,
    "length": 1,
    "reaches": 1,
    "company": 1,
    "bends": -1,
    "astray": -1,
}
"""What the joint model looks at, and whether more of it may only speak for (1) or against (-1)."""

CRACK_FEATURES = {
    "one": 0,
    "crack score": 1,
    "joint score": 0,
    "greater score": 1,
    "clearly joint": -1,
    "weakest score": 1,
    "length": 1,
    "length of all": 1,
    "reach of all": 1,
    "score of all": 1,
    "slenderness": 1,
    "straightness": -1,
    "straight and joint": -1,
    "on a likely joint": -1,
    "crowding": -1,
    "loops": -1,
    "slab score": 1,
    "patch score": -1,
}
"""The same for the crack model. Signs are fixed so that a fit to few examples stays sensible."""


@dataclass(frozen=True, slots=True)
class LineModel:
    """Coefficients of both models, in the order of ``JOINT_FEATURES`` and ``CRACK_FEATURES``."""

    joint: tuple[float, ...]
    crack: tuple[float, ...]

    def joint_probability(self, features: Float) -> Float:
        """Probability that each line (N, len(JOINT_FEATURES)) is a joint."""
        return _logistic(features @ np.asarray(self.joint))

    def crack_probability(self, features: Float) -> Float:
        """Probability that each run (N, len(CRACK_FEATURES)) is a crack."""
        return _logistic(features @ np.asarray(self.crack))


@lru_cache(maxsize=4)
def load_model(method: DetectMethod, path: Path = MODEL_FILE) -> LineModel:
    """The fitted models of a method.

    Raises
    ------
    RuleError
        The file is missing, or a coefficient is missing or too many.
    """
    try:
        entry = json.loads(path.read_text(encoding="utf-8"))[method.value]
        joint, crack = entry["joint"], entry["crack"]
        if set(joint) != set(JOINT_FEATURES) or set(crack) != set(CRACK_FEATURES):
            raise KeyError("features")
        return LineModel(
            tuple(float(joint[k]) for k in JOINT_FEATURES), tuple(float(crack[k]) for k in CRACK_FEATURES)
        )
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise RuleError(
            path.name, f"the line model of method {method.value} cannot be read", "install the package again"
        ) from error


def joint_features(lines: Sequence[JointLine]) -> Float:
    """What the joint model looks at, (N, len(JOINT_FEATURES))."""
    return np.array(
        [
            (
                1.0,
                _logit(q.joint),
                _logit(q.crack),
                _clearly(q.joint, q.crack),
                q.support,
                # a sawn edge strays by half a pixel and some of its width
                math.log((q.rms_px + 0.25) / (0.5 + 0.08 * q.half_px)),
                q.uneven,
                math.log(q.length_px / (2.0 * q.half_px + 1.0)),
                min(0.7, math.log(max(q.length_px, 1.0) / 300.0)),
                float(q.reaches),
                float(min(q.company, 3)),
                # where the map has no doubt that it is a joint, a crack that leaves its end is another line
                q.bends * q.crack / max(q.crack + q.joint, 1e-6),
                min(q.astray, 2.0) * q.crack / max(q.crack + q.joint, 1e-6),
            )
            for q in lines
        ]
    ).reshape(-1, len(JOINT_FEATURES))


def crack_features(runs: Sequence[Branch], maps: ScoreMaps, rejected: Sequence[JointLine]) -> Float:
    """What the crack model looks at, (N, len(CRACK_FEATURES)), in the order of ``runs``.

    Parameters
    ----------
    runs : sequence of Branch
    maps : ScoreMaps
    rejected : sequence of JointLine
        Fitted lines that did not pass for joints, each with its probability.
    """
    if not runs:
        return np.zeros((0, len(CRACK_FEATURES)))
    points = np.concatenate([b.points for b in runs])
    r, c = points[:, 0], points[:, 1]
    starts = np.concatenate([[0], np.cumsum([len(b.points) for b in runs])[:-1]])
    count = np.array([len(b.points) for b in runs], float)

    def mean(layer: UInt8 | None) -> Float:
        if layer is None:
            return np.full(len(runs), 0.5)
        return np.asarray(np.add.reduceat(layer[r, c].astype(float), starts) / count / 255.0)

    crack, joint = mean(maps.crack), mean(maps.joint)
    length = np.array([b.length_px for b in runs]) + 1.0
    half = np.array([b.middle_half_px for b in runs])
    whole_length, whole_score, loops = (np.zeros(len(runs)) for _ in range(3))
    for members in components(list(runs)):
        whole_length[members] = length[members].sum()
        whole_score[members] = np.average(crack[members], weights=length[members])
        nodes = {n for i in members for n in (runs[i].start, runs[i].end)}
        loops[members] = math.log1p(max(0, len(members) - len(nodes) + 1))
    weakest = np.array(
        [
            _weakest(
                np.maximum(
                    maps.crack[b.points[:, 0], b.points[:, 1]], maps.joint[b.points[:, 0], b.points[:, 1]]
                )
            )
            for b in runs
        ]
    )
    straight = np.array([_straightness(b) for b in runs])
    lead = _logit(joint) - _logit(crack)
    return np.column_stack(
        [
            np.ones(len(runs)),
            _logit(crack),
            _logit(joint),
            _logit(np.maximum(crack, joint)),
            _clearly(joint, crack),
            _logit(weakest),
            np.log(length / 30.0),
            np.log(whole_length / 100.0),
            # over 900 px across, a picture shows enough of a line to tell
            np.log(whole_length / min(900.0, math.hypot(*maps.crack.shape))),
            _logit(whole_score),
            np.log(length / (2.0 * half + 1.0)),
            straight,
            straight * np.clip(lead, -4.0, 4.0),
            _on_likely_joint(runs, rejected),
            _crowding(maps, r, c, starts, count) - np.minimum(2.0 * half / _CROWD_PX, 0.5),
            loops,
            _logit(mean(maps.slab)),
            _logit(mean(maps.patch)),
        ]
    )


def _crowding(maps: ScoreMaps, r: Int, c: Int, starts: Int, count: Float) -> Float:
    """Share of line pixels in the neighbourhood of each run: gaps between stones crowd, cracks do not."""
    cell = 4
    over = cv2.threshold(cv2.max(maps.crack, maps.joint), 63, 255, cv2.THRESH_BINARY)[1]
    small = cv2.resize(
        over, (-(-over.shape[1] // cell), -(-over.shape[0] // cell)), interpolation=cv2.INTER_AREA
    )
    side = _CROWD_PX // cell
    share = cv2.blur(small, (side, side), borderType=cv2.BORDER_REFLECT)
    at = share[np.minimum(r // cell, share.shape[0] - 1), np.minimum(c // cell, share.shape[1] - 1)]
    return np.asarray(np.add.reduceat(at.astype(float), starts) / count / 255.0)


def _clearly(joint: npt.ArrayLike, crack: npt.ArrayLike) -> Float:
    """By how many log odds the joint score leads beyond 3: there the maps do not waver."""
    return np.maximum(_logit(joint) - _logit(crack) - 3.0, 0.0)


def _weakest(score: UInt8) -> float:
    """Lowest mean, 0..1, over any stretch of 15 points: a line is as good as its weakest part."""
    values = score.astype(np.float32)
    if len(values) > 15:
        values = cv2.blur(values.reshape(1, -1), (15, 1)).ravel()[7:-7]
        return float(values.min()) / 255.0
    return float(values.mean()) / 255.0


def _straightness(run: Branch) -> float:
    """0 for a line that strays from its chord by a tenth of its length, 1 for one that does by 1 %."""
    # the axis of a wide line forks at its ends
    trim = min(int(run.half_px[len(run.half_px) // 2]), len(run.points) // 4)
    p = run.points[trim : len(run.points) - trim].astype(float)
    chord = p[-1] - p[0]
    length = math.hypot(*chord)
    if length < 8.0:
        return 0.0
    across = (p - p[0]) @ np.array([chord[1], -chord[0]]) / length
    stray = float(across.std()) + 0.3
    return float(np.clip(math.log10(0.1 * length / stray), -0.5, 1.5))


def _on_likely_joint(runs: Sequence[Branch], rejected: Sequence[JointLine]) -> Float:
    """Log odds, from -4, of the likeliest line on which most of a run lies."""
    out = np.full(len(runs), -4.0)
    lines = [q for q in rejected if q.probability > 0.03]
    if not lines:
        return out
    reach = np.array([q.half_px + 2.6 for q in lines])
    odds = _logit(np.array([q.probability for q in lines]))
    share = np.arange(_SAMPLES) / (_SAMPLES - 1)
    some = np.concatenate([b.points[(share * (len(b.points) - 1)).astype(int)] for b in runs]).astype(float)
    for first in range(0, len(runs), _CHUNK):
        part = some[first * _SAMPLES : (first + _CHUNK) * _SAMPLES]
        on = (distances(part, lines) <= reach).reshape(-1, _SAMPLES, len(lines)).mean(1) >= 0.6
        out[first : first + _CHUNK] = np.where(on, odds, -4.0).max(1)
    return out


def _logit(p: npt.ArrayLike) -> Float:
    """Log odds of probabilities, kept within 1 % and 99 %."""
    q = np.clip(np.asarray(p, float), 0.01, 0.99)
    return np.asarray(np.log(q / (1.0 - q)))


def _logistic(z: Float) -> Float:
    """Probability from log odds."""
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(z, -30.0, 30.0))))
