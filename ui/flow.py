"""The way through a job: its steps, the head of every page, what is missing, and where it goes next."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import streamlit as st

from analyzer.errors import SlabError
from ui import fields, state
from ui.missing import missing, open_steps
from ui.store import Job
from ui.typed import plain
from ui.views import answer, first_page, job, jobs, levels, lines, photos, report

_STYLE = (Path(__file__).parent / "static" / "style.css").read_text("utf-8")
STEPS = {
    "job": "Job",
    "photos": "Photos",
    "lines": "Cracks",
    "levels": "Levels",
    "answer": "Answer",
    "report": "Report",
}
_TITLES = {
    "job": "Job and first questions",
    "photos": "Photos and scale",
    "lines": "Cracks and joints",
    "levels": "Levels and heights",
    "answer": "Recommendation",
    "report": "Report",
}
_DRAW: dict[str, Callable[[Job], None]] = {
    "job": job.draw,
    "photos": photos.draw,
    "lines": lines.draw,
    "levels": levels.draw,
    "answer": answer.draw,
    "report": report.draw,
}


def run(start: str = "jobs") -> None:
    """Draw the page that the address names; ``start`` is shown where it names none."""
    st.set_page_config(page_title="Old slab: overlay, patch or removal", layout="centered")
    st.html(f"<style>{_STYLE}</style>")
    pages = {
        "jobs": st.Page(jobs.draw, title="All jobs", url_path="jobs", default=start == "jobs"),
        "files": st.Page(
            first_page.show, title="Field book file", url_path="files", default=start == "files"
        ),
    }
    for name, title in _TITLES.items():
        pages[name] = st.Page(_step(name), title=title, url_path=name, default=start == name)
    state.set_pages(pages)
    st.navigation(list(pages.values()), position="hidden").run()


def _step(name: str) -> Callable[[], None]:
    """One step of the open job with head, missing things and the way on."""

    def show() -> None:
        try:
            opened = state.workspace().open(state.job_key())
        except SlabError as error:
            st.info(plain(str(error)))
            st.page_link(state.page("jobs"), label="All jobs", icon=":material/list:")
            return
        found = missing(opened.book)
        _head(opened, name, open_steps(found))
        told = state.note("problem")
        if told:
            st.error(plain(told))
            state.note("problem", None)
        fields.other_clashes(opened)
        _DRAW[name](opened)
        _missing(opened)
        _onward(opened, name)

    show.__name__ = f"step_{name}"
    return show


def _head(opened: Job, name: str, open_ones: frozenset[str]) -> None:
    st.page_link(state.page("jobs"), label="All jobs", icon=":material/arrow_back:")
    st.caption(plain(f"{opened.title} · {opened.book.get('job', {}).get('date', '')}"))
    with st.container(horizontal=True, key="steps"):
        for step, label in STEPS.items():
            with st.container(key=f"here_{step}" if step == name else f"step_{step}", width="content"):
                st.page_link(
                    state.page(step),
                    label=label,
                    icon=":material/radio_button_unchecked:" if step in open_ones else None,
                    query_params={"job": opened.key},
                )
    st.title(_TITLES[name])


def _missing(opened: Job) -> None:
    """What is missing and what it would be worth, at the foot of every step."""
    found = missing(opened.book)
    note = state.workspace().result_note(opened.key)
    with st.container(key="missing"):
        if found:
            st.markdown(f"**Still missing: {len(found)}**")
            st.markdown("\n".join(f"- **{plain(m.what)}**: {plain(m.why)}" for m in found))
        else:
            st.markdown("**Nothing is missing that every job needs.**")
        if note.get("next"):
            st.markdown("**Worth most next**, by the last answer:")
            st.markdown("\n".join(f"- {plain(w)}: {plain(y)} ({plain(e)})" for w, y, e in note["next"][:3]))


def _onward(opened: Job, name: str) -> None:
    order = list(STEPS)
    if name != order[-1]:
        step = order[order.index(name) + 1]
        with st.container(key="next"):
            st.page_link(
                state.page(step),
                label=f"Next: {_TITLES[step]}",
                icon=":material/arrow_forward:",
                query_params={"job": opened.key},
                width="stretch",
            )
