"""The page in a real browser: files in, recommendation read off it."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

pytest.importorskip("playwright.sync_api", reason="needs the test extra (pip install '.[test]')")

from playwright.sync_api import Page, expect

PICTURES = os.environ.get("SLAB_TEST_PICTURES")


def _keep(page: Page, name: str) -> None:
    """Keep a screenshot where SLAB_TEST_PICTURES says, for looking at."""
    if PICTURES:
        Path(PICTURES).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=str(Path(PICTURES) / f"{name}.png"), full_page=True)


def test_field_book_in_recommendation_out(browser_page: Page, page_address: str, book: Path) -> None:
    from analyzer import chain

    expected = chain.assess_job(book).record.ranking
    browser_page.goto(f"{page_address}/files")
    expect(browser_page.get_by_role("heading", name="Old slab: overlay, patch or removal?")).to_be_visible(
        timeout=30000
    )
    browser_page.locator("input[type=file]").first.set_input_files(str(book))
    browser_page.get_by_role("button", name="Work it out").click()
    box = browser_page.locator(".st-key-recommendation")
    expect(box).to_be_visible(timeout=60000)
    text = " ".join(box.inner_text().split())
    assert str(expected.headline).split()[0].lower() in text.lower()
    assert " ".join(expected.sentence.split()) in text
    expect(browser_page.get_by_role("button", name="Report (PDF)")).to_be_visible()
    _keep(browser_page, "first_page_done")


def test_a_bad_field_book_is_one_sentence_on_the_page(
    browser_page: Page, page_address: str, book: Path, book_text: str
) -> None:
    book.write_text(book_text.replace('thickness = "4 in"', 'thickness = "4 inn"'), "utf-8")
    browser_page.goto(f"{page_address}/files")
    browser_page.locator("input[type=file]").first.set_input_files(str(book))
    browser_page.get_by_role("button", name="Work it out").click()
    alert = browser_page.get_by_role("alert").filter(has_text="inn")
    expect(alert).to_be_visible(timeout=30000)
    assert "Traceback" not in browser_page.content()


def test_nothing_is_fetched_from_elsewhere(browser_page: Page, page_address: str) -> None:
    asked: list[str] = []
    browser_page.on("request", lambda request: asked.append(request.url))
    browser_page.goto(f"{page_address}/files")
    expect(browser_page.get_by_role("heading", level=1)).to_be_visible(timeout=30000)
    browser_page.wait_for_load_state("networkidle")
    elsewhere = [u for u in asked if "127.0.0.1" not in u and not u.startswith(("data:", "blob:"))]
    assert elsewhere == []
