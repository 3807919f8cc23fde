"""The slab from above as a component of our own: shows outline, stations and heights, takes taps."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import streamlit as st

from analyzer.records import LevelMap
from analyzer.units import format_slope
from ui.paths import entry_name
from ui.store import Job
from ui.typed import length_mm

_STATIC = Path(__file__).parent / "static"
_CSS = ".plan svg { display: block; width: 100%; touch-action: manipulation; font-family: inherit; }"
_mount = st.components.v2.component(
    "slab_plan",
    html='<div class="plan"></div>',
    css=_CSS,
    js=(_STATIC / "plan.js").read_text("utf-8"),
    isolate_styles=False,
)


def draw(
    job: Job,
    key: str,
    chosen: str | None = None,
    tap: bool = False,
    levels: LevelMap | None = None,
    picked: Callable[[], None] | None = None,
    placed: Callable[[], None] | None = None,
) -> Mapping[str, Any]:
    """Draw the plan of a job; with ``tap`` a tap on the slab comes back as ``placed`` (mm)."""
    book = job.book
    corners = corner_places(book)
    outline = [{"name": n, "x": x, "y": y} for n, (x, y) in corners.items()]
    edges = []
    for edge in book.get("edge", ()):
        ends = [corners.get(str(edge.get(k))) for k in ("from", "to")]
        if edge.get("abuts") not in (None, "free", "unknown") and ends[0] and ends[1]:
            (x1, y1), (x2, y2) = ends[0], ends[1]
            edges.append({"x1": x1, "y1": y1, "x2": x2, "y2": y2, "text": str(edge["abuts"])})
    data = {
        "outline": outline,
        "edges": edges,
        "stations": _spots(book, "station", corners, _reading),
        "heights": _spots(book, "height", corners, lambda h: str(h.get("name", ""))),
        "chosen": chosen,
        "ponds": [[list(p) for p in pond.outline_mm] for pond in levels.ponds] if levels else [],
        "fall": _fall(levels, job.units),
        "tap": tap,
        "label": "Plan of the slab, seen from above",
        "unread": "not read yet",
        "empty": "The plan appears here when the slab has three corners.",
    }
    result: Mapping[str, Any] = _mount(
        key=key, data=data, on_picked_change=picked or _nothing, on_placed_change=placed or _nothing
    )
    return result


def corner_places(book: Mapping[str, Any]) -> dict[str, tuple[float, float]]:
    """Corners whose place can be read, in order, in millimetres for drawing."""
    found = {}
    for corner in book.get("corner", ()):
        at = _place(corner.get("at"), {})
        if at:
            found[str(corner.get("name"))] = at
    return found


def _spots(
    book: Mapping[str, Any],
    table: str,
    corners: Mapping[str, tuple[float, float]],
    text: Callable[[Mapping[str, Any]], str],
) -> list[dict[str, Any]]:
    spots = []
    for entry in book.get(table, ()):
        at = _place(entry.get("at"), corners)
        if at:
            spots.append({"name": entry_name(table, entry), "x": at[0], "y": at[1], "text": text(entry)})
    return spots


def _place(at: Any, corners: Mapping[str, tuple[float, float]]) -> tuple[float, float] | None:
    if isinstance(at, str):
        return corners.get(at)
    if not isinstance(at, list) or len(at) != 2:
        return None
    x, y = (length_mm(v) for v in at)
    return None if x is None or y is None else (x, y)


def _fall(levels: LevelMap | None, units: str) -> dict[str, Any] | None:
    """Way and size of the fall, as the chain has them, for an arrow."""
    if levels is None or levels.fall is None or levels.fall_direction_deg is None:
        return None
    turn = math.radians(levels.fall_direction_deg)
    return {"x": math.cos(turn), "y": math.sin(turn), "text": f"falls {format_slope(levels.fall, units)}"}


def _reading(station: Mapping[str, Any]) -> str:
    """A reading short enough for the plan: without what it may be off."""
    return str(station.get("rod") or station.get("height") or "").split("+-")[0].strip()


def _nothing() -> None:
    """A callback that only lets the component keep its value."""
