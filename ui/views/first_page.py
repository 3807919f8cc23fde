"""The first page: files in, recommendation out."""

from __future__ import annotations

import streamlit as st

from analyzer import chain
from analyzer.errors import ManyProblems, SlabError
from analyzer.terms import DetectMethod
from ui import state
from ui.typed import plain
from ui.views import outcome
from ui.work import Upload, run_book, run_uploads

_PICTURES = ["jpg", "jpeg", "png", "tif", "tiff", "webp", "heic", "heif"]


def show() -> None:
    """Draw the page."""
    st.title("Old slab: overlay, patch or removal?")
    st.write(
        "Give the field book and the photos it names. The page measures cracks and joints, holds what was "
        "measured against cited limits, and says what to do, or what is still missing."
    )
    _inputs()
    finished = state.kept()
    if finished is not None:
        outcome.show(finished)
        outcome.downloads(finished)
    st.caption(
        "Not a code approval, not a warranty, not a structural opinion. "
        "Local codes and licensed practice come first."
    )


def _inputs() -> None:
    """Uploads or a sample, and the button that runs the chain."""
    own, shipped = st.tabs(["Your job", "A shipped sample"])
    with own:
        book = st.file_uploader("Field book (TOML)", type=["toml"], key="book")
        photos = st.file_uploader("Photos", type=_PICTURES, accept_multiple_files=True, key="photos")
        if st.button("Work it out", type="primary", disabled=book is None, key="run") and book is not None:
            sent = [Upload(p.name, p.getvalue()) for p in photos]
            _run(
                lambda progress: run_uploads(
                    Upload(book.name, book.getvalue()), sent, DetectMethod.NETWORK, progress
                )
            )
    with shipped:
        name = st.selectbox("Sample (invented)", chain.samples(), key="sample")
        if st.button("Work out the sample", key="run_sample") and name:
            _run(lambda progress: run_book(chain.sample_field_book(name), DetectMethod.NETWORK, progress))


def _run(call: state.Work) -> None:
    """Run with visible steps; a problem becomes its sentence, and the last result is put away."""
    state.keep(None)
    problems: tuple[str, ...] = ()
    with st.status("Working …", expanded=True) as status:
        try:
            state.keep(call(status.write))
        except ManyProblems as error:
            problems = tuple(str(problem) for problem in error.problems)
        except SlabError as error:
            problems = (str(error),)
        if problems:
            status.update(label="Not done", state="error", expanded=False)
        else:
            status.update(label="Done", state="complete", expanded=False)
    # Outside the status box, which folds up and would hide it.
    for problem in problems:
        st.error(plain(problem))
