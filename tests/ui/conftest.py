"""A running page and a real headless Chromium, for all tests of the front."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
CHROMIUM_FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-quic",
    "--no-first-run", "--disable-component-update", "--disable-sync",
)  # fmt: skip


def _chromium() -> str:
    """Path of a Chromium; in CI a missing one fails, elsewhere the test skips and says why."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        found = shutil.which(name)
        if found:
            return found
    if os.environ.get("CI"):
        pytest.fail("no Chromium on the path; CI must install Debian's package chromium")
    pytest.skip("needs a Chromium on the path (Debian: apt-get install chromium)")


@pytest.fixture(scope="session")
def page_address() -> Iterator[str]:
    """Address of the page, served by the command a user types."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    process = subprocess.Popen(
        [sys.executable, "-m", "analyzer", "ui", "--port", str(port)],
        env={**os.environ, "STREAMLIT_SERVER_HEADLESS": "true"},
        cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    address = f"http://127.0.0.1:{port}"
    try:
        deadline = time.monotonic() + 60
        while True:
            try:
                with urllib.request.urlopen(f"{address}/_stcore/health", timeout=2) as answer:
                    if answer.status == 200:
                        break
            except OSError:
                if process.poll() is not None or time.monotonic() > deadline:
                    pytest.fail("the page did not start")
                time.sleep(0.2)
        yield address
    finally:
        process.terminate()
        process.wait(timeout=20)


@pytest.fixture
def browser_page() -> Iterator[object]:
    """A fresh tab of a real browser."""
    from playwright.sync_api import sync_playwright

    executable = _chromium()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=executable, args=list(CHROMIUM_FLAGS))
        page = browser.new_page(viewport={"width": 1100, "height": 1400})
        yield page
        browser.close()
