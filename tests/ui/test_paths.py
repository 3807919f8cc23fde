"""Where a typed value goes in the field book."""

from __future__ import annotations

from ui.paths import look, next_corner, next_name, put


def test_a_value_goes_in_and_comes_out() -> None:
    book = put({}, ("slab", "thickness"), "4 in")
    assert book == {"slab": {"thickness": "4 in"}}
    assert look(book, ("slab", "thickness")) == "4 in"
    assert put(book, ("slab", "thickness"), None) == {}


def test_entries_are_found_by_name_and_not_by_place() -> None:
    book = {"station": [{"name": "S1", "rod": "40 in"}, {"name": "S2", "rod": "41 in"}]}
    without = put(book, ("station", "S1"), None)
    assert put(without, ("station", "S2", "rod"), "42 in") == {"station": [{"name": "S2", "rod": "42 in"}]}
    assert put(without, ("station", "S1", "rod"), "39 in") == without  # taken out meanwhile: no ghost
    assert book["station"][0]["rod"] == "40 in"


def test_an_edge_goes_by_its_corners() -> None:
    book = put({}, ("edge", "A-B"), {"from": "A", "to": "B"})
    assert look(put(book, ("edge", "A-B", "abuts"), "house"), ("edge", "A-B", "abuts")) == "house"


def test_free_names() -> None:
    book = {"station": [{"name": "s1"}, {"name": "S3"}], "corner": [{"name": "A"}, {"name": "B"}]}
    assert next_name(book, "station", "S") == "S2"
    assert next_corner(book) == "C"


def test_a_mark_lies_in_its_photo() -> None:
    book = put({}, ("photo", "p"), {"id": "p", "file": "photos/p.jpg"})
    book = put(book, ("photo", "p", "marks", "m1"), {"name": "m1", "px": [3.0, 4.0]})
    book = put(book, ("photo", "p", "marks", "m1", "at"), "A")
    assert book["photo"][0]["marks"] == [{"name": "m1", "px": [3.0, 4.0], "at": "A"}]
    book = put(book, ("photo", "p", "distances", "m1-m2"), {"from": "m1", "to": "m2", "distance": "9 ft"})
    assert look(book, ("photo", "p", "distances", "m1-m2", "distance")) == "9 ft"
    assert put(book, ("photo", "q", "marks", "m1"), {"name": "m1"}) == book
    assert "marks" not in put(book, ("photo", "p", "marks", "m1"), None)["photo"][0]
