"""The shipped training configuration loads; a misspelt key does not pass."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyzer.errors import RuleError
from analyzer.training.config import DEFAULT_PATH, read_config


def test_shipped_configuration_is_complete() -> None:
    config = read_config()
    assert len(config.network.channels) == len(config.network.encoder_convs)
    assert len(config.network.decoder_convs) == len(config.network.channels) - 1
    assert config.tiles.holdout_seed > config.tiles.first_seed + config.tiles.places * config.tiles.rounds


def test_single_values_can_be_replaced() -> None:
    assert read_config(steps__batch=3).steps.batch == 3


@pytest.mark.parametrize("change", ["steps__batches", "stepps__batch"])
def test_unknown_keys_are_errors(change: str) -> None:
    with pytest.raises(RuleError, match="unknown or missing"):
        read_config(**{change: 1})


def test_missing_key_is_an_error(tmp_path: Path) -> None:
    path = tmp_path / "train.toml"
    path.write_text("\n".join(x for x in DEFAULT_PATH.read_text().splitlines() if not x.startswith("batch")))
    with pytest.raises(RuleError, match="batch"):
        read_config(path)
