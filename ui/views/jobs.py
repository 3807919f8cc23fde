"""All jobs: start one, find one, open it again, copy it as a second visit."""

from __future__ import annotations

import streamlit as st

from analyzer import chain
from analyzer.errors import SlabError
from ui import state
from ui.store import JobLine
from ui.typed import plain
from ui.views.outcome import HEADLINE


def draw() -> None:
    """Draw the page."""
    place = state.workspace()
    settings = place.settings()
    st.title("Old slabs: overlay, patch or removal?")
    who = st.text_input(
        "Your name", value=settings.get("who", ""), key="who", placeholder="Goes on every report"
    )
    system = st.segmented_control(
        "Lengths in",
        ["imperial", "metric"],
        format_func={"imperial": "Feet and inches", "metric": "Metric"}.__getitem__,
        default=settings.get("units", "imperial"),
        required=True,
        key="units",
    )
    if (who, system) != (settings.get("who", ""), settings.get("units")):
        place.set_settings(who=who.strip(), units=str(system))
    st.subheader("New job")
    title = st.text_input(
        "What is the slab?", key=f"title {state.counter('jobs')}", placeholder="Walk to the mill office"
    )
    if st.button("Start the job", type="primary", icon=":material/add:", width="stretch", key="start"):
        job = place.create(title, who, str(system))
        state.counter("jobs", 1)
        _go(job.key)
    st.subheader("All jobs")
    word = st.text_input("Find", key="find", placeholder="Word, name or date", live="300ms")
    found = place.lines(word)
    for line in found:
        _line(line, who)
    if not found:
        st.write("No job has these words." if word else "No job yet.")
    with st.expander("Try it on an invented sample"):
        name = st.selectbox("Sample", chain.samples(), key="sample_job")
        if st.button("Open a copy of the sample", key="take_sample") and name:
            try:
                job = place.take_in(chain.sample_field_book(name).parent, who)
            except SlabError as error:
                st.error(plain(str(error)))
            else:
                _go(job.key)
    st.page_link(state.page("files"), label="Work out a field book file", icon=":material/description:")
    st.caption(
        "Not a code approval, not a warranty, not a structural opinion. "
        "Local codes and licensed practice come first."
    )


def _line(line: JobLine, who: str) -> None:
    """One job with its two buttons."""
    answers = {str(k): v.split(":")[0] for k, v in HEADLINE.items()}
    with st.container(border=True, key=f"line_{line.key}"):
        invented = " · invented" if line.invented else ""
        st.markdown(f"**{plain(line.title)}**  \n{plain(line.date)} · {line.n_photos} photos{invented}")
        st.markdown(answers.get(line.headline or "", "Not worked out yet"))
        with st.container(horizontal=True):
            if st.button("Open", key=f"open {line.key}", type="primary"):
                _go(line.key)
            if st.button("Copy as second visit", key=f"copy {line.key}"):
                _go(state.workspace().copy(line.key, who).key)


def _go(key: str) -> None:
    st.switch_page(state.page("job"), query_params={"job": key})
