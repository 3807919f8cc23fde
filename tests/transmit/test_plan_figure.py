"""Plan drawings are well-formed, to scale, and say the same as the record."""

from __future__ import annotations

import dataclasses
import xml.etree.ElementTree as ElementTree

import pytest

from analyzer.records import JobRecord, Pond
from analyzer.transmit import ink, plan_svg

NS = "{http://www.w3.org/2000/svg}"


def test_well_formed_with_a_title_and_labels(record: JobRecord) -> None:
    root = ElementTree.fromstring(plan_svg(record))
    assert root.find(f"{NS}title") is not None
    words = [t.text or "" for t in root.iter(f"{NS}text")]
    assert {"P1", "P2", "A", "B", "C", "D", "house", "walk"} <= set(words)
    assert any(w.startswith("C1: ") for w in words)


def test_drawn_to_scale(record: JobRecord) -> None:
    # 2000 mm of slab are 1000 units by construction; the joint is 1500 mm long, so 750 units.
    root = ElementTree.fromstring(plan_svg(record))
    dashed = [p for p in root.iter(f"{NS}polyline") if p.get("stroke-dasharray")]
    (x0, y0), (x1, y1) = (map(float, pair.split(",")) for pair in dashed[0].get("points", "").split())
    assert abs(x1 - x0) < 0.2
    assert abs(y1 - y0) == pytest.approx(750, abs=0.2)


def test_the_house_lies_outside_the_slab_at_the_top(record: JobRecord) -> None:
    # Edge C-D is the top edge in plan (y = 1500), so its band must lie above it on the sheet.
    root = ElementTree.fromstring(plan_svg(record))
    top = min(
        float(y)
        for p in root.iter(f"{NS}polygon")
        if p.get("stroke-width") == "3"
        for _, y in (pair.split(",") for pair in p.get("points", "").split())
    )
    band = next(p for p in root.iter(f"{NS}polygon") if p.get("fill") == "#5b4636")
    ys = [float(pair.split(",")[1]) for pair in band.get("points", "").split()]
    assert min(ys) < top - 10
    assert max(ys) == pytest.approx(top, abs=0.2)


def test_panels_to_work_on_are_marked(record: JobRecord) -> None:
    fills = [p.get("fill") for p in ElementTree.fromstring(plan_svg(record)).iter(f"{NS}polygon")]
    assert fills[:2] == [ink.PANEL_FILL, ink.PANEL_MARKED]


def test_standing_water_is_drawn(record: JobRecord) -> None:
    assert record.levels is not None
    pond = Pond(((100, 100), (400, 100), (400, 400)), 45000.0, 6.0, 1.0)
    wet = dataclasses.replace(record, levels=dataclasses.replace(record.levels, ponds=(pond,)))
    assert ink.WATER in plan_svg(wet)
    assert ink.WATER not in plan_svg(record)
