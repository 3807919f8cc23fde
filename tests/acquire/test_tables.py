"""The list of keys against the records it fills: nothing is left out, nothing leads nowhere."""

import dataclasses
import datetime as dt
import tomllib
from collections.abc import Iterator

import pytest

from analyzer import records
from analyzer.acquire.form import Key, Table
from analyzer.acquire.tables import BOOK, STOPS

MADE_ELSEWHERE = {
    # Two attributes from one key: a place, a pixel.
    "x_mm": "at",
    "y_mm": "at",
    "row_px": "px",
    "col_px": "px",
}
INNER = {"clearings": "cleared", "marks": "marks", "distances": "distances"}


def tables(outer: Table) -> Iterator[Table]:
    for table in outer.tables:
        yield table
        yield from tables(table)


def keys() -> Iterator[tuple[Table, Key]]:
    for table in (BOOK, *tables(BOOK)):
        for key in table.keys:
            yield table, key


@pytest.mark.parametrize("table", list(tables(BOOK)), ids=lambda table: table.name)
def test_every_attribute_of_a_record_has_its_key(table: Table) -> None:
    assert table.record is not None
    filled = {key.field or key.name for key in table.keys}
    inner = {inner.name for inner in table.tables}
    attributes = {field.name for field in dataclasses.fields(table.record)}
    for name in attributes:
        if name in INNER:
            assert INNER[name] in inner
        else:
            assert name in filled or MADE_ELSEWHERE.get(name) in filled, f"no key fills {name}"
    assert filled - attributes <= set(MADE_ELSEWHERE.values())


def test_every_part_of_a_field_book_has_its_table() -> None:
    parts = {field.name for field in dataclasses.fields(records.FieldBook)} - {"source", "sha256"}
    assert len(parts) == len(BOOK.tables)


def test_the_stops_that_can_be_cleared_are_the_stops_that_are_asked() -> None:
    stops = next(table for table in BOOK.tables if table.name == "stops")
    assert tuple(key.name for key in stops.keys) == STOPS


@pytest.mark.parametrize(("table", "key"), list(keys()), ids=lambda part: part.name)
def test_every_example_can_be_read(table: Table, key: Key) -> None:
    value = tomllib.loads(f"value = {key.example}")["value"]
    if value == "unknown":
        assert key.takes_unknown
        return
    if isinstance(value, dt.date):
        value = value.isoformat()  # as the reader does
    read = key.kind.read(value, "example")
    assert read is not None
    assert not isinstance(value, str) or value.strip()
    assert isinstance(value, str | int | float | bool | list)


def test_the_example_shows_every_key(example: str) -> None:
    def used(table: Table, raw: dict[str, object]) -> set[tuple[str, str]]:
        found = {(table.name, name) for name in raw}
        for inner in table.tables:
            entries = raw.get(inner.name, [])
            for entry in entries if isinstance(entries, list) else [entries]:
                found |= used(inner, entry)
        return found

    wanted = {(table.name, key.name) for table, key in keys()}
    # Heights stand in for rods: one kind a book.
    assert wanted - used(BOOK, tomllib.loads(example)) == {("station", "height")}


def test_names_are_used_once_and_words_are_explained() -> None:
    for table in (BOOK, *tables(BOOK)):
        assert len(set(table.names)) == len(table.names)
        assert table.doc.endswith(".")
        assert all(key.doc for key in table.keys)
        for group in (*table.exactly_one, *table.any_of, *table.together):
            assert set(group) <= set(table.names)


@pytest.mark.parametrize(
    ("file", "good"),
    [
        ("a.jpg", True),
        ("photos/a b.jpg", True),
        ("a..b.jpg", True),
        (".hidden/a.jpg", True),
        ("../a.jpg", False),
        ("photos/../../a.jpg", False),
        ("..", False),
        ("/etc/a.jpg", False),
        ("~/a.jpg", False),
        ("C:/a.jpg", False),
        ("photos\\a.jpg", False),
        ("photos/", False),
        ("", False),
        ("a\x00.jpg", False),
        ("a.jpg\n", False),
    ],
)
def test_photo_files_stay_inside_the_folder(file: str, good: bool) -> None:
    from analyzer.errors import FieldBookError

    photo = next(table for table in BOOK.tables if table.name == "photo")
    kind = next(key.kind for key in photo.keys if key.name == "file")
    if good:
        assert kind.read(file, "here") == file
    else:
        with pytest.raises(FieldBookError, match="own folder"):
            kind.read(file, "here")
