"""Marking by real pointer events: a point under the magnifier, undo and redo, a crack, smooth panning."""

from __future__ import annotations

import io
import re
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("playwright.sync_api", reason="needs the test extra (pip install '.[test]')")

from PIL import Image
from playwright.sync_api import Page, expect

from analyzer import chain
from ui.paths import look
from ui.store import Job, Workspace

PHOTO = "walk-lower"


def _until(call: Callable[[], bool], seconds: float = 20.0) -> None:
    deadline = time.monotonic() + seconds
    while not call():
        assert time.monotonic() < deadline, "it did not happen in time"
        time.sleep(0.1)


def _open(page: Page, address: str, job: Job) -> dict[str, float]:
    page.goto(f"{address}/lines?job={job.key}")
    canvas = page.locator(".marking canvas[data-ready=yes]")
    expect(canvas).to_be_visible(timeout=30000)
    canvas.scroll_into_view_if_needed()
    page.wait_for_timeout(300)
    box = canvas.bounding_box()
    assert box
    return dict(box)


def test_a_point_is_placed_taken_back_and_placed_again(
    browser_page: Page, page_address: str, jobs_folder: Path
) -> None:
    browser_page.set_viewport_size({"width": 360, "height": 800})
    place = Workspace(jobs_folder)
    place.set_settings(who="M. Example")
    job = place.take_in(chain.sample_field_book("chapel_walk").parent, "M. Example")
    _, rows, cols = chain.upright_picture(job.folder / "photos" / "photo-01.jpg")
    box = _open(browser_page, page_address, job)
    browser_page.get_by_role("button", name="Scale point").click()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    browser_page.mouse.move(x - 20, y + 10)
    browser_page.mouse.down()
    browser_page.mouse.move(x, y, steps=4)
    browser_page.mouse.up()

    def marks() -> list[dict[str, object]]:
        return (look(place.open(job.key).book, ("photo", PHOTO)) or {}).get("marks", [])

    _until(lambda: len(marks()) == 1)
    # The photo is fitted in the middle of its frame, so the middle of the frame is the photo's middle.
    px = marks()[0]["px"]
    assert isinstance(px, list)
    assert abs(px[0] - cols / 2) < 0.02 * cols
    assert abs(px[1] - rows / 2) < 0.02 * rows
    last = place.edits(job.key)[-1]
    assert (last["who"], last["path"]) == ("M. Example", ["photo", PHOTO, "marks", "m1"])
    browser_page.get_by_role("button", name="Undo").click()
    _until(lambda: marks() == [])
    browser_page.get_by_role("button", name="Redo").click()
    _until(lambda: len(marks()) == 1)
    assert marks()[0]["px"] == px
    assert len(place.edits(job.key)) >= 3


@pytest.mark.browser_long
def test_a_crack_drawn_on_a_scaled_photo_is_in_the_field_book(
    browser_page: Page, page_address: str, jobs_folder: Path
) -> None:
    place = Workspace(jobs_folder)
    job = place.take_in(chain.sample_field_book("chapel_walk").parent, "M. Example")
    _open(browser_page, page_address, job)
    browser_page.get_by_role("button", name="Scale this photo").click()
    expect(browser_page.get_by_text("Cracks and joints can be drawn")).to_be_visible(timeout=60000)
    browser_page.get_by_role("button", name="Crack", exact=True).click()
    canvas = browser_page.locator(".marking canvas")
    box = canvas.bounding_box()
    assert box
    for part in (0.45, 0.5, 0.55):
        browser_page.mouse.click(box["x"] + part * box["width"], box["y"] + 0.6 * box["height"])
    browser_page.get_by_role("button", name="End the line").click()
    _until(lambda: len(place.open(job.key).book["crack"]) == 3)
    new = place.open(job.key).book["crack"][-1]
    assert (new["name"], len(new["line"])) == ("C3", 3)
    assert all(re.fullmatch(r"-?\d+ mm", v) for p in new["line"] for v in p)
    assert chain.field_book_problems(job.folder / "field_book.toml") == ()
    canvas.click(position={"x": 0.5 * box["width"], "y": 0.6 * box["height"]})  # leaves a started line
    browser_page.get_by_role("button", name="Look, choose").click()
    canvas.click(position={"x": 0.475 * box["width"], "y": 0.6 * box["height"]})
    browser_page.get_by_role("button", name="Take out").first.click()
    _until(lambda: len(place.open(job.key).book["crack"]) == 2)


@pytest.mark.browser_long
def test_a_large_photo_is_panned_frame_by_frame(
    browser_page: Page, page_address: str, jobs_folder: Path
) -> None:
    """Prints the frames a second with 12 megapixels; asserts only that every frame is drawn."""
    rng = np.random.default_rng(7)
    grain = np.kron(rng.integers(90, 200, (300, 400, 3), np.uint8), np.ones((10, 10, 1), np.uint8))
    out = io.BytesIO()
    Image.fromarray(grain).save(out, "JPEG", quality=85)
    place = Workspace(jobs_folder)
    job = place.add_photo(place.create("Large photo", "M. Example").key, out.getvalue(), "M. Example")
    box = _open(browser_page, page_address, job)
    canvas = browser_page.locator(".marking canvas")
    for _ in range(3):
        browser_page.get_by_role("button", name="Larger").click()
    seconds, frames = browser_page.evaluate(
        """async () => {
          const c = document.querySelector('.marking canvas'), b = c.getBoundingClientRect();
          const send = (type, x, y) => c.dispatchEvent(new PointerEvent(type,
            { pointerId: 1, clientX: b.left + x, clientY: b.top + y, bubbles: true }));
          c.setPointerCapture = () => {};
          const from = Number(c.dataset.frames), start = performance.now();
          send('pointerdown', 200, 200);
          for (let i = 1; i <= 60; i += 1) {
            send('pointermove', 200 - i, 200 - i);
            await new Promise(requestAnimationFrame);
          }
          send('pointerup', 140, 140);
          return [(performance.now() - start) / 1000, Number(c.dataset.frames) - from];
        }"""
    )
    print(f"12 megapixels: {frames} frames in {seconds:.2f} s, {frames / seconds:.0f} frames a second")
    assert box["width"] > 300
    assert frames >= 55
    assert canvas.is_visible()
