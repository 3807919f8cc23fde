"""Typed readings of the samples: within a few of their stated uncertainties of the drawn truth."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.training.scenes import JOBS, job, readings
from analyzer.training.scenes.plan import SampleJob
from analyzer.units import parse_length, parse_reading

ALL = [job(name) for name in JOBS]


def rows(each: SampleJob, table: str) -> list[dict]:
    return [dict(t.values) for t in each.book(each) if t.name == table]


@pytest.mark.parametrize("each", ALL, ids=JOBS)
def test_levels_follow_the_drawn_surface(each: SampleJob) -> None:
    stations = rows(each, "station")
    first = [s for s in stations if "at" in s]
    assert 8 <= len(first) <= 26
    assert sum("check_of" in s for s in stations) == 1
    points = np.array([[parse_length(c, signed=True) for c in s["at"]] for s in first])
    rods = np.array([parse_length(str(s["rod"]).split("+-")[0]) for s in first])
    shape = rods + each.height_mm(points)
    assert np.ptp(shape) < 6.0  # one instrument height for all
    again = next(s for s in stations if "check_of" in s)
    named = next(s for s in first if s["name"] == again["check_of"])
    assert abs(parse_reading(again["rod"]).mm - parse_reading(named["rod"]).mm) < 4.0


@pytest.mark.parametrize("each", ALL, ids=JOBS)
def test_gauge_widths_fit_the_drawn_ones(each: SampleJob) -> None:
    drawn = {c.name: np.atleast_1d(np.asarray(c.width_mm, float)) for c in each.scene.cracks}
    for crack in rows(each, "crack"):
        if crack["name"] in drawn and "width" in crack:
            gauge = parse_reading(crack["width"])
            low, high = drawn[crack["name"]].min(), drawn[crack["name"]].max()
            assert 0.7 * low <= gauge.mm <= 1.3 * high, crack["name"]


def test_marks_lie_where_their_points_show() -> None:
    each = job("dairy_apron")
    points = {"D": (0.0, 4876.8), "m7": (2438.4, 2438.4)}
    marks = readings.marks(each, "lane-left", points, {"D": "D"})
    px = each.shot("lane-left").camera().project(np.array(list(points.values())))
    typed = np.array([m.values["px"] for m in marks], float)[:, ::-1]
    assert typed == pytest.approx(px, abs=4.5)
    assert marks[0].values["at"] == "D"
    assert "at" not in marks[1].values


def test_a_mark_outside_the_photo_is_refused() -> None:
    with pytest.raises(ValueError, match="outside"):
        readings.marks(job("dairy_apron"), "lane-left", {"far": (1e5, 1e5)}, {})


def test_tapes_read_the_distance() -> None:
    each = job("observatory_terrace")
    tape = readings.tapes(each, {"a": (0.0, 0.0), "b": (3000.0, 4000.0)}, (("a", "b"),), metric=True)[0]
    assert parse_reading(str(tape.values["distance"])).mm == pytest.approx(5000, abs=6)


def test_stations_near_the_corners_of_panels() -> None:
    places = readings.at_corners((((0, 0), (1000, 0), (1000, 500), (0, 500)),), 100.0, (0, 2))
    assert places == {"S1": (100.0, 100.0), "S2": (900.0, 400.0)}


@pytest.mark.parametrize(("mm2", "feet", "metres"), [(92903.04, "1 ft2", "0.1 m2"), (1e6, "11 ft2", "1 m2")])
def test_areas_as_written(mm2: float, feet: str, metres: str) -> None:
    assert readings.square_feet(mm2) == feet
    assert readings.square_metres(mm2) == metres


def test_every_stop_is_answered_in_every_book() -> None:
    for each in ALL:
        stops = next(t for t in each.book(each) if t.name == "stops")
        assert set(stops.values.values()) == {"no"}
        head = next(t for t in each.book(each) if t.name == "job")
        assert head.values["invented"] is True
