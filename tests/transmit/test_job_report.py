"""All files of a report from one record."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from analyzer.errors import OutputError
from analyzer.records import Calibration, JobRecord, Photo, PlanImage
from analyzer.transmit import report_files


def test_with_photos_the_slab_from_above_comes_first(
    record: JobRecord, photo: Photo, calibration: Calibration, plan_image: PlanImage
) -> None:
    files = report_files(record, (photo,), (calibration,), plan_image)
    assert {
        "report.html", "report.pdf", "lines/cracks.csv", "lines/joints.csv", "lines/lines.geojson",
        "pictures/plan.svg", "pictures/slab_from_above.jpg", "pictures/photo_overview.jpg",
        "drawings/overlay_bonded_set_out.svg", "drawings/overlay_bonded_thickness.svg",
        "drawings/overlay_bonded_section.svg", "drawings/overlay_bonded.dxf",
    } == set(files)  # fmt: skip
    html = files["report.html"].decode()
    assert html.index("put together from the photos") < html.index("Pour a bonded overlay")


def test_without_photos_the_drawing_leads(record: JobRecord) -> None:
    files = report_files(record)
    assert "pictures/slab_from_above.jpg" not in files
    assert files["report.html"].decode().index("image/svg+xml") < files["report.html"].decode().index(
        "Pour a bonded"
    )


def test_drawings_stand_in_the_folder_and_in_the_report(full: JobRecord) -> None:
    files = report_files(full)
    assert {"drawings/overlay_bonded.dxf", "drawings/overlay_bonded_set_out.csv"} <= set(files)
    html = files["report.html"].decode()
    for words in ("Heights to set, numbered as in the table", "lines of equal thickness", "Section along"):
        assert words in html
    # A reason about the door gets the door's place on a small plan.
    assert "pictures/reason_1.svg" in files
    assert "Place on the slab: door sill pump door" in html


def test_originals_travel_untouched_and_a_change_is_noticed(record: JobRecord, tmp_path: Path) -> None:
    book = tmp_path / "b.toml"
    book.write_bytes(b"schema = 1\n")
    digest = hashlib.sha256(b"schema = 1\n").hexdigest()
    files = report_files(record, originals={"field_book.toml": (book, digest)})
    assert files["originals/field_book.toml"] == b"schema = 1\n"
    book.write_bytes(b"schema = 2\n")
    with pytest.raises(OutputError, match="changed while"):
        report_files(record, originals={"field_book.toml": (book, digest)})
