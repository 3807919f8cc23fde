"""The example field book, and edits of it."""

from collections.abc import Callable
from pathlib import Path

import pytest

EXAMPLE = Path(__file__).with_name("example_book.toml")
Edit = Callable[..., str]


@pytest.fixture(scope="session")
def example() -> str:
    """An invented job that uses every table."""
    return EXAMPLE.read_text("utf-8")


@pytest.fixture(scope="session")
def edited(example: str) -> Edit:
    """Replace pieces of the example, given as old, new, old, new; each old one must be there."""

    def edit(*pieces: str) -> str:
        text = example
        for old, new in zip(pieces[::2], pieces[1::2], strict=True):
            assert old in text, old
            text = text.replace(old, new, 1)
        return text

    return edit
