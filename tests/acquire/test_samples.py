"""Finding the shipped samples: by name, the first one, none."""

from pathlib import Path

import pytest

from analyzer.acquire import sample_field_book, samples
from analyzer.errors import MissingPartError, SlabError

MODULE = "analyzer.acquire.samples"


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder in place of the installed samples."""
    import sys

    monkeypatch.setattr(sys.modules[MODULE], "_root", lambda: tmp_path)
    return tmp_path


def test_samples_by_name(shelf: Path) -> None:
    for name in ("dairy-apron", "chapel-walk"):
        (shelf / name).mkdir()
        (shelf / name / "field_book.toml").touch()
    (shelf / "not-a-sample").mkdir()
    assert samples() == ("chapel-walk", "dairy-apron")
    assert sample_field_book() == shelf / "chapel-walk" / "field_book.toml"
    assert sample_field_book("dairy-apron") == shelf / "dairy-apron" / "field_book.toml"
    with pytest.raises(SlabError, match="use one of chapel-walk, dairy-apron"):
        sample_field_book("dairy")


def test_no_sample_at_all(shelf: Path) -> None:
    assert samples() == ()
    with pytest.raises(MissingPartError, match="install the package again"):
        sample_field_book()
