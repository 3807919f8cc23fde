"""Recommendation: work the job out, picture first, and what is still open."""

from __future__ import annotations

import streamlit as st

from analyzer.errors import ManyProblems, SlabError
from ui import state
from ui.store import Job
from ui.typed import plain
from ui.views import outcome
from ui.work import Finished, last_result, work_out


def draw(job: Job) -> None:
    """Draw the step."""
    place = state.workspace()
    note = place.result_note(job.key)
    photos = len(job.book.get("photo", ()))
    with_photos = photos > 0
    if photos:
        with_photos = st.toggle(f"Measure on the photos ({photos})", value=True, key=f"{job.key} with photos")
    if st.button("Work it out", type="primary", width="stretch", key="work"):
        _run(job, with_photos)
        note = place.result_note(job.key)
    if not note:
        st.write("Not worked out yet.")
        return
    if note.get("revision") != job.revision:
        st.warning("Something was typed after this answer. Work it out again.")
    found = result(job, note)
    if found is not None:
        outcome.show(found)


def result(job: Job, note: dict[str, object]) -> Finished | None:
    """The last result, read once a result; a broken one is told in its sentence."""
    try:
        return _read(job, note.get("revision"), (job.folder / "result" / "bag-info.txt").stat().st_mtime_ns)
    except (SlabError, OSError) as error:
        st.error(plain(str(error)))
        return None


@st.cache_resource(max_entries=8, show_spinner=False, hash_funcs={Job: lambda job: job.key})
def _read(job: Job, revision: object, written: int) -> Finished:
    return last_result(job)


def _run(job: Job, with_photos: bool) -> None:
    """Run with visible steps; problems become sentences, and the last result stays as it was."""
    problems: tuple[str, ...] = ()
    with st.status("Working …", expanded=True) as status:
        try:
            work_out(state.workspace(), job.key, with_photos, status.write)
        except ManyProblems as error:
            problems = tuple(str(problem) for problem in error.problems)
        except SlabError as error:
            problems = (str(error),)
        label, kind = ("Not done", "error") if problems else ("Done", "complete")
        status.update(label=label, state=kind, expanded=False)  # type: ignore[arg-type]
    for problem in problems:
        st.error(plain(problem))
