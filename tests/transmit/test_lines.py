"""CSV and GeoJSON of cracks and joints, read back with general readers."""

from __future__ import annotations

import csv
import io
import json

from shapely.geometry import shape

from analyzer.records import JobRecord
from analyzer.transmit.lines import crack_rows, cracks_csv, csv_text, joint_rows, joints_csv, lines_geojson


def test_csv_reads_back(record: JobRecord) -> None:
    rows = list(csv.DictReader(io.StringIO(cracks_csv(record))))
    assert [r["crack_id"] for r in rows] == ["C1", "C2"]
    assert float(rows[0]["width_max_mm"]) == 3.1
    assert float(rows[0]["width_max_u_mm"]) == 0.3
    assert rows[0]["panels"] == "P1 P2"


def test_unknown_is_an_empty_cell_and_never_zero(record: JobRecord) -> None:
    row = list(csv.DictReader(io.StringIO(cracks_csv(record))))[1]
    assert row["length_mm"] == ""
    assert row["width_max_mm"] == ""
    assert crack_rows(record)[1]["length_mm"] is None


def test_joints_carry_their_ends(record: JobRecord) -> None:
    (row,) = csv.DictReader(io.StringIO(joints_csv(record)))
    assert (float(row["start_x_mm"]), float(row["end_y_mm"])) == (1000.0, 1500.0)
    assert joint_rows(record)[0]["kind"] == "contraction"


def test_line_ends_of_rfc_4180() -> None:
    assert csv_text([{"a": 1}], ("a",)) == "a\r\n1\r\n"


def test_geojson_is_read_by_shapely(record: JobRecord) -> None:
    # shapely as the independent reader of GeoJSON geometry.
    data = json.loads(lines_geojson(record))
    assert data["type"] == "FeatureCollection"
    by = {}
    for feature in data["features"]:
        if feature["geometry"]:
            by.setdefault(feature["properties"]["what"], []).append(shape(feature["geometry"]))
    assert by["slab outline"][0].area == 2000 * 1500
    assert sum(p.area for p in by["panel"]) == 2000 * 1500
    assert by["joint"][0].length == 1500
    assert abs(by["crack"][0].length - 1312) < 2
    # A crack that was only typed has no line: geometry null (RFC 7946, 3.2, from memory).
    assert sum(f["geometry"] is None for f in data["features"]) == 1
