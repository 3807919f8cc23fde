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

from ui.store import Workspace

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


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def start_server(port: int, jobs: Path) -> subprocess.Popen[bytes]:
    """The page as the command a user types starts it; waits until it answers."""
    process = subprocess.Popen(
        [sys.executable, "-m", "analyzer", "ui", "--port", str(port), "--jobs", str(jobs)],
        env={**os.environ, "STREAMLIT_SERVER_HEADLESS": "true"},
        cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    deadline = time.monotonic() + 60
    while True:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health", timeout=2) as answer:
                if answer.status == 200:
                    return process
        except OSError:
            if process.poll() is not None or time.monotonic() > deadline:
                process.kill()
                process.wait()
                pytest.fail("the page did not start")
            time.sleep(0.2)


@pytest.fixture(scope="session")
def jobs_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the running page keeps its jobs."""
    return tmp_path_factory.mktemp("served") / "jobs"


@pytest.fixture(scope="session")
def page_address(jobs_folder: Path) -> Iterator[str]:
    """Address of the page, served by the command a user types."""
    port = free_port()
    process = start_server(port, jobs_folder)
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        process.terminate()
        process.wait(timeout=20)


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Workspace:
    """An empty workspace that the page under test uses."""
    root = tmp_path / "jobs"
    monkeypatch.setenv("SLAB_JOBS", str(root))
    return Workspace(root)


def keep_picture(page: object, name: str) -> None:
    """Keep a screenshot where SLAB_TEST_PICTURES says, for looking at."""
    folder = os.environ.get("SLAB_TEST_PICTURES")
    if folder:
        Path(folder).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=str(Path(folder) / f"{name}.png"))  # type: ignore[attr-defined]


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
