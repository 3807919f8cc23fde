"""The field book's published form as JSON Schema, made from the tables that the reader uses."""

from __future__ import annotations

import datetime as dt
import tomllib
from typing import Any

from analyzer.acquire.form import Key, Table
from analyzer.acquire.kinds import POINT, UNKNOWN, Kind, Length, Place, Schema, Text, Word
from analyzer.acquire.tables import BOOK, SCHEMA_VERSION
from analyzer.terms import Answer

_SHARED: tuple[tuple[str, Kind, str], ...] = (
    ("reading", Length(), 'Length of zero or more, as "3\' 6-1/2\\" +- 1/16 in" or "95 mm".'),
    ("measure", Length(positive=True), "Length above zero, with an optional half-width after +-."),
    ("level", Length(signed=True), "Length that may be negative, with an optional half-width after +-."),
    ("point", POINT, "Point in plan: [x, y], x to the right, y up, as seen from above."),
    ("place", Place(), "Point in plan, or the name of a corner."),
    ("answer", Word(tuple(Answer)), "Yes, no or unknown."),
)


def field_book_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a field book after turning its TOML into JSON.

    Dates become strings ``year-month-day``. What a schema cannot say is listed in its
    ``$comment`` and checked on reading only: nothing that the reader takes is refused here.

    Raises
    ------
    Nothing. Source of the draft: json-schema.org, draft 2020-12 (from memory; the tests validate
    it with a general library).
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:existing-slab-analyzer:field-book:{SCHEMA_VERSION}",
        "title": "Field book of an existing slab",
        "$comment": (
            "Checked on reading only: names used once, places on the slab, an outline that does not cross "
            "itself, entries named by others, risers in order, rods and heights not mixed, dates not in the "
            "future, photo files that exist, lengths that must not be zero, nan."
        ),
        **_table_schema(BOOK),
        "$defs": {name: {"description": doc, **kind.schema()} for name, kind, doc in _SHARED},
    }


def _table_schema(table: Table) -> Schema:
    properties: Schema = {key.name: _key_schema(key) for key in table.keys}
    required = [key.name for key in table.keys if key.required]
    for inner in table.tables:
        one = _table_schema(inner)
        if inner.many:
            properties[inner.name] = {"type": "array", "items": one, "minItems": inner.minimum}
        else:
            properties[inner.name] = one
        if inner.required:
            required.append(inner.name)
    schema: Schema = {
        "description": table.doc,
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": False,
    }
    groups: list[Schema] = [
        {word: [{"required": [name]} for name in group]}
        for word, all_groups in (("oneOf", table.exactly_one), ("anyOf", table.any_of))
        for group in all_groups
    ]
    if groups:
        schema["allOf"] = groups
    if table.together:
        schema["dependentRequired"] = {
            name: [other for other in group if other != name] for group in table.together for name in group
        }
    return schema


def _key_schema(key: Key) -> Schema:
    shared = next((name for name, kind, _ in _SHARED if kind == key.kind), None)
    rule: Schema = {"$ref": f"#/$defs/{shared}"} if shared else key.kind.schema()
    if key.takes_unknown and not isinstance(key.kind, Text):
        if isinstance(key.kind, Word):
            if UNKNOWN not in key.kind.words:
                rule = {"enum": [*rule["enum"], UNKNOWN]}
        else:
            rule = {"anyOf": [rule, {"const": UNKNOWN}]}
    example = tomllib.loads(f"value = {key.example}")["value"]
    if isinstance(example, dt.date):
        example = example.isoformat()
    return {"description": key.doc, **rule, "examples": [example]}
