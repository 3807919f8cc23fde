"""A finished job on a page: picture, recommendation, reasons, findings, files."""

from __future__ import annotations

import streamlit as st

from analyzer.terms import Firmness, Headline, Verdict
from ui.typed import plain
from ui.work import Finished

HEADLINE = {
    Headline.OVERLAY: "Overlay: pour new concrete over the old slab",
    Headline.PATCH: "Patch: repair the slab and keep it",
    Headline.REMOVAL: "Removal: break the slab out and pour a new one",
    Headline.NONE_YET: "No recommendation yet",
}

_STANDS = {
    Firmness.FIRM: "It stands firm on what was measured.",
    Firmness.LEANING: "It leans this way; what is listed as open below can still turn it.",
    Firmness.OPEN: "It is open; see what to do next.",
}


def show(finished: Finished) -> None:
    """Picture first, then the recommendation, reasons, open points, findings."""
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
        st.subheader(HEADLINE[ranking.headline])
        st.write(ranking.sentence)
        st.write(f"**{_STANDS[ranking.firmness]}**")
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
            st.markdown("\n".join(f"- {plain(item)}" for item in items))
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


def downloads(finished: Finished) -> None:
    """The report as files."""
    name = finished.record.field.job.job_id
    left, right = st.columns(2)
    left.download_button("Report (PDF)", finished.report_pdf, f"{name}.pdf", "application/pdf")
    right.download_button("Report (HTML)", finished.report_html, f"{name}.html", "text/html")


def _picture(name: str, data: bytes, caption: str) -> None:
    """A JPEG or a drawing, as wide as the page."""
    picture = data.decode("utf-8") if name.endswith(".svg") else data
    st.image(picture, caption=caption, alt=caption, width="stretch")
