"""What was marked on a photo, turned into changes of the field book. No Streamlit here.

An edit comes from a browser, so nothing in it is believed: names, numbers and kinds are checked, and
what does not hold is refused whole. Pixels are (x, y) = (column, row) of the upright photo, as the
field book has them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

from analyzer import frames
from analyzer.errors import FieldBookError
from analyzer.records import Calibration, JobRecord
from ui.paths import look
from ui.store import Change, Job
from ui.typed import length_mm

_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_.-]{0,39}")
_MOST_POINTS = 500
Line = dict[str, Any]


def change_of(
    edit: Any, job: Job, photo_id: str, size: tuple[int, int], scale: Calibration | None
) -> tuple[Change, ...]:
    """Changes of the field book that an edit asks for.

    Parameters
    ----------
    edit : mapping
        ``op`` (put or out), ``kind`` (mark, crack or joint), ``name``, and ``x, y`` or ``points``.
    job, photo_id
        Where it was drawn.
    size : (int, int)
        Rows and columns of the photo.
    scale : Calibration or None
        Scale of the photo; lines need it.

    Raises
    ------
    FieldBookError
        The edit is not one, lies outside the photo, or is a line on a photo without scale.
    """
    if not isinstance(edit, Mapping) or edit.get("op") not in ("put", "out"):
        raise _refused("is none")
    kind, name = edit.get("kind"), edit.get("name")
    if kind not in ("mark", "crack", "joint") or not isinstance(name, str) or not _NAME.fullmatch(name):
        raise _refused("names nothing that can be marked")
    path = ("photo", photo_id, "marks", name) if kind == "mark" else (str(kind), name)
    old = look(job.book, path)
    if edit["op"] == "out":
        return (Change(path, None, old),)
    kept = dict(old) if isinstance(old, Mapping) else {}
    if kind == "mark":
        x, y = _points([[edit.get("x"), edit.get("y")]], size)[0]
        return (Change(path, {**kept, "name": name, "px": [x, y]}, old),)
    points = _points(edit.get("points"), size)
    if len(points) < 2:
        raise _refused("has fewer than two points")
    if scale is None or not scale.has_plan_position:
        raise _refused("lies on a photo without a scale", "scale the photo first")
    in_plan = frames.apply(scale.plan_from_px, frames.xy_from_rc(points))
    typed = [[f"{x:.0f} mm", f"{y:.0f} mm"] for x, y in in_plan if math.isfinite(x) and math.isfinite(y)]
    if len(typed) < 2:
        raise _refused("runs to the horizon", "draw it on the slab")
    if kind == "crack":
        return (Change(path, {**kept, "name": name, "line": typed}, old),)
    return (Change(path, {**kept, "name": name, "from": typed[0], "to": typed[-1]}, old),)


def lines_on(book: Mapping[str, Any], record: JobRecord | None, scale: Calibration) -> list[Line]:
    """Cracks and joints in pixels of one photo: those of the field book, and those found before.

    A found line (``found`` true) whose name the field book has is left out: a person has spoken.
    """
    lines = []
    for crack in book.get("crack", ()):
        lines += _line("crack", str(crack.get("name")), [_mm(p) for p in crack.get("line", ())], scale, False)
    for joint in book.get("joint", ()):
        ends = [_mm(joint.get("from")), _mm(joint.get("to"))]
        lines += _line("joint", str(joint.get("name")), ends, scale, False)
    if record is None:
        return lines
    written = {str(e.get("name")) for table in ("crack", "joint") for e in book.get(table, ())}
    for size in record.distress.cracks:
        longest = max(size.branches, key=lambda b: b.length_mm, default=None)
        if longest is not None and size.crack_id not in written:
            lines += _line("crack", size.crack_id, list(longest.points_mm), scale, True)
    if not book.get("joint"):
        for seam in record.layout.joints:
            lines += _line("joint", seam.joint_id, [seam.start_mm, seam.end_mm], scale, True)
    return lines


def _line(
    kind: str, name: str, places: Sequence[tuple[float, float] | None], scale: Calibration, found: bool
) -> list[Line]:
    known = [p for p in places if p is not None]
    if len(known) < 2:
        return []
    rc = frames.apply(frames.invert(scale.plan_from_px), known)
    points = [[round(float(x), 1), round(float(y), 1)] for x, y in frames.xy_from_rc(rc)]
    if not all(math.isfinite(v) and abs(v) < 1e6 for p in points for v in p):
        return []
    return [{"kind": kind, "name": name, "points": points, "found": found}]


def _mm(place: Any) -> tuple[float, float] | None:
    if not isinstance(place, Sequence) or isinstance(place, str) or len(place) != 2:
        return None
    x, y = (length_mm(v) for v in place)
    return None if x is None or y is None else (x, y)


def _points(raw: Any, size: tuple[int, int]) -> list[tuple[float, float]]:
    rows, cols = size
    if not isinstance(raw, list) or len(raw) > _MOST_POINTS:
        raise _refused("is no list of points")
    found = []
    for point in raw:
        if not isinstance(point, list) or len(point) != 2:
            raise _refused("has a point that is none")
        if any(isinstance(v, bool) or not isinstance(v, int | float) or not math.isfinite(v) for v in point):
            raise _refused("has a point that is none")
        x, y = (float(v) for v in point)
        if not (0 <= x <= cols - 1 and 0 <= y <= rows - 1):
            raise _refused("lies outside the photo", "mark on the photo")
        found.append((x, y))
    return found


def _refused(problem: str, remedy: str = "mark it again") -> FieldBookError:
    return FieldBookError("the mark", problem, remedy)
