"""The training configuration, read from `train.toml`; standard library only."""

from __future__ import annotations

import dataclasses
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analyzer.errors import RuleError

DEFAULT_PATH = Path(__file__).with_name("train.toml")


@dataclass(frozen=True, slots=True)
class Network:
    """Widths of the network, see :class:`model.Shape`."""

    channels: tuple[int, ...]
    encoder_convs: tuple[int, ...]
    decoder_convs: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Tiles:
    """What is drawn and kept."""

    side_px: int
    places: int
    rounds: int
    first_seed: int
    wait_for: int
    holdout: int
    holdout_seed: int


@dataclass(frozen=True, slots=True)
class Steps:
    """Optimizer."""

    batch: int
    crop_px: int
    max_rate: float
    warm_up: float
    weight_decay: float
    average: float
    clip_norm: float
    seed: int


@dataclass(frozen=True, slots=True)
class Loss:
    """Weights of the loss, per class where four values stand."""

    class_weights: tuple[float, ...]
    line_weights: tuple[float, ...]
    dice: tuple[float, ...]
    confusion_weight: float


@dataclass(frozen=True, slots=True)
class Variation:
    """How strongly tiles are varied; shares are of tiles unless said otherwise."""

    scale_share: float  # of batches
    scale_low: float
    scale_high: float
    squeeze: float
    texture_share: float
    paste_share: float
    light_share: float
    blur_share: float
    sharpen_share: float
    noise_share: float
    jpeg_share: float
    grey_share: float


@dataclass(frozen=True, slots=True)
class Config:
    """All of `train.toml`."""

    network: Network
    tiles: Tiles
    steps: Steps
    loss: Loss
    variation: Variation

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for checkpoints and the weights' companion file."""
        return dataclasses.asdict(self)


_SECTIONS: dict[str, type] = {
    "network": Network,
    "tiles": Tiles,
    "steps": Steps,
    "loss": Loss,
    "variation": Variation,
}


def read_config(path: Path = DEFAULT_PATH, **changes: Any) -> Config:
    """Reads a configuration; `changes` replace single values, written `section__key=value`.

    Raises
    ------
    RuleError
        On an unknown or missing section or key.
    """
    with path.open("rb") as f:
        raw = tomllib.load(f)
    for name, value in changes.items():
        section, _, key = name.partition("__")
        raw.setdefault(section, {})[key] = value
    _check(path, "sections", set(raw), set(_SECTIONS))
    parts: dict[str, Any] = {}
    for section, kind in _SECTIONS.items():
        known = {f.name for f in dataclasses.fields(kind)}
        _check(path, f"[{section}]", set(raw[section]), known)
        values = {k: tuple(v) if isinstance(v, list) else v for k, v in raw[section].items()}
        parts[section] = kind(**values)
    return Config(**parts)


def _check(path: Path, where: str, found: set[str], expected: set[str]) -> None:
    wrong = sorted(found ^ expected)
    if wrong:
        raise RuleError(
            f"{path.name}, {where}",
            f"unknown or missing: {', '.join(wrong)}",
            "compare with the train.toml that comes with the package",
            expected=sorted(expected),
            found=sorted(found),
        )
