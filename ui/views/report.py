"""Report: what is handed over, as files."""

from __future__ import annotations

import streamlit as st

from ui import state
from ui.store import Job
from ui.views import answer, outcome


def draw(job: Job) -> None:
    """Draw the step."""
    note = state.workspace().result_note(job.key)
    if not note:
        st.write("There is a report as soon as the job is worked out.")
        st.page_link(state.page("answer"), label="Work it out", query_params={"job": job.key})
        return
    if note.get("revision") != job.revision:
        st.warning(
            "Something was typed after this report was made. Work it out again before you hand it over."
        )
    found = answer.result(job, note)
    if found is None:
        return
    outcome.downloads(found)
    lines = job.folder / "result" / "data" / "lines"
    with st.container(horizontal=True):
        for path in sorted(lines.iterdir()) if lines.is_dir() else ():
            st.download_button(path.name, path.read_bytes(), path.name, key=f"file {path.name}")
    st.caption("Place and serial numbers of camera and phone are removed from every picture in the report.")
    st.subheader("Who changed what")
    edits = state.workspace().edits(job.key)
    st.dataframe(
        [
            {
                "when": str(e["when"])[:16].replace("T", " "),
                "who": e["who"],
                "where": " ".join(e["path"]) or "job started",
                "what": str(e["value"] if e["value"] is not None else ""),
                "before": str(e["before"] if e["before"] is not None else ""),
                "note": "set aside" if e.get("aside") else "",
            }
            for e in reversed(edits)
        ],
        hide_index=True,
    )
