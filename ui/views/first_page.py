"""The first page: files in, recommendation out."""

from __future__ import annotations

import streamlit as st

from analyzer import chain
from analyzer.errors import ManyProblems, SlabError
from analyzer.terms import DetectMethod, Headline, Verdict
from ui import state
from ui.work import Finished, Upload, run_book, run_uploads

_PICTURES = ["jpg", "jpeg", "png", "tif", "tiff", "webp", "heic", "heif"]
_MARKUP = "\\*_`[]#$~<>:"
_HEADLINE = {
    Headline.OVERLAY: "Overlay: pour new concrete over the old slab",
    Headline.PATCH: "Patch: repair the slab and keep it",
    Headline.REMOVAL: "Removal: break the slab out and pour a new one",
    Headline.NONE_YET: "No recommendation yet",
}


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
        _results(finished)
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
        st.error(_plain(problem))


def _results(finished: Finished) -> None:
    """Picture first, then the recommendation, reasons, open points, findings, files."""
    record = finished.record
    ranking = record.ranking
    job = record.field.job
    st.header(job.title)
    if job.invented:
        st.warning("This job is invented. It shows what the tool does; no such place exists.")
    pictures = dict(finished.pictures)
    lead = "slab_from_above.jpg" if "slab_from_above.jpg" in pictures else "plan.svg"
    _picture(lead, pictures[lead], "The slab from above. Solid lines are cracks, dashed lines are joints.")
    with st.container(border=True, key="recommendation"):
        st.subheader(_HEADLINE[ranking.headline])
        st.write(ranking.sentence)
    for title, items in (
        (
            "Questions that come first",
            [f"{s.question} {s.answer}. {s.reason}" for s in ranking.stops if s.blocks],
        ),
        ("Why", [r.sentence for r in ranking.reasons_for]),
        ("What speaks against it", [r.sentence for r in ranking.reasons_against]),
        ("What was not seen or not measured", list(ranking.unknowns)),
        ("What to do next", [f"{m.what}: {m.why}" for m in ranking.next_measurements]),
        ("Take care", list(ranking.cautions)),
    ):
        if items:
            st.subheader(title)
            st.markdown("\n".join(f"- {_plain(item)}" for item in items))
    st.subheader("Photos")
    for name, data in finished.pictures:
        if name != lead:
            _picture(name, data, name.rsplit(".", 1)[0].replace("_", " "))
    st.subheader("Findings")
    order = {Verdict.EXCEEDS: 0, Verdict.NOT_DETERMINED: 1, Verdict.WITHIN: 2}
    st.dataframe(
        [
            {"verdict": str(f.verdict), "about": f.subject, "finding": f.statement, "source": f.limit.source}
            for f in sorted(record.findings, key=lambda f: order[f.verdict])
        ],
        hide_index=True,
        width="stretch",
    )
    left, right = st.columns(2)
    left.download_button("Report (PDF)", finished.report_pdf, f"{job.job_id}.pdf", "application/pdf")
    right.download_button("Report (HTML)", finished.report_html, f"{job.job_id}.html", "text/html")


def _picture(name: str, data: bytes, caption: str) -> None:
    """A JPEG or a drawing, as wide as the page."""
    st.image(data.decode("utf-8") if name.endswith(".svg") else data, caption=caption, width="stretch")


def _plain(text: str) -> str:
    """Text of the record as it stands, not as markup."""
    return "".join(f"\\{c}" if c in _MARKUP else c for c in text)
