"""Marks on a photo become entries of the field book; what a browser makes up is refused."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest

from analyzer.acquire import parse_field_book
from analyzer.errors import FieldBookError
from analyzer.records import Calibration
from analyzer.terms import ScaleMethod
from ui.edits import change_of, lines_on
from ui.paths import put
from ui.store import Job

SIZE = (3000, 4000)
# 2 mm a pixel, photo seen straight from above, its lower left pixel at the plan's origin: by hand
# x = 2 col and y = 2 (2999 - row).
FLAT = Calibration(
    photo_id="p",
    plan_from_px=np.array([[0.0, 2.0, 0.0], [-2.0, 0.0, 5998.0], [0.0, 0.0, 1.0]]),
    method=ScaleMethod.MARKED_POINTS,
    residual_rms_mm=0.5,
    scale_u_rel=0.01,
    position_u_mm=2.0,
    tie_points=(),
)


@pytest.fixture
def job(book_text: str) -> Job:
    book = tomllib.loads(book_text.replace("date = 2026-05-03", 'date = "2026-05-03"'))
    book["photo"] = [{"id": "p", "file": "photos/p.jpg"}]
    return Job("j-0123456789", Path("nowhere"), 1, book)


def test_a_scale_point_is_a_mark_of_its_photo(job: Job) -> None:
    edit = {"op": "put", "kind": "mark", "name": "m1", "x": 812.5, "y": 1440}
    (change,) = change_of(edit, job, "p", SIZE, None)
    book = put(job.book, change.path, change.value)
    field = _read(book)
    (mark,) = field.photos[0].marks
    assert (mark.row_px, mark.col_px) == (1440, 812.5)
    (out,) = change_of(
        {"op": "out", "kind": "mark", "name": "m1"}, Job(job.key, job.folder, 2, book), "p", SIZE, None
    )
    assert put(book, out.path, out.value) == job.book


def test_moving_a_point_keeps_its_place_in_plan(job: Job) -> None:
    book = put(job.book, ("photo", "p", "marks", "m1"), {"name": "m1", "px": [1.0, 2.0], "at": "A"})
    edit = {"op": "put", "kind": "mark", "name": "m1", "x": 5, "y": 6}
    (change,) = change_of(edit, Job(job.key, job.folder, 1, book), "p", SIZE, None)
    assert change.value == {"name": "m1", "px": [5.0, 6.0], "at": "A"}


def test_a_drawn_crack_reaches_the_reader_where_it_was_drawn(job: Job) -> None:
    edit = {"op": "put", "kind": "crack", "name": "C1", "points": [[100, 2899], [200, 2799], [300, 2799]]}
    (change,) = change_of(edit, job, "p", SIZE, FLAT)
    field = _read(put(job.book, change.path, change.value))
    assert field.cracks[0].line_mm == ((200.0, 200.0), (400.0, 400.0), (600.0, 400.0))


def test_a_gauge_reading_stays_when_its_crack_is_drawn_anew(job: Job) -> None:
    book = put(job.book, ("crack", "C1"), {"name": "C1", "width": "0.8 mm"})
    edit = {"op": "put", "kind": "crack", "name": "C1", "points": [[100, 2899], [200, 2799]]}
    (change,) = change_of(edit, Job(job.key, job.folder, 1, book), "p", SIZE, FLAT)
    assert change.value["width"] == "0.8 mm"
    assert len(change.value["line"]) == 2


def test_a_joint_runs_from_its_first_to_its_last_point(job: Job) -> None:
    edit = {"op": "put", "kind": "joint", "name": "J1", "points": [[100, 2899], [150, 2880], [200, 2799]]}
    (change,) = change_of(edit, job, "p", SIZE, FLAT)
    field = _read(put(job.book, change.path, change.value))
    assert (field.joints[0].start_mm, field.joints[0].end_mm) == ((200.0, 200.0), (400.0, 400.0))


def test_a_line_comes_back_to_the_pixels_it_was_drawn_on(job: Job) -> None:
    drawn = [[100.0, 2899.0], [200.0, 2799.0]]
    edit = {"op": "put", "kind": "crack", "name": "C1", "points": drawn}
    (change,) = change_of(edit, job, "p", SIZE, FLAT)
    (line,) = lines_on(put(job.book, change.path, change.value), None, FLAT)
    assert (line["kind"], line["name"], line["found"]) == ("crack", "C1", False)
    assert np.allclose(line["points"], drawn, atol=0.3)


@pytest.mark.parametrize(
    "edit",
    [
        None,
        "put",
        {},
        {"op": "drop", "kind": "mark", "name": "m1"},
        {"op": "put", "kind": "stops", "name": "suspended"},
        {"op": "put", "kind": "mark", "name": "../x", "x": 1, "y": 1},
        {"op": "put", "kind": "mark", "name": "m1", "x": 4000, "y": 1},
        {"op": "put", "kind": "mark", "name": "m1", "x": float("nan"), "y": 1},
        {"op": "put", "kind": "mark", "name": "m1", "x": True, "y": 1},
        {"op": "put", "kind": "mark", "name": "m1"},
        {"op": "put", "kind": "crack", "name": "C1", "points": [[1, 1]]},
        {"op": "put", "kind": "crack", "name": "C1", "points": [[1, 1]] * 501},
        {"op": "put", "kind": "crack", "name": "C1", "points": "all"},
    ],
)
def test_what_a_browser_makes_up_is_refused(job: Job, edit: object) -> None:
    with pytest.raises(FieldBookError):
        change_of(edit, job, "p", SIZE, FLAT)


def test_no_line_without_a_scale(job: Job) -> None:
    edit = {"op": "put", "kind": "crack", "name": "C1", "points": [[1, 1], [2, 2]]}
    with pytest.raises(FieldBookError, match="scale the photo first"):
        change_of(edit, job, "p", SIZE, None)


def _read(book: dict[str, object]) -> object:
    import tomli_w

    return parse_field_book(tomli_w.dumps(book))
