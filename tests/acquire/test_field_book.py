"""Reading the file itself: bytes, encoding, syntax, size."""

import contextlib
import hashlib
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.acquire import parse_field_book, read_field_book
from analyzer.acquire.field_book import MAX_BYTES
from analyzer.errors import FieldBookError, SlabError


def refused(path: Path, *words: str) -> None:
    with pytest.raises(FieldBookError) as caught:
        read_field_book(path)
    sentence = str(caught.value)
    assert "\n" not in sentence
    for word in (path.name, *words):
        assert word in sentence, sentence


def test_source_and_hash_are_those_of_the_file(tmp_path: Path, example: str) -> None:
    path = tmp_path / "walk.toml"
    # A byte-order mark and Windows line ends, as some editors write them.
    data = b"\xef\xbb\xbf" + example.replace("\n", "\r\n").encode()
    path.write_bytes(data)
    book = read_field_book(path, need_photos=False)
    assert book.source == "walk.toml"
    assert book.sha256 == hashlib.sha256(data).hexdigest()
    assert path.read_bytes() == data
    assert book.stations == parse_field_book(example).stations


def test_files_that_are_none(tmp_path: Path) -> None:
    refused(tmp_path / "none.toml", "does not exist")
    refused(tmp_path, "is a folder")
    (tmp_path / "empty.toml").touch()
    refused(tmp_path / "empty.toml", "is empty")
    (tmp_path / "utf16.toml").write_bytes("schema = 1\n".encode("utf-16"))
    refused(tmp_path / "utf16.toml", "UTF-8", "line 1")
    (tmp_path / "photo.toml").write_bytes(b"schema = 1\n\xff\xd8\xff\xe0")
    refused(tmp_path / "photo.toml", "UTF-8", "line 2")
    (tmp_path / "big.toml").write_bytes(b"#" * (MAX_BYTES + 1))
    refused(tmp_path / "big.toml", "5 MB")
    (tmp_path / "full.toml").write_bytes(b"#" * MAX_BYTES)
    with pytest.raises(SlabError, match="has no schema"):
        read_field_book(tmp_path / "full.toml")


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("schema = 1\nthickness = 4 in\n", "line 2"),
        ('schema = 1\nx = "5\' 6""\n', "line 2"),
        ("schema = 1\n[slab\n", "line 2"),
        ("schema = 1\n[job]\nid = 'a'\n[job]\n", "line 4"),
        ("schema = ", "end of the file"),
        ("x = " + "[" * 3000, "file"),
        ("x = " + "9" * 5000, "file"),
        ("x = \x00", "line 1"),
    ],
)
def test_a_slip_of_syntax_is_one_sentence_with_its_line(text: str, where: str) -> None:
    with pytest.raises(FieldBookError) as caught:
        parse_field_book(text, "book.toml")
    sentence = str(caught.value)
    assert sentence.startswith(f"book.toml, {where}")
    assert "cannot be read" in sentence or "needs quotation marks" in sentence
    assert "TOML" not in sentence
    assert "\n" not in sentence


def test_text_that_is_too_long_is_refused() -> None:
    with pytest.raises(FieldBookError, match="5 MB"):
        parse_field_book("#" * (MAX_BYTES + 1))


@given(text=st.text(max_size=60))
def test_nothing_but_slab_errors_comes_out(text: str) -> None:
    with pytest.raises(SlabError):
        parse_field_book(text)


@given(
    at=st.integers(0, 9000), junk=st.sampled_from(["", '"', "[", "]", "\n", "=", "x", "#", "9", "-", "nan"])
)
def test_nothing_but_slab_errors_comes_out_of_a_damaged_book(example: str, at: int, junk: str) -> None:
    with contextlib.suppress(SlabError):
        assert parse_field_book(example[:at] + junk + example[at + 1 :]).outline


def test_many_stations_read_in_a_breath(edited: Callable[..., str]) -> None:
    # 2,000 stations on a 5 ft walk, every one in its own place.
    more = "".join(
        f'[[station]]\nname = "T{k}"\nat = ["{k % 50 + 5}.5 in", "{k // 50 * 3 + 60} in"]\nrod = "40 in"\n'
        for k in range(2000)
    )
    assert len(parse_field_book(edited("[[fault]]", more + "[[fault]]")).stations) == 2011
