"""Drawings and set-out as files; the folder appears whole or not at all."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from analyzer.errors import OutputError
from analyzer.records import JobRecord
from analyzer.transmit import plan_files, set_out_csv, write_plans
from analyzer.transmit.plan_files import is_plan_folder


def test_set_out_csv_reads_back(full: JobRecord) -> None:
    rows = list(csv.DictReader(io.StringIO(set_out_csv(full, full.plans[0]))))
    assert [r["name"] for r in rows] == ["A", "B", "C", "D"]
    assert float(rows[0]["set_to_mm"]) == 60.325
    assert rows[0]["set_to"] == '+2-3/8"'
    # Rounded height less old height: 90.4875 - 10.
    assert float(rows[2]["thickness_mm"]) == pytest.approx(80.49)


def test_every_plan_has_its_drawings(full: JobRecord, record: JobRecord) -> None:
    assert set(plan_files(full)) == {
        "overlay_bonded_set_out.svg", "overlay_bonded_thickness.svg", "overlay_bonded_section.svg",
        "overlay_bonded.dxf", "overlay_bonded_set_out.csv",
    }  # fmt: skip
    assert "overlay_bonded_set_out.csv" not in plan_files(record)


def test_written_whole_and_not_twice(full: JobRecord, tmp_path: Path) -> None:
    out = tmp_path / "plans"
    names = write_plans(full, out)
    assert sorted(p.name for p in out.iterdir()) == sorted(names)
    with pytest.raises(OutputError, match="--force"):
        write_plans(full, out)
    write_plans(full, out, force=True)
    assert is_plan_folder(out)


def test_a_folder_with_something_else_is_never_replaced(full: JobRecord, tmp_path: Path) -> None:
    out = tmp_path / "plans"
    write_plans(full, out)
    (out / "site.dxf").write_text("mine")
    assert not is_plan_folder(out)
    with pytest.raises(OutputError):
        write_plans(full, out, force=True)
    assert (out / "site.dxf").read_text() == "mine"
