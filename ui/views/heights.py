"""Heights at doors, steps and siding: what limits the new surface, with a small section of each."""

from __future__ import annotations

from typing import Any

import streamlit as st

from analyzer.terms import HeightKind
from ui import fields, state
from ui.section import section_svg
from ui.store import Change, Job
from ui.typed import PLAN_UNIT, length_mm


def draw(job: Job) -> None:
    """Draw the part of the step."""
    st.header("Heights at doors, steps and siding")
    fields.answer(
        job, ("slab", "heights_listed"), "Are all doors, steps, siding, drains, gates and walks listed?"
    )
    unit = PLAN_UNIT[job.units]
    for entry in job.book.get("height", ()):
        name = str(entry.get("name"))
        path = ("height", name)
        with st.container(border=True):
            st.markdown(f"**{name}**")
            fields.choice(job, (*path, "kind"), "What is it?", [k.value for k in HeightKind])
            fields.length(job, (*path, "above_slab"), "Above the slab, below it with a minus", signed=True)
            _section(job, entry)
            fields.point(job, (*path, "at"), ("Right", "Up"), unit)
            fields.answer(job, (*path, "egress_door"), "Is it a required way out?")
            fields.answer(job, (*path, "swings_over"), "Does a door or gate swing over the slab?")
            st.button(
                "Take out", key=f"{job.key} out {name}", on_click=fields.remove, args=(job.key, path, entry)
            )
    with st.container(border=True):
        name = st.text_input(
            "Another one, by name",
            key=f"{job.key} height {state.counter('height')}",
            placeholder="Office door",
        ).strip()
        kind = st.selectbox("What is it?", [k.value for k in HeightKind], key=f"{job.key} new kind")
        st.button(
            "Add it",
            key="add_height",
            icon=":material/add:",
            disabled=not name,
            on_click=_add_height,
            args=(job.key, name, kind),
        )


def _section(job: Job, entry: dict[str, Any]) -> None:
    above = length_mm(entry.get("above_slab"))
    if above is not None:
        text = str(entry["above_slab"]).split("+-")[0].strip()
        st.image(
            section_svg(str(entry.get("name")), above, text), alt=f"Section: {entry.get('name')}: {text}"
        )


def _add_height(job_key: str, name: str, kind: str) -> None:
    if fields.change(job_key, [Change(("height", name), {"kind": kind, "name": name, "at": ["", ""]})]):
        state.counter("height", 1)
