"""The two styles share nothing that is seen."""

from dataclasses import fields

import pytest

from analyzer.training.render.style import STYLES, style_of


def test_styles_have_no_generator_in_common() -> None:
    train, kept_out = style_of("train"), style_of("holdout")
    for f in fields(train):
        assert getattr(train, f.name) != getattr(kept_out, f.name)


def test_unknown_style_is_refused() -> None:
    with pytest.raises(ValueError, match="train, holdout"):
        style_of("other")
    assert set(STYLES) == {"train", "holdout"}
