"""Small field books and layouts, built in code so that each test states its own slab."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any

import pytest

from analyzer.records import Corner, EdgeEntry, FieldBook, JobHead, Panel, PanelLayout, StationReading
from analyzer.terms import Abuts
from analyzer.units import Reading

Point = tuple[float, float]
RECTANGLE = ((0.0, 0.0), (6000.0, 0.0), (6000.0, 4000.0), (0.0, 4000.0))


@pytest.fixture
def make_field() -> Callable[..., FieldBook]:
    """Build a field book: outline points, stations as (x, y, z), edge neighbours by number."""

    def build(
        stations: Sequence[tuple[float, float, float]] = (),
        outline: Sequence[Point] = RECTANGLE,
        abuts: dict[int, Abuts] | None = None,
        rod: bool = False,
        u_mm: float | None = 0.5,
        **more: Any,
    ) -> FieldBook:
        corners = tuple(Corner(chr(65 + k), x, y) for k, (x, y) in enumerate(outline))
        edges = tuple(
            EdgeEntry(corners[k].name, corners[(k + 1) % len(corners)].name, kind)
            for k, kind in (abuts or {}).items()
        )
        read = tuple(
            StationReading(f"S{k + 1}", x, y, rod=Reading(1000.0 - z, u_mm, "typed"))
            if rod
            else StationReading(f"S{k + 1}", x, y, height=Reading(z, u_mm, "typed"))
            for k, (x, y, z) in enumerate(stations)
        )
        more.setdefault("job", JobHead("test", "test", dt.date(2025, 5, 1), "tester", invented=True))
        return FieldBook(
            outline=corners, source="test.toml", sha256="0" * 64, edges=edges, stations=read, **more
        )

    return build


@pytest.fixture
def make_layout() -> Callable[..., PanelLayout]:
    """Panels from (x0, y0, x1, y1) boxes, named P1, P2, ... in the order given."""

    def build(*boxes: tuple[float, float, float, float], joints: Sequence[Any] = ()) -> PanelLayout:
        panels = []
        for k, (x0, y0, x1, y1) in enumerate(boxes):
            sides = (max(x1 - x0, y1 - y0), min(x1 - x0, y1 - y0))
            outline = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
            panels.append(Panel(f"P{k + 1}", outline, sides[0] * sides[1], 100.0, *sides, 5.0, None))
        return PanelLayout(tuple(panels), tuple(joints), (), 5.0)

    return build
