"""Cracks and joints as CSV (RFC 4180) and GeoJSON (RFC 7946 structure, in the plan frame).

RFC 7946 asks for WGS 84; a slab plan has none, so the file says in ``coordinate_system`` that its
coordinates are plan millimetres, as the RFC allows "prior arrangement" for (section 4).
"""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from analyzer.records import JobRecord

_CRACK_COLUMNS = (
    "crack_id",
    "distress",
    "panels",
    "length_mm",
    "length_u_mm",
    "width_mean_mm",
    "width_mean_u_mm",
    "width_max_mm",
    "width_max_u_mm",
    "width_upper_mm",
    "direction_deg",
    "splits_panel",
    "through",
    "grade",
    "width_source",
    "probability",
)
_JOINT_COLUMNS = (
    "joint_id",
    "kind",
    "panels",
    "start_x_mm",
    "start_y_mm",
    "end_x_mm",
    "end_y_mm",
    "length_mm",
    "length_u_mm",
    "typed",
    "probability",
)


def crack_rows(record: JobRecord) -> list[dict[str, Any]]:
    """One row a crack, typed and measured ones together, keys as the CSV columns."""
    return [
        {name: _cell(getattr(crack, name)) for name in _CRACK_COLUMNS} for crack in record.distress.cracks
    ]


def joint_rows(record: JobRecord) -> list[dict[str, Any]]:
    """One row a joint, keys as the CSV columns."""
    rows = []
    for joint in record.layout.joints:
        row = {name: _cell(getattr(joint, name, None)) for name in _JOINT_COLUMNS}
        row["start_x_mm"], row["start_y_mm"] = (_cell(v) for v in joint.start_mm)
        row["end_x_mm"], row["end_y_mm"] = (_cell(v) for v in joint.end_mm)
        rows.append(row)
    return rows


def csv_text(rows: list[dict[str, Any]], columns: tuple[str, ...]) -> str:
    """CSV with a header line; an unknown value is an empty cell, never 0."""
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def cracks_csv(record: JobRecord) -> str:
    """The crack table as CSV."""
    return csv_text(crack_rows(record), _CRACK_COLUMNS)


def joints_csv(record: JobRecord) -> str:
    """The joint table as CSV."""
    return csv_text(joint_rows(record), _JOINT_COLUMNS)


def lines_geojson(record: JobRecord) -> str:
    """Outline, panels, joints and cracks as one GeoJSON FeatureCollection in plan millimetres."""
    features: list[dict[str, Any]] = []
    outline = [[c.x_mm, c.y_mm] for c in record.field.outline]
    features.append(_feature("Polygon", [[*outline, outline[0]]], {"what": "slab outline"}))
    for panel in record.layout.panels:
        ring = [list(p) for p in panel.outline_mm]
        properties = {"what": "panel", "panel_id": panel.panel_id, "area_mm2": panel.area_mm2}
        features.append(_feature("Polygon", [[*ring, ring[0]]], properties))
    for joint, row in zip(record.layout.joints, joint_rows(record), strict=True):
        line = [list(joint.start_mm), list(joint.end_mm)]
        features.append(_feature("LineString", line, {"what": "joint", **row}))
    for crack, row in zip(record.distress.cracks, crack_rows(record), strict=True):
        lines = [[list(p) for p in b.points_mm] for b in crack.branches if len(b.points_mm) > 1]
        properties = {"what": "crack", **row}
        features.append(
            _feature("MultiLineString", lines, properties)
            if lines
            else {"type": "Feature", "geometry": None, "properties": properties}
        )
    collection = {
        "type": "FeatureCollection",
        "coordinate_system": "plan frame of the job, millimetres, x right, y up; not WGS 84",
        "features": features,
    }
    return json.dumps(collection, ensure_ascii=False, allow_nan=False, indent=1)


def _feature(kind: str, coordinates: Any, properties: dict[str, Any]) -> dict[str, Any]:
    """One GeoJSON feature, coordinates to a tenth of a millimetre."""
    return {
        "type": "Feature",
        "geometry": {"type": kind, "coordinates": _tenths(coordinates)},
        "properties": properties,
    }


def _tenths(value: Any) -> Any:
    """Round nested coordinates to 0.1 mm, which is finer than any of them is known."""
    if isinstance(value, list | tuple):
        return [_tenths(v) for v in value]
    return round(float(value), 1)


def _cell(value: Any) -> Any:
    """Numbers to four significant places of a millimetre, tuples joined by a blank."""
    if isinstance(value, float):
        return round(value, 3)
    if isinstance(value, tuple):
        return " ".join(str(v) for v in value)
    return value
