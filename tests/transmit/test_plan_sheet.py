"""The drawing board: to scale, y turned over, labels off each other, names outside the slab."""

from __future__ import annotations

import dataclasses
import re
import xml.etree.ElementTree as ElementTree

import shapely

from analyzer.records import Corner, JobRecord
from analyzer.transmit.plan_sheet import PlanSheet

NS = "{http://www.w3.org/2000/svg}"


def test_long_side_is_a_thousand_units_and_y_runs_up(record: JobRecord) -> None:
    sheet = PlanSheet(record, margin=50)
    assert sheet.at((0, 1500)) == (50, 50)
    assert sheet.at((2000, 0)) == (1050, 800)


def test_labels_lie_apart_and_inside(record: JobRecord) -> None:
    sheet = PlanSheet(record)
    for k in range(15):
        sheet.label((1000, 700), f"label {k}", "#000000")
    root = ElementTree.fromstring(sheet.finish("crowd"))
    boxes = [
        shapely.box(x, y, x + w, y + h)
        for r in root.iter(f"{NS}rect")
        if r.get("rx")
        for x, y, w, h in [tuple(float(r.get(k, "0")) for k in ("x", "y", "width", "height"))]
    ]
    # shapely as the judge of overlaps.
    assert len(boxes) == 15
    assert not any(a.intersection(b).area > 1e-6 for i, a in enumerate(boxes) for b in boxes[:i])
    sheet_box = shapely.box(0, 0, sheet.width, sheet.height)
    assert all(sheet_box.contains(b) for b in boxes)


def test_a_label_stands_on_its_preferred_side(record: JobRecord) -> None:
    for prefer, sign in (((1.0, 0.0), 1), ((-1.0, 0.0), -1)):
        sheet = PlanSheet(record)
        sheet.label((1000, 700), "x", "#000000", prefer=prefer)
        root = ElementTree.fromstring(sheet.finish("one"))
        box = next(r for r in root.iter(f"{NS}rect") if r.get("rx"))
        middle = float(box.get("x", "0")) + float(box.get("width", "0")) / 2
        assert (middle - sheet.at((1000, 700))[0]) * sign > 0


def test_names_of_corners_lie_outside_also_at_an_inside_corner(record: JobRecord) -> None:
    outline = (Corner("A", 0, 0), Corner("B", 2000, 0), Corner("C", 2000, 1500), Corner("E", 1000, 1500),
               Corner("F", 1000, 700), Corner("D", 0, 700))  # fmt: skip
    bent = dataclasses.replace(record, field=dataclasses.replace(record.field, outline=outline, edges=()))
    sheet = PlanSheet(bent)
    sheet.corner_names()
    slab = shapely.Polygon([sheet.at((c.x_mm, c.y_mm)) for c in outline])
    texts = re.findall(r'<text x="([\d.]+)" y="([\d.]+)"', "".join(sheet.parts))
    assert len(texts) == 6
    assert not any(slab.contains(shapely.Point(float(x), float(y) - 7)) for x, y in texts)


def test_legend_and_notes_make_the_sheet_longer(record: JobRecord) -> None:
    sheet = PlanSheet(record)
    before = sheet.height
    sheet.legend.append(("#000000", "3 3", "a dotted line"))
    sheet.notes.append("NOT FOR WORK")
    svg = sheet.finish("x")
    assert sheet.height > before + 50
    assert "a dotted line" in svg
    assert "NOT FOR WORK" in svg


def test_without_scale_bar(record: JobRecord) -> None:
    assert " ft<" not in PlanSheet(record, scale_bar=False).finish("x")
    assert " ft<" in PlanSheet(record).finish("x")
