"""Places in a field book as the forms name them, and how a value is put there.

A path is a table and a key (``("slab", "thickness")``), an entry and a key (``("station", "S1",
"rod")``), an entry in an entry (``("photo", "p1", "marks", "m1", "at")``), a whole entry
(``("station", "S1")``) or a whole list (``("area",)``). Entries are found by their own name, never
by their place in the list: two people may add and take out at once.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

Path = tuple[str, ...]
Book = dict[str, Any]

_LABELS: Mapping[str, str] = {
    "corner": "name",
    "joint": "name",
    "sheet": "number",
    "photo": "id",
    "station": "name",
    "crack": "name",
    "height": "name",
    "marks": "name",
}
_BETWEEN = frozenset({"edge", "distances"})


def entry_name(table: str, entry: Mapping[str, Any]) -> str:
    """The name by which an entry of a repeated table is found; an edge goes by its two corners."""
    if table in _BETWEEN:
        return f"{entry.get('from')}-{entry.get('to')}"
    return str(entry.get(_LABELS[table], ""))


def is_list(table: str) -> bool:
    """Whether entries of this table are found by name."""
    return table in _LABELS or table in _BETWEEN


def look(book: Mapping[str, Any], path: Path) -> Any:
    """The value at a path, or None where there is none."""
    at: Any = book.get(path[0])
    rest = path[1:]
    if rest and is_list(path[0]):
        at = next((e for e in at or () if entry_name(path[0], e) == rest[0]), None)
        rest = rest[1:]
    if not rest:
        return at
    return look(at, rest) if isinstance(at, Mapping) else None


def put(book: Mapping[str, Any], path: Path, value: Any) -> Book:
    """A copy of the book with the value at the path; None takes out what was there.

    An entry that is not there yet is made only by putting a whole entry: a key of an entry that
    somebody else took out goes nowhere and leaves the book as it was.
    """
    new: Book = copy.deepcopy(dict(book))
    table, rest = path[0], path[1:]
    if not rest:
        _set(new, table, value)
    elif not is_list(table):
        inner = new.setdefault(table, {})
        _set(inner, rest[0], value)
        if not inner:
            del new[table]
    else:
        entries: list[Book] = new.get(table, [])
        found = next((i for i, e in enumerate(entries) if entry_name(table, e) == rest[0]), None)
        if len(rest) == 1:
            if found is None:
                entries = entries if value is None else [*entries, copy.deepcopy(value)]
            elif value is None:
                del entries[found]
            else:
                entries[found] = copy.deepcopy(value)
        elif found is not None:
            entries[found] = put(entries[found], rest[1:], value)
        _set(new, table, entries or None)
    return new


def next_name(book: Mapping[str, Any], table: str, letter: str) -> str:
    """The first name of the form ``S1, S2, ...`` that no entry of the table has, whatever its case."""
    taken = {entry_name(table, e).casefold() for e in book.get(table, ())}
    number = 1
    while f"{letter}{number}".casefold() in taken:
        number += 1
    return f"{letter}{number}"


def next_corner(book: Mapping[str, Any]) -> str:
    """The first free letter for a corner: A to Z, then A1, B1 and so on."""
    taken = {entry_name("corner", e) for e in book.get("corner", ())}
    number = 0
    while True:
        for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ":
            name = f"{letter}{number or ''}"
            if name not in taken:
                return name
        number += 1


def _set(table: Book, key: str, value: Any) -> None:
    if value is None:
        table.pop(key, None)
    else:
        table[key] = copy.deepcopy(value)
