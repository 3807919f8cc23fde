"""From read values to the records: names of attributes, places, (row, col), standard uncertainty."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from analyzer.acquire.form import Table
from analyzer.acquire.tables import BOOK
from analyzer.acquire.walk import Entry
from analyzer.records import Corner, EdgeEntry, FieldBook

_PLURAL_FIELD = {
    "corner": "outline",
    "edge": "edges",
    "joint": "joints",
    "sheet": "sheets",
    "photo": "photos",
    "station": "stations",
    "fault": "faults",
    "gap": "gaps",
    "crack": "cracks",
    "area": "areas",
    "height": "heights",
    "cleared": "clearings",
}


def build_field_book(values: Entry, source: str, sha256: str) -> FieldBook:
    """Build the record from values that have passed every check.

    The outline is turned anticlockwise if it was given clockwise (its first corner stays first),
    and ``edges`` holds every edge of the outline in that order: those not written down abut and
    rest on the unknown. An edge in ``fall_toward`` is named the same way round.
    """
    parts: dict[str, Any] = {}
    for table in BOOK.tables:
        entry = values.get(table.name)
        if table.many:
            parts[_PLURAL_FIELD[table.name]] = tuple(_build(table, one) for one in entry or ())
        else:
            parts[table.name] = _build(table, entry or {})
    outline = anticlockwise(parts["outline"])
    parts["outline"] = outline
    parts["edges"] = _all_edges(outline, parts["edges"])
    toward = parts["design"].fall_toward
    if toward is not None:
        edges = edge_names(tuple(corner.name for corner in outline))
        named = edges.get(frozenset(toward.split("-")), toward)
        parts["design"] = replace(parts["design"], fall_toward=named)
    return FieldBook(source=source, sha256=sha256, **parts)


def anticlockwise(corners: tuple[Corner, ...]) -> tuple[Corner, ...]:
    """The corners in anticlockwise order, the first one staying first."""
    twice_area = sum(
        a.x_mm * b.y_mm - b.x_mm * a.y_mm for a, b in zip(corners, corners[1:] + corners[:1], strict=True)
    )
    return corners if twice_area > 0 else (corners[0], *reversed(corners[1:]))


def edge_names(corners: tuple[str, ...]) -> dict[frozenset[str], str]:
    """Every edge of the outline by its two corners, named in the outline's direction."""
    return {frozenset((a, b)): f"{a}-{b}" for a, b in zip(corners, corners[1:] + corners[:1], strict=True)}


def _all_edges(outline: tuple[Corner, ...], typed: tuple[EdgeEntry, ...]) -> tuple[EdgeEntry, ...]:
    known = {frozenset((edge.start, edge.end)): edge for edge in typed}
    edges = []
    for corner, following in zip(outline, outline[1:] + outline[:1], strict=True):
        edge = known.get(frozenset((corner.name, following.name)))
        if edge is None:
            edges.append(EdgeEntry(corner.name, following.name))
        else:
            edges.append(EdgeEntry(corner.name, following.name, edge.abuts, edge.support))
    return tuple(edges)


def _build(table: Table, values: Entry) -> Any:
    """One record; what is not in ``values`` keeps the record's own default: unknown."""
    assert table.record is not None
    fields = {key.field or key.name: values[key.name] for key in table.keys if key.name in values}
    for inner in table.tables:
        built = tuple(_build(inner, one) for one in values.get(inner.name, ()))
        fields[_PLURAL_FIELD.get(inner.name, inner.name)] = built
    if "at" in fields:
        fields["x_mm"], fields["y_mm"] = fields.pop("at")
    if "px" in fields:
        fields["row_px"], fields["col_px"] = fields.pop("px")
    if "centre_u_mm" in fields:
        # A half-width, taken as a rectangular distribution (JCGM 100:2008, 4.3.7, from memory).
        fields["centre_u_mm"] /= math.sqrt(3.0)
    return table.record(**fields)
