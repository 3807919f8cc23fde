"""One whole job by hand in a real browser at phone size: from an empty list to the PDF."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

pytest.importorskip("playwright.sync_api", reason="needs the test extra (pip install '.[test]')")

from playwright.sync_api import Page, expect

from analyzer import chain
from ui.store import Job, Workspace

STOPS = (
    "Are there stressed tendons in it?",
    "Does it span over air instead of lying on ground?",
    "Is there a hollow, vault, tank or cellar below?",
    "Are there heating tubes or cables in it?",
    "Do posts or columns stand on it?",
    "Do walls stand on it?",
    "Are there signs that the building's foundation moves?",
    "Are there signs that a retaining wall moves?",
)


@pytest.mark.browser_long
def test_from_an_empty_list_to_the_pdf(
    browser_page: Page, page_address: str, jobs_folder: Path, tmp_path: Path
) -> None:
    pypdf = pytest.importorskip("pypdf", reason="needs the test extra (pip install '.[test]')")
    place = Workspace(jobs_folder)
    page = browser_page
    page.set_viewport_size({"width": 360, "height": 800})
    page.goto(page_address)
    page.get_by_label("Your name").fill("M. Example")
    page.get_by_label("What is the slab?").fill("Ramp to the boat shed")
    page.get_by_role("button", name="Start the job").click()
    expect(page.get_by_role("heading", name="Job and first questions")).to_be_visible(timeout=30000)
    key = page.url.split("job=")[1]
    for question in STOPS:
        page.get_by_role("radiogroup", name=question).get_by_role("radio", name="No", exact=True).click()
    _until(place, key, lambda job: len(job.book.get("stops", {})) == len(STOPS))
    page.get_by_label("Left to right (ft)").fill("20")
    page.get_by_label("Out from the building (ft)").fill("12")
    page.keyboard.press("Tab")
    page.get_by_role("button", name="Draw the rectangle").click()
    _until(place, key, lambda job: len(job.book.get("corner", ())) == 4)
    page.reload()  # in the middle: the phone slept
    expect(page.get_by_text("Corner D")).to_be_visible(timeout=30000)
    page.goto(f"{page_address}/levels?job={key}")
    page.get_by_role("button", name="A station at every corner").click()
    for name, rod in (("S1", "48"), ("S2", "48"), ("S3", "47 1/2"), ("S4", "47 1/2")):
        expect(page.get_by_text(f"Station {name}", exact=True)).to_be_visible(timeout=20000)
        page.get_by_label("Rod reading").first.fill(rod)
        _until(place, key, lambda job, n=name: _rod(job, n) is not None)
        page.get_by_role("button", name="Next station").click()
    page.goto(f"{page_address}/answer?job={key}")
    page.get_by_role("button", name="Work it out").click()
    box = page.locator(".st-key-recommendation")
    expect(box).to_be_visible(timeout=120000)
    expected = chain.assess_job(place.open(key).folder / "field_book.toml").record.ranking
    assert expected.sentence in " ".join(box.inner_text().split())
    page.goto(f"{page_address}/report?job={key}")
    with page.expect_download(timeout=60000) as waiting:
        page.get_by_role("button", name="Report (PDF)").click()
    target = tmp_path / "report.pdf"
    waiting.value.save_as(target)
    text = " ".join(" ".join(p.extract_text() for p in pypdf.PdfReader(target).pages).split())
    assert "Ramp to the boat shed" in text
    assert "M. Example" in text


def _rod(job: Job, name: str) -> object:
    return next((s.get("rod") for s in job.book.get("station", ()) if s["name"] == name), None)


def _until(place: Workspace, key: str, holds: object, seconds: float = 20.0) -> None:
    assert callable(holds)
    deadline = time.monotonic() + seconds
    while not holds(place.open(key)):
        assert time.monotonic() < deadline, place.open(key).book
        time.sleep(0.1)
