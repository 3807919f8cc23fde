"""Drawings of a plan: heights, contours, joints, fall, section; a warning where nobody may build from it."""

from __future__ import annotations

import dataclasses
import re
import xml.etree.ElementTree as ElementTree

from analyzer.records import HeightEntry, JobRecord, Stop
from analyzer.terms import HeightKind, Option, UnitSystem
from analyzer.transmit import ink, section_svg, set_out_svg, thickness_svg
from analyzer.transmit.grade_figure import warning_of

NS = "{http://www.w3.org/2000/svg}"


def _words(svg: str) -> list[str]:
    return [t.text or "" for t in ElementTree.fromstring(svg).iter(f"{NS}text")]


def _metric(record: JobRecord) -> JobRecord:
    job = dataclasses.replace(record.field.job, units=UnitSystem.METRIC)
    return dataclasses.replace(record, field=dataclasses.replace(record.field, job=job))


def test_set_out_heights_are_numbered_as_in_the_table(full: JobRecord) -> None:
    words = _words(set_out_svg(full, full.plans[0]))
    # 60.325 mm = 2 3/8 in, 90.4875 mm = 3 9/16 in: by hand.
    assert {'1: +2-3/8"', '2: +2-3/8"', '3: +3-9/16"', '4: +3-9/16"'} <= set(words)
    assert "2.0 %" in words
    assert "valley" in words
    assert {"joints of the old slab", "joints of the new concrete", "isolation joints",
            "line of the section"} <= set(words)  # fmt: skip


def test_fall_arrow_runs_down_the_sheet(full: JobRecord) -> None:
    # Fall towards -y, and y is turned over on the sheet.
    found = re.search(r'd="M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)m', set_out_svg(full, full.plans[0]))
    assert found is not None
    assert float(found[4]) > float(found[2])


def test_contours_and_grinding_are_on_the_thickness_drawing(full: JobRecord) -> None:
    words = _words(thickness_svg(full, full.plans[0]))
    # 60 mm = 2 3/8 in (2.362), 80 mm = 3 1/8 in (3.150), 70 mm = 2 3/4 in (2.756), 6 mm = 1/4 in: by hand.
    assert 'thinnest 2-3/8"' in words
    assert 'thickest 3-1/8"' in words
    assert '2-3/4"' in words
    assert 'G1: grind 1/4"' in words
    assert "lines of equal thickness" in words


def test_metric_jobs_are_metric(full: JobRecord) -> None:
    for svg in (set_out_svg, thickness_svg, section_svg):
        words = _words(svg(_metric(full), full.plans[0]) or "")
        assert any(w.endswith(" mm") for w in words), svg
        assert not any('"' in w for w in words)


def test_section_is_to_scale_and_says_how_much_heights_are_drawn_larger(full: JobRecord) -> None:
    svg = section_svg(full, full.plans[0])
    assert svg is not None
    told = next(w for w in _words(svg) if "heights" in w)
    times = int(re.search(r"drawn (\d+) times", told)[1]) if "times" in told else 1
    polygon = next(iter(ElementTree.fromstring(svg).iter(f"{NS}polygon")))
    points = [tuple(map(float, p.split(","))) for p in polygon.get("points", "").split()]
    xs = [x for x, _ in points]
    # 1500 mm of slab are 1000 units; the high end is 80 mm thick.
    assert abs(max(xs) - min(xs) - 1000) < 0.2
    at_start = [y for x, y in points if x == min(xs)]
    assert abs((max(at_start) - min(at_start)) - 80 * times / 1.5) < 0.3


def test_section_shows_the_sill(full: JobRecord) -> None:
    door = HeightEntry(HeightKind.DOOR_SILL, "pump door", (1000.0, 1500.0))
    field = dataclasses.replace(full.field, heights=(door,))
    words = _words(section_svg(dataclasses.replace(full, field=field), full.plans[0]) or "")
    assert 'door sill, 1-9/16" over the surface' in words  # 40 mm = 1.575 in
    assert "at pump door" in words


def test_a_new_slab_is_drawn_with_its_own_thickness(full: JobRecord) -> None:
    plan = dataclasses.replace(full.plans[0], option=Option.REMOVAL, thickness_mean_mm=101.6)
    assert _words(section_svg(full, plan) or "").count('4"') >= 2


def test_no_plan_to_build_from_says_so(full: JobRecord, record: JobRecord) -> None:
    assert warning_of(full, full.plans[0]) is None
    assert "questions" in (warning_of(record, record.plans[0]) or "")
    broken = dataclasses.replace(full.plans[0], conflicts=("The sill keeps less than 25 mm.",))
    assert "limit" in (warning_of(full, broken) or "")
    refused = dataclasses.replace(full.plans[0], option=Option.PATCH)
    assert "refused" in (warning_of(full, refused) or "")
    for svg in (set_out_svg, thickness_svg):
        assert "NOT FOR WORK" in svg(full, broken)
        assert "NOT FOR WORK" not in svg(full, full.plans[0])
        assert ink.CRACK in svg(full, broken)


def test_open_questions_come_before_everything(full: JobRecord) -> None:
    stop = Stop("void_below", "Is it hollow below?", "not answered", True, "It can fall in.")
    blocked = dataclasses.replace(full, ranking=dataclasses.replace(full.ranking, stops=(stop,)))
    assert "NOT FOR WORK: questions" in set_out_svg(blocked, full.plans[0])
