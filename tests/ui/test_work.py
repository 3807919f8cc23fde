"""What the page does with uploads, without a browser."""

from __future__ import annotations

import pytest

from analyzer.errors import SlabError
from analyzer.terms import DetectMethod
from ui.work import Upload, run_uploads


def _quiet(_: str) -> None:
    pass


def test_field_book_alone_is_assessed(book_text: str) -> None:
    finished = run_uploads(Upload("b.toml", book_text.encode()), [], DetectMethod.FILTERS, _quiet)
    assert finished.record.field.job.job_id == "mill-walk"
    assert finished.report_pdf.startswith(b"%PDF")
    assert [name for name, _ in finished.pictures] == ["plan.svg"] or "plan.svg" in dict(finished.pictures)


def test_a_photo_that_was_not_sent_is_named(book_text: str) -> None:
    text = book_text + '\n[[photo]]\nid = "p"\nfile = "photos/p.jpg"\n'
    with pytest.raises(SlabError, match=r"photos/p\.jpg.*not sent"):
        run_uploads(
            Upload("b.toml", text.encode()), [Upload("other.jpg", b"x")], DetectMethod.FILTERS, _quiet
        )


@pytest.mark.parametrize("name", ["../../evil.jpg", "/tmp/evil.jpg"])
def test_paths_of_a_book_never_leave_its_folder(book_text: str, name: str) -> None:
    text = book_text + f'\n[[photo]]\nid = "p"\nfile = "{name}"\n'
    with pytest.raises(SlabError):
        run_uploads(Upload("b.toml", text.encode()), [Upload("evil.jpg", b"x")], DetectMethod.FILTERS, _quiet)


def test_broken_toml_is_one_sentence() -> None:
    with pytest.raises(SlabError):
        run_uploads(Upload("b.toml", b"[job"), [], DetectMethod.FILTERS, _quiet)
