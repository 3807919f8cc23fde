"""Every step by itself: from an empty job and from a full one, and what its buttons write."""

from __future__ import annotations

import tomllib
from collections.abc import Callable

import pytest
import tomli_w
from streamlit.testing.v1 import AppTest

from analyzer import chain
from analyzer.acquire import parse_field_book
from ui import flow
from ui.store import Change, Workspace

Open = Callable[[str, str], AppTest]


@pytest.fixture
def page(place: Workspace) -> Open:
    def show(step: str, key: str = "") -> AppTest:
        app = AppTest.from_string(f"from ui import flow\nflow.run('{step}')", default_timeout=60)
        if key:
            app.query_params["job"] = key
        return app.run()

    return show


@pytest.mark.parametrize("step", list(flow.STEPS))
def test_each_step_stands_alone_on_an_empty_and_a_full_job(place: Workspace, page: Open, step: str) -> None:
    empty = place.create("Walk", "M. Example")
    app = page(step, empty.key)
    assert not app.exception
    assert any("Still missing" in m.value for m in app.markdown)
    full = place.take_in(chain.sample_field_book("chapel_walk").parent, "M. Example")
    app = page(step, full.key)
    assert not app.exception
    assert any("Nothing is missing" in m.value for m in app.markdown)


@pytest.mark.parametrize("key", ["", "../..", "j-0000000000"])
def test_an_address_without_a_job_leads_back(place: Workspace, page: Open, key: str) -> None:
    app = page("job", key)
    assert not app.exception
    assert "open it from the list of jobs" in app.info[0].value


def test_a_job_from_start_to_recommendation(place: Workspace, page: Open) -> None:
    app = page("jobs")
    app.text_input(key="who").set_value("M. Example").run()
    app.text_input(key="title 0").set_value("Walk to the mill office").run()
    app.button(key="start").click().run()
    (line,) = place.lines()
    assert line.by == "M. Example"
    key = line.key
    app = page("job", key)
    for name in chain.field_book_schema()["properties"]["stops"]["properties"]:
        if name != "cleared":
            app.button_group(key=f"{key} stops.{name}").set_value("no").run()
    app.text_input(key=f"{key} along").set_value("20").run()
    app.text_input(key=f"{key} away").set_value("12").run()
    app.button(key="rectangle").click().run()
    assert [c["at"] for c in place.open(key).book["corner"]][2] == ["20 ft", "12 ft"]
    app = page("levels", key)
    app.button(key="corners").click().run()
    for name, rod in (("S1", "48"), ("S2", "48"), ("S3", "47 1/2"), ("S4", "47 1/2")):
        app.text_input(key=f"{key} station.{name}.rod").set_value(rod).run()
        app.button(key="next_station").click().run()
    # By hand: S3 and S4 are read 1/2 in higher on the slab than S1 and S2, which are the lowest.
    assert app.table[0].value["Above the lowest"].tolist() == ['0"', '0"', '1/2"', '1/2"']
    app.button(key="close_run").click().run()
    app.text_input(key=f"{key} station.S1-again.rod").set_value("48 1/16").run()
    assert any("1/16" in m.value and "Repeated" in m.value for m in app.markdown)
    app.text_input(key=f"{key} height 0").set_value("Office door").run()
    app.button(key="add_height").click().run()
    app.text_input(key=f"{key} height.Office door.above_slab").set_value("7").run()
    app.text_input(key=f"{key} height.Office door.at.x").set_value("10").run()
    app.text_input(key=f"{key} height.Office door.at.y").set_value("12").run()
    assert chain.field_book_problems(place.open(key).folder / "field_book.toml") == ()
    app = page("answer", key)
    app.button(key="work").click().run()
    assert not app.exception
    assert not app.error
    expected = chain.assess_job(place.open(key).folder / "field_book.toml").record.ranking
    assert place.result_note(key)["headline"] == str(expected.headline)
    assert any(expected.sentence in m.value for m in app.markdown)
    place.save(key, "x", [Change(("slab", "age_years"), 30)])
    assert "typed after this answer" in page("answer", key).warning[0].value
    assert not page("report", key).exception


def test_a_job_that_cannot_be_worked_out_says_why_and_keeps_the_last_result(
    place: Workspace, page: Open
) -> None:
    job = place.create("Walk", "M. Example")
    app = page("answer", job.key)
    app.button(key="work").click().run()
    assert not app.exception
    assert any("corner" in e.value for e in app.error)
    assert place.result_note(job.key) == {}
    assert not list(job.folder.glob(".work-*"))


def test_find_open_and_copy(place: Workspace, page: Open) -> None:
    first = place.create("Walk to the mill office", "M. Example")
    place.create("Pool deck", "M. Example")
    app = page("jobs")
    app.text_input(key="find").set_value("mill").run()
    assert [b.label for b in app.button if b.label == "Open"] == ["Open"]
    app.button(key=f"copy {first.key}").click().run()
    assert len(place.lines("mill")) == 2
    assert len(place.lines("second visit")) == 1


def test_cracks_joints_and_areas_are_entered_by_name(place: Workspace, page: Open) -> None:
    job = place.create("Walk", "M. Example")
    app = page("lines", job.key)
    app.button(key="add_crack").click().run()
    app.text_input(key=f"{job.key} crack.C1.width").set_value("0.8 mm").run()
    app.button(key="add_joint").click().run()
    app.text_input(key=f"{job.key} area area 0").set_value("6 ft2").run()
    app.button(key=f"{job.key} area add").click().run()
    app.text_input(key=f"{job.key} fault at 0").set_value("3, 4 1/2").run()
    app.text_input(key=f"{job.key} fault step 0").set_value("3/16 +- 1/32").run()
    app.button(key=f"{job.key} fault add").click().run()
    book = place.open(job.key).book
    assert book["crack"] == [{"name": "C1", "width": "0.8 mm"}]
    assert book["joint"][0]["name"] == "J1"
    assert book["area"] == [{"kind": "spalling", "area": "6 ft2"}]
    assert book["fault"] == [{"at": ["3 ft", "4 1/2 ft"], "step": "3/16 in +- 1/32 in"}]
    app.button(key=f"{job.key} area out 0").click().run()
    assert "area" not in place.open(job.key).book


def test_photos_with_sheets(place: Workspace, page: Open) -> None:
    job = place.take_in(chain.sample_field_book("chapel_walk").parent, "M. Example")
    app = page("photos", job.key)
    app.button(key=f"{job.key} out sheet 2").click().run()
    assert [s["number"] for s in place.open(job.key).book["sheet"]] == [1, 3, 4]
    app.button(key="add sheet 2").click().run()
    assert place.open(job.key).book["sheet"][-1]["number"] == 2


def test_a_stop_that_an_engineer_cleared(place: Workspace, page: Open, book_text: str) -> None:
    job = place.create("Walk", "M. Example")
    app = page("job", job.key)
    app.button_group(key=f"{job.key} stops.carries_posts").set_value("yes").run()
    base = f"{job.key} stops cleared"
    for key, said in (("who", "R. Example, engineer"), ("date", "2026-04-14"), ("says", "Own footing.")):
        app.text_input(key=f"{base} {key} 0").set_value(said).run()
    app.button(key=f"{base} add").click().run()
    stops = place.open(job.key).book["stops"]
    assert stops["cleared"] == [
        {"stop": "carries_posts", "who": "R. Example, engineer", "date": "2026-04-14", "says": "Own footing."}
    ]
    # The same entry in a whole field book is taken by the reader.
    whole = {**tomllib.loads(book_text), "stops": stops}
    assert parse_field_book(tomli_w.dumps(whole)).stops.clearings[0].stop == "carries_posts"


def test_marks_are_offered_a_corner_or_a_place(place: Workspace, page: Open) -> None:
    job = place.take_in(chain.sample_field_book("chapel_walk").parent, "M. Example")
    mark = {"name": "m1", "px": [100.0, 200.0]}
    place.save(job.key, "x", [Change(("photo", "walk-lower", "marks", "m1"), mark)])
    app = page("photos", job.key)
    assert not app.exception
    app.selectbox(key=f"{job.key} photo.walk-lower.marks.m1.at").set_value("B").run()
    assert place.open(job.key).book["photo"][0]["marks"] == [{**mark, "at": "B"}]
    assert not app.exception
