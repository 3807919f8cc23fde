"""Only one module touches the session state, and it forgets when told to."""

from __future__ import annotations

from pathlib import Path

from streamlit.testing.v1 import AppTest

from ui.store import Workspace

ROOT = Path(__file__).resolve().parents[2]


def test_page_runs_without_exception_and_offers_samples(place: Workspace) -> None:
    app = AppTest.from_string("from ui import flow\nflow.run('files')", default_timeout=30).run()
    assert not app.exception
    assert app.title[0].value == "Old slab: overlay, patch or removal?"
    assert app.button(key="run").disabled


def test_session_state_has_one_user() -> None:
    users = [p.name for p in (ROOT / "ui").rglob("*.py") if "session_state" in p.read_text("utf-8")]
    assert users == ["state.py"]
