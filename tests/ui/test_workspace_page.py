"""The workspace in a real browser, at the size of a phone: saved as typed, two tabs, a killed server."""

from __future__ import annotations

import importlib.util
import re
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

pytest.importorskip("playwright.sync_api", reason="needs the test extra (pip install '.[test]')")

from playwright.sync_api import Page, expect

from analyzer import chain
from ui.flow import STEPS
from ui.store import Workspace

PHONE = {"width": 360, "height": 800}


def _shared() -> ModuleType:
    """Helpers beside the fixtures; the tests are not a package."""
    spec = importlib.util.spec_from_file_location("ui_conftest", Path(__file__).with_name("conftest.py"))
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


shared = _shared()


def _until(call: Callable[[], bool], seconds: float = 15.0) -> None:
    deadline = time.monotonic() + seconds
    while not call():
        assert time.monotonic() < deadline, "it did not happen in time"
        time.sleep(0.1)


def _open(page: Page, address: str, step: str, key: str) -> None:
    page.goto(f"{address}/{step}?job={key}")
    expect(page.get_by_role("heading", level=1)).to_be_visible(timeout=30000)


def _no_barrier(page: Page, step: str) -> None:
    """No serious or critical violation, as axe-core's own rules judge (WCAG 2, colour contrast 4.5)."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="needs the test extra")
    found = axe.Axe().run(page).response["violations"]
    serious = [(v["id"], v["nodes"][0]["html"]) for v in found if v["impact"] in ("serious", "critical")]
    assert serious == [], step


def _thickness(place: Workspace, key: str) -> object:
    return place.open(key).book.get("slab", {}).get("thickness")


def test_typed_without_enter_is_saved_and_survives_a_reload(
    browser_page: Page, page_address: str, jobs_folder: Path
) -> None:
    browser_page.set_viewport_size(PHONE)
    place = Workspace(jobs_folder)
    browser_page.goto(page_address)
    browser_page.get_by_label("Your name").fill("M. Example")
    browser_page.get_by_label("What is the slab?").fill("Walk to the mill office")
    browser_page.get_by_role("button", name="Start the job").click()
    expect(browser_page.get_by_role("heading", name="Job and first questions")).to_be_visible(timeout=30000)
    key = re.search(r"job=(j-[0-9a-f]{10})", browser_page.url)
    assert key
    browser_page.get_by_label("Thickness").fill("4 3/8")
    _until(lambda: _thickness(place, key[1]) == "4 3/8 in")
    browser_page.get_by_role("radiogroup", name="Are there stressed tendons in it?").get_by_text(
        "Don’t know"
    ).click()
    _until(lambda: place.open(key[1]).book.get("stops") == {"post_tension": "unknown"})
    browser_page.reload()
    expect(browser_page.get_by_label("Thickness")).to_have_value("4 3/8 in", timeout=30000)
    shared.keep_picture(browser_page, "job_360")


def test_two_tabs_on_one_job(browser_page: Page, page_address: str, jobs_folder: Path) -> None:
    place = Workspace(jobs_folder)
    job = place.create("Pool deck", "M. Example")
    browser = browser_page.context.browser
    assert browser
    other = browser.new_page()
    for tab in (browser_page, other):
        _open(tab, page_address, "job", job.key)
        expect(tab.get_by_label("Thickness")).to_be_visible(timeout=30000)
    browser_page.get_by_label("Thickness").fill("4")
    _until(lambda: _thickness(place, job.key) == "4 in")
    other.get_by_label("Thickness").fill("6")
    warning = other.get_by_role("alert").filter(has_text="changed it")
    expect(warning).to_be_visible(timeout=15000)
    assert _thickness(place, job.key) == "4 in"
    other.get_by_role("button", name="Keep mine").click()
    _until(lambda: _thickness(place, job.key) == "6 in")
    assert [e["value"] for e in place.edits(job.key) if e.get("aside")] == ["6 in"]


@pytest.mark.parametrize("size", [PHONE, {"width": 1280, "height": 900}], ids=["phone", "desk"])
def test_every_step_fits_its_width_and_asks_nobody_else(
    browser_page: Page, page_address: str, jobs_folder: Path, size: dict[str, int]
) -> None:
    job = Workspace(jobs_folder).take_in(chain.sample_field_book("chapel_walk").parent, "M. Example")
    asked: list[str] = []
    browser_page.on("request", lambda request: asked.append(request.url))
    browser_page.set_viewport_size(size)
    for step in STEPS:
        _open(browser_page, page_address, step, job.key)
        expect(browser_page.get_by_text("Nothing is missing")).to_be_visible(timeout=30000)
        inside, outside = browser_page.evaluate(
            "() => { const m = document.querySelector('.stMain'); return [m.scrollWidth, m.clientWidth]; }"
        )
        assert inside <= outside, step
        shared.keep_picture(browser_page, f"{step}_{size['width']}")
        if size == PHONE:
            _no_barrier(browser_page, step)
    assert [u for u in asked if "127.0.0.1" not in u and not u.startswith(("data:", "blob:"))] == []


def test_tap_type_next_on_the_plan(browser_page: Page, page_address: str, jobs_folder: Path) -> None:
    browser_page.set_viewport_size(PHONE)
    place = Workspace(jobs_folder)
    job = place.take_in(chain.sample_field_book("chapel_walk").parent, "M. Example")
    _open(browser_page, page_address, "levels", job.key)
    browser_page.get_by_role("button", name=re.compile(r"^S9 ")).click()
    expect(browser_page.get_by_label("Rod reading").first).to_have_value(
        "51 1/8 in +- 1/16 in", timeout=15000
    )
    plan = browser_page.locator(".plan svg polygon").first
    box = plan.bounding_box()
    assert box
    browser_page.mouse.click(box["x"] + box["width"] / 2, box["y"] + 0.62 * box["height"])
    _until(lambda: len(place.open(job.key).book["station"]) == len(job.book["station"]) + 1)
    new = place.open(job.key).book["station"][-1]
    # The outline runs from -3 ft to 9 ft and from 0 to 24 ft: 36 in and 0.38 x 288 in by hand.
    assert abs(int(new["at"][0].removesuffix(" in")) - 36) <= 2
    assert abs(int(new["at"][1].removesuffix(" in")) - 109) <= 3
    expect(browser_page.get_by_text(f"Station {new['name']}")).to_be_visible(timeout=15000)
    browser_page.get_by_label("Rod reading").first.fill("51 3/8")
    _until(lambda: place.open(job.key).book["station"][-1].get("rod") == "51 3/8 in")
    browser_page.get_by_role("button", name="Next station").click()
    expect(browser_page.get_by_text("Station S1", exact=True)).to_be_visible(timeout=15000)


@pytest.mark.browser_long
def test_server_killed_in_the_middle_loses_nothing(browser_page: Page, tmp_path: Path) -> None:
    port, jobs = shared.free_port(), tmp_path / "jobs"
    place = Workspace(jobs)
    job = place.create("Walk", "M. Example")
    process = shared.start_server(port, jobs)
    try:
        _open(browser_page, f"http://127.0.0.1:{port}", "job", job.key)
        browser_page.get_by_label("Thickness").fill("4 3/8")
        _until(lambda: _thickness(place, job.key) == "4 3/8 in")
        process.kill()
        process.wait()
        process = shared.start_server(port, jobs)
        browser_page.reload()
        expect(browser_page.get_by_label("Thickness")).to_have_value("4 3/8 in", timeout=30000)
        browser_page.get_by_label("Age in years").fill("38")
        _until(lambda: place.open(job.key).book["slab"].get("age_years") == 38)
    finally:
        process.kill()
        process.wait()


def test_the_page_answers_this_machine_alone(page_address: str) -> None:
    # Linux lists listening sockets in /proc/net/tcp (proc(5)): local address in hexadecimal, state 0A.
    table = Path("/proc/net/tcp")
    if sys.platform != "linux" or not table.exists():
        pytest.skip("reads /proc/net/tcp, which only Linux has")
    port = f"{int(page_address.rsplit(':', 1)[1]):04X}"
    rows = [line.split() for line in table.read_text().splitlines()[1:]]
    listening = [row[1] for row in rows if row[3] == "0A" and row[1].endswith(f":{port}")]
    assert listening == [f"0100007F:{port}"]
