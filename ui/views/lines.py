"""Cracks and joints as written down: gauge width, course, and what was asked of each."""

from __future__ import annotations

import streamlit as st

from analyzer.terms import Distress, JointKind
from ui import fields, marking, state
from ui.paths import look, next_name
from ui.store import Change, Job
from ui.typed import PLAN_UNIT, plain
from ui.views.photos import chosen_photo

_AREAS = (
    Distress.SPALLING,
    Distress.SCALING,
    Distress.HOLLOW_SOUNDING,
    Distress.MAP_CRACKING,
    Distress.POPOUTS,
    Distress.DURABILITY_CRACKING,
    Distress.PATCH_DETERIORATION,
)


def draw(job: Job) -> None:
    """Draw the step."""
    st.write(
        "A gauge reading outranks the photo. A crack on the photos needs no entry here unless you know more."
    )
    unit = PLAN_UNIT[job.units]
    name = chosen_photo(job, "Photo to mark on")
    if name is not None:
        marking.draw(job, name)
    st.header("Cracks")
    for entry in job.book.get("crack", ()):
        name = str(entry.get("name"))
        path = ("crack", name)
        with st.container(border=True, key=f"crack_{name}"):
            st.markdown(f"**Crack {plain(name)}**")
            if entry.get("line"):
                st.caption(f"Drawn with {len(entry['line'])} points.")
            else:
                fields.point(job, (*path, "at"), ("A point on it, right", "Up"), unit)
            fields.length(job, (*path, "width"), "Width by gauge", hint="0.03 or 0.8 mm")
            fields.length(job, (*path, "length"), "Length", unit, hint="5")
            fields.answer(job, (*path, "through"), "Does it go through the slab?")
            fields.answer(job, (*path, "moving"), "Does it open and close?")
            _out(job, path)
    _add(job, "crack", "C", {}, "Add a crack")
    st.header("Joints")
    st.write("Joints entered here replace those found on photos: enter all of them or none.")
    for entry in job.book.get("joint", ()):
        name = str(entry.get("name"))
        path = ("joint", name)
        with st.container(border=True, key=f"joint_{name}"):
            st.markdown(f"**Joint {plain(name)}**")
            fields.point(job, (*path, "from"), ("One end, right", "Up"), unit)
            fields.point(job, (*path, "to"), ("Other end, right", "Up"), unit)
            fields.choice(job, (*path, "kind"), "Kind of joint", [k.value for k in JointKind])
            _out(job, path)
    _add(job, "joint", "J", {"from": ["", ""], "to": ["", ""]}, "Add a joint")
    _areas(job)


def _areas(job: Job) -> None:
    """Spalls, hollow areas and the like, as a table of entries without names of their own."""
    st.header("Spalls, scaling, hollow areas")
    areas = job.book.get("area", [])
    for number, entry in enumerate(areas):
        left, right = st.columns([3, 2], vertical_alignment="center")
        said = ", ".join(str(entry[k]) for k in ("area", "depth", "panel") if k in entry)
        left.markdown(f"**{plain(str(entry.get('kind', '')).capitalize())}** {plain(said)}")
        rest = [a for i, a in enumerate(areas) if i != number]
        right.button(
            "Take out",
            key=f"{job.key} out area {number}",
            on_click=fields.put,
            args=(job.key, Change(("area",), rest or None, areas)),
        )
    with st.container(border=True):
        kind = st.selectbox(
            "Kind", [d.value for d in _AREAS], format_func=str.capitalize, key=f"{job.key} area kind"
        )
        number = state.counter("area")
        size = st.text_input("Area", key=f"{job.key} area size {number}", placeholder="6 ft2").strip()
        depth = st.text_input("Depth", key=f"{job.key} area depth {number}", placeholder="1/4 in").strip()
        new = {k: v for k, v in {"kind": kind, "area": size, "depth": depth}.items() if v}
        st.button(
            "Add it",
            key="add_area",
            icon=":material/add:",
            disabled=not size,
            on_click=_add_area,
            args=(job.key, [*areas, new], areas),
        )


def _add_area(job_key: str, new: list[dict[str, str]], seen: list[dict[str, str]]) -> None:
    if fields.change(job_key, [Change(("area",), new, seen or None)]):
        state.counter("area", 1)


def _add(job: Job, table: str, letter: str, more: dict[str, list[str]], label: str) -> None:
    name = next_name(job.book, table, letter)
    st.button(
        label,
        key=f"add_{table}",
        icon=":material/add:",
        on_click=fields.put,
        args=(job.key, Change((table, name), {"name": name, **more})),
    )


def _out(job: Job, path: tuple[str, str]) -> None:
    st.button(
        "Take out",
        key=f"{job.key} out {' '.join(path)}",
        on_click=fields.remove,
        args=(job.key, path, look(job.book, path)),
    )
