"""Boxes save while they are typed, show what is wrong, and tell of another writer."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from streamlit.testing.v1 import AppTest

from ui.store import Change, Workspace

Open = Callable[[str, str], AppTest]
THICK = ("slab", "thickness")


@pytest.fixture
def page(place: Workspace) -> Open:
    def show(step: str, key: str) -> AppTest:
        app = AppTest.from_string(f"from ui import flow\nflow.run('{step}')", default_timeout=30)
        app.query_params["job"] = key
        return app.run()

    return show


def _box(app: AppTest, key: str, path: str) -> object:
    return app.text_input(key=f"{key} {path}")


def test_typed_is_saved_with_the_unit_of_the_job(place: Workspace, page: Open) -> None:
    job = place.create("Walk", "M. Example")
    app = page("job", job.key)
    assert not app.exception
    _box(app, job.key, "slab.thickness").set_value("4 3/8").run()
    assert place.open(job.key).book["slab"]["thickness"] == "4 3/8 in"
    assert _box(app, job.key, "slab.thickness").value == "4 3/8"  # nothing jumps under the thumb
    again = page("job", job.key)
    assert _box(again, job.key, "slab.thickness").value == "4 3/8 in"
    _box(again, job.key, "slab.thickness").set_value("").run()
    assert "slab" not in place.open(job.key).book


def test_metric_jobs_read_millimetres(place: Workspace, page: Open) -> None:
    job = place.create("Walk", "M. Example", "metric")
    app = page("job", job.key)
    _box(app, job.key, "slab.thickness").set_value("95").run()
    assert place.open(job.key).book["slab"]["thickness"] == "95 mm"


def test_what_cannot_be_read_is_kept_and_told_in_one_sentence(place: Workspace, page: Open) -> None:
    job = place.create("Walk", "M. Example")
    app = page("job", job.key)
    _box(app, job.key, "slab.thickness").set_value("4 3/").run()
    assert place.open(job.key).book["slab"]["thickness"] == "4 3/"
    assert sum("Thickness" in m.value and "not a length" in m.value for m in app.markdown) == 1
    _box(app, job.key, "slab.age_years").set_value("old").run()
    assert sum("not a number" in m.value for m in app.markdown) == 1


def test_answers_are_yes_no_or_dont_know_and_unasked_is_absent(place: Workspace, page: Open) -> None:
    job = place.create("Walk", "M. Example")
    app = page("job", job.key)
    group = app.button_group(key=f"{job.key} stops.post_tension")
    assert list(group.options) == ["Yes", "No", "Don’t know"]
    assert not group.value
    group.set_value("unknown").run()
    assert place.open(job.key).book["stops"] == {"post_tension": "unknown"}


def test_second_writer_is_told_and_chooses(place: Workspace, page: Open) -> None:
    job = place.create("Walk", "M. Example")
    app = page("job", job.key)
    place.save(job.key, "R. Sample", [Change(THICK, "5 in")])
    _box(app, job.key, "slab.thickness").set_value("4").run()
    assert place.open(job.key).book["slab"]["thickness"] == "5 in"
    assert any("R. Sample changed it" in w.value for w in app.warning)
    mine = next(b for b in app.button if b.label.startswith("Keep mine") and "4 in" in b.label)
    mine.click().run()
    assert place.open(job.key).book["slab"]["thickness"] == "4 in"
    assert not app.warning
    assert _box(app, job.key, "slab.thickness").value == "4 in"


def test_a_change_from_elsewhere_shows_without_a_clash(place: Workspace, page: Open) -> None:
    job = place.create("Walk", "M. Example")
    app = page("job", job.key)
    place.save(job.key, "R. Sample", [Change(THICK, "5 in")])
    _box(app, job.key, "job.weather").set_value("rain").run()
    assert _box(app, job.key, "slab.thickness").value == "5 in"
    assert not app.warning


def test_a_place_is_two_boxes(place: Workspace, page: Open) -> None:
    job = place.create("Walk", "M. Example")
    place.save(job.key, "x", [Change(("corner", "A"), {"name": "A", "at": ["", ""]})])
    app = page("job", job.key)
    _box(app, job.key, "corner.A.at.x").set_value("20").run()
    _box(app, job.key, "corner.A.at.y").set_value("12' 6").run()
    assert place.open(job.key).book["corner"][0]["at"] == ["20 ft", "12' 6"]
