"""The constants keep the order that the stages rely on."""

import dataclasses

import pytest

from analyzer.detect.settings import DEFAULTS, TraceSettings


def test_settings_are_frozen_and_in_order():
    with pytest.raises(dataclasses.FrozenInstanceError):
        DEFAULTS.link_px = 1.0  # type: ignore[misc]
    assert 0 < DEFAULTS.low_fraction < 1
    assert DEFAULTS.link_free_px < DEFAULTS.link_px
    assert DEFAULTS.piece_px < DEFAULTS.least_joint_px
    assert 0.5 <= DEFAULTS.along_joint_fraction <= 1


def test_every_constant_can_be_replaced_alone():
    for field in dataclasses.fields(TraceSettings):
        value = getattr(DEFAULTS, field.name) + 1
        assert getattr(dataclasses.replace(DEFAULTS, **{field.name: value}), field.name) == value
