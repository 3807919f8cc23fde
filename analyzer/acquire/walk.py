"""Walks through a parsed field book by its tables and collects every problem on the way."""

from __future__ import annotations

import datetime as dt
from typing import Any

from analyzer.acquire.form import Table
from analyzer.acquire.kinds import UNKNOWN, ListOf, Place, refuse, suggestion
from analyzer.acquire.synonyms import meant_key
from analyzer.acquire.tables import BOOK
from analyzer.errors import FieldBookError, SlabError

Entry = dict[str, Any]
"""Values of one table by key, as the kinds read them; what is missing or unknown is not in it.
``WHERE`` holds the entry's place for messages."""
WHERE = "\0where"
Corners = dict[str, tuple[float, float] | None]


def read_table(table: Table, raw: Entry, where: str, problems: list[SlabError]) -> Entry:
    """Read one table.

    Parameters
    ----------
    table : Table
    raw : dict
        As the TOML parser gives it.
    where : str
        File and entry, for messages.
    problems : list of SlabError
        Everything that is wrong is added here; a wrong value is then missing in the result.
    """
    values: Entry = {WHERE: where}
    for name in raw:
        if name not in table.names:
            problems.append(_unknown_key(table, name, where, raw))
    for key in table.keys:
        if key.name not in raw:
            if key.required:
                problems.append(
                    FieldBookError(where, f"has no {key.name}", f"add {key.name} = {key.example} ({key.doc})")
                )
            continue
        value = raw[key.name]
        if isinstance(value, dt.date | dt.time):
            # As JSON has it, so that reader and schema look at the same document.
            value = value.isoformat()
        if key.takes_unknown and value == UNKNOWN:
            continue
        try:
            values[key.name] = key.kind.read(value, f"{where}, {key.name}")
        except SlabError as problem:
            problems.append(problem)
    problems.extend(_wrong_groups(table, raw, where))
    for inner in table.tables:
        _read_inner(table, inner, raw, where, problems, values)
    return values


def resolve_places(table: Table, values: Entry, corners: Corners, problems: list[SlabError]) -> None:
    """Put coordinates in place of corners' names, in this table and those in it.

    A corner of the book whose own place is wrong is None in ``corners``: it is told once, there.
    """
    for key in table.keys:
        if key.name not in values:
            continue
        subject = f"{values[WHERE]}, {key.name}"
        if isinstance(key.kind, Place):
            place = _resolve(values[key.name], corners, subject, problems)
            if place is None:
                del values[key.name]
            else:
                values[key.name] = place
        elif isinstance(key.kind, ListOf) and isinstance(key.kind.item, Place):
            places = [_resolve(place, corners, subject, problems) for place in values[key.name]]
            if None in places:
                del values[key.name]
            else:
                values[key.name] = tuple(places)
    for inner in table.tables:
        for entry in values.get(inner.name, ()) if inner.many else [values.get(inner.name)]:
            if entry is not None:
                resolve_places(inner, entry, corners, problems)


def _resolve(
    place: tuple[float, float] | str, corners: Corners, subject: str, problems: list[SlabError]
) -> tuple[float, float] | None:
    if not isinstance(place, str):
        return place
    if place not in corners:
        near = suggestion(place, corners)
        remedy = f"did you mean {near}?" if near else f"the corners are {', '.join(corners) or 'not given'}"
        problems.append(refuse(subject, place, "is not a corner of the outline", remedy.rstrip("?")))
    return corners.get(place)


def _read_inner(
    outer: Table, inner: Table, raw: Entry, where: str, problems: list[SlabError], values: Entry
) -> None:
    path = inner.name if outer is BOOK else f"{outer.name}.{inner.name}"
    heading = f"[[{path}]]" if inner.many else f"[{path}]"
    found = raw.get(inner.name, [] if inner.many else {})
    if not inner.many:
        if not isinstance(found, dict):
            problems.append(FieldBookError(where, f"{path} is not a table", f"write it as a line {heading}"))
        elif inner.required and inner.name not in raw:
            needed = ", ".join(key.name for key in inner.keys if key.required)
            problems.append(
                FieldBookError(where, f"has no {heading}", f"add a line {heading} and below it {needed}")
            )
        else:
            values[inner.name] = read_table(inner, found, f"{where}, {heading}", problems)
        return
    if not isinstance(found, list) or not all(isinstance(entry, dict) for entry in found):
        problems.append(
            FieldBookError(where, f"{path} is not a list of entries", f"open each with a line {heading}")
        )
        return
    if len(found) < inner.minimum:
        problems.append(
            FieldBookError(
                where,
                f"has {len(found)} {heading} instead of {inner.minimum} or more",
                f"add one {heading} for each of the {inner.doc[0].lower()}{inner.doc[1:].split(',')[0]}",
            )
        )
    entries = []
    for number, entry in enumerate(found, start=1):
        label = entry.get(inner.label)
        named = isinstance(label, str | int) and str(label).strip()
        name = f"{inner.noun} {str(label)[:40]}" if named else f"{inner.noun} no. {number}"
        entries.append(read_table(inner, entry, f"{where}, {name}", problems))
    values[inner.name] = entries


def _unknown_key(table: Table, name: str, where: str, raw: Entry) -> FieldBookError:
    """What was meant: an everyday word for a key, a missing key, the nearest spelling, another table."""
    free = [other for other in table.names if other not in raw]
    missing = [key.name for key in table.keys if key.required and key.name not in raw]
    near = (
        meant_key(table.name, name, free)
        or suggestion(name, missing)
        or suggestion(name, free)
        or suggestion(name, table.names)
    )
    homes = [other.heading for other in BOOK.tables if name in other.names and other is not table]
    if near:
        remedy = f"did you mean {near}"
    elif homes:
        remedy = f"it belongs to {' or '.join(homes)}"
    elif table is not BOOK and name in BOOK.names:
        remedy = f"open it with its own line [{name}] or [[{name}]]"
    else:
        remedy = f"take it out or use one of {', '.join(table.names)}"
    return FieldBookError(where, f"unknown key {name}", remedy, expected=table.names, found=name)


def _wrong_groups(table: Table, raw: Entry, where: str) -> list[SlabError]:
    wrong: list[SlabError] = []

    def both(group: tuple[str, ...]) -> str:
        return " and ".join(group)

    for group in table.exactly_one:
        present = [name for name in group if name in raw]
        if not present:
            wrong.append(FieldBookError(where, f"has neither {' nor '.join(group)}", "give one of them"))
        elif len(present) > 1:
            wrong.append(FieldBookError(where, f"has both {both(group)}", "keep the one that was read"))
    for group in table.any_of:
        if not any(name in raw for name in group):
            wrong.append(FieldBookError(where, f"has neither {' nor '.join(group)}", "give one of them"))
    for group in table.together:
        missing = [name for name in group if name not in raw]
        if missing and len(missing) < len(group):
            wrong.append(
                FieldBookError(
                    where, f"has no {both(tuple(missing))}", f"give {both(group)} together, or none"
                )
            )
    return wrong
