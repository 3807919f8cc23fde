"""The DXF drawing, read back with ezdxf: layers, units, places, heights, no errors."""

from __future__ import annotations

import dataclasses
import io

import ezdxf
import pytest
import shapely
from ezdxf.document import Drawing

from analyzer.records import JobRecord
from analyzer.terms import UnitSystem
from analyzer.transmit import plan_dxf
from analyzer.transmit.plan_dxf import LAYERS


def _read(record: JobRecord) -> Drawing:
    return ezdxf.read(io.StringIO(plan_dxf(record, record.plans[0]).decode()))


def test_r2010_without_errors(full: JobRecord) -> None:
    drawing = _read(full)
    # AC1024 is the version mark of R2010 (DXF reference, from memory; ezdxf's table agrees).
    assert drawing.dxfversion == "AC1024"
    check = drawing.audit()
    assert not check.errors
    assert not check.fixes


def test_every_entity_lies_on_a_layer_by_trade_term(full: JobRecord) -> None:
    drawing = _read(full)
    used = {e.dxf.layer for e in drawing.modelspace()}
    assert used <= set(LAYERS)
    assert {"SLAB-OUTLINE", "JOINTS-OLD", "JOINTS-CONTRACTION", "JOINTS-ISOLATION", "SETOUT-HEIGHTS",
            "THICKNESS-CONTOURS", "HIGH-SPOTS-GRIND", "GRADE-BREAKS", "GRADE-FALL", "SECTION-LINE",
            "CRACKS-OLD", "LEVEL-STATIONS", "FIXED-HEIGHTS", "NOTES"} <= used  # fmt: skip
    assert all(drawing.layers.get(name).dxf.linetype == line for name, (_, line, _) in LAYERS.items())


def test_inches_in_imperial_jobs_and_millimetres_in_metric_ones(full: JobRecord) -> None:
    job = dataclasses.replace(full.field.job, units=UnitSystem.METRIC)
    metric = dataclasses.replace(full, field=dataclasses.replace(full.field, job=job))
    # $INSUNITS: 1 inches, 4 millimetres (DXF reference, from memory).
    for record, code, width in ((full, 1, 2000 / 25.4), (metric, 4, 2000.0)):
        drawing = _read(record)
        assert drawing.units == code
        outline = drawing.modelspace().query('LWPOLYLINE[layer=="SLAB-OUTLINE"]').first
        assert outline is not None
        shape = shapely.Polygon([(x, y) for x, y, *_ in outline.get_points()])
        assert shape.bounds[2] - shape.bounds[0] == pytest.approx(width)
        assert outline.closed


def test_set_out_points_carry_their_height(full: JobRecord) -> None:
    points = _read(full).modelspace().query('POINT[layer=="SETOUT-HEIGHTS"]')
    heights = sorted(round(p.dxf.location.z, 4) for p in points)
    assert heights == [2.375, 2.375, 3.5625, 3.5625]


def test_old_joint_and_new_joint_lie_on_each_other(full: JobRecord) -> None:
    space = _read(full).modelspace()
    old, new = (space.query(f'LWPOLYLINE[layer=="{n}"]').first for n in ("JOINTS-OLD", "JOINTS-CONTRACTION"))
    assert old is not None
    assert new is not None
    assert [tuple(p) for p in old.vertices()] == [tuple(p) for p in new.vertices()]


def test_a_plan_not_to_build_from_says_so(record: JobRecord, full: JobRecord) -> None:
    def notes(job: JobRecord) -> str:
        return " ".join(t.dxf.text for t in _read(job).modelspace().query('TEXT[layer=="NOTES"]'))

    assert "NOT FOR WORK" in notes(record)
    assert "NOT FOR WORK" not in notes(full)
    assert "Drawing units: inches" in notes(full)
    assert "station S1 is zero" in notes(full)
    assert "Not a code approval" in notes(full)


def test_typed_text_with_line_breaks_stays_one_line(full: JobRecord) -> None:
    job = dataclasses.replace(full.field.job, title="Apron\n  0\nEOF of § the yard")
    odd = dataclasses.replace(full, field=dataclasses.replace(full.field, job=job))
    drawing = _read(odd)
    assert not drawing.audit().errors
    assert any(
        "Apron 0 EOF of § the yard" in t.dxf.text for t in drawing.modelspace().query('TEXT[layer=="NOTES"]')
    )


def test_words_at_points_do_not_cover_each_other(full: JobRecord) -> None:
    # shapely as the judge; a character is taken 0.7 of its height wide.
    boxes = []
    for text in _read(full).modelspace().query("TEXT"):
        if text.dxf.layer != "NOTES":
            x, y, _ = text.dxf.insert
            boxes.append(
                shapely.box(x, y, x + 0.7 * text.dxf.height * len(text.dxf.text), y + text.dxf.height)
            )
    near = [b for b in boxes if b.bounds[1] > -20]
    assert len(near) > 15
    assert not any(a.intersection(b).area > 1e-9 for i, a in enumerate(near) for b in near[:i])
