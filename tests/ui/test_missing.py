"""What is missing is told until it is there, and no longer."""

from __future__ import annotations

import tomllib

from analyzer import chain
from analyzer.acquire.tables import STOPS
from ui import missing as module
from ui.missing import missing, open_steps
from ui.store import Workspace


def test_an_empty_job_misses_all_and_a_whole_one_nothing(place: Workspace) -> None:
    empty = missing({"schema": 1})
    assert open_steps(empty) == {"job", "photos", "levels"}
    job = place.take_in(chain.sample_field_book("chapel_walk").parent, "M. Example")
    assert missing(job.book) == ()


def test_an_unknown_stop_is_an_open_question(book_text: str) -> None:
    book = tomllib.loads(book_text)
    assert not any("first question" in m.what for m in missing(book))
    book["stops"]["post_tension"] = "unknown"
    del book["stops"]["void_below"]
    assert any(m.what == "2 first questions" and m.step == "job" for m in missing(book))


def test_the_page_asks_every_stop_that_the_field_book_has() -> None:
    assert set(module.STOPS) == set(STOPS)
