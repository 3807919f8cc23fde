"""Cracks and joints as written down: gauge width, course, and what was asked of each."""

from __future__ import annotations

import streamlit as st

from analyzer.terms import Distress, JointKind
from ui import fields, marking
from ui.paths import look, next_name
from ui.store import Change, Job
from ui.typed import PLAN_UNIT, plain
from ui.views import nameless
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

_AT = ("Where: right, up; or a corner", "3, 4 1/2")


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
    _steps(job)
    _gaps(job)


def _areas(job: Job) -> None:
    st.header("Spalls, scaling, hollow areas")
    kind = {"kind": [d.value for d in _AREAS]}
    nameless.draw(job, ("area",), kind, {"area": ("Area", "6 ft2"), "depth": ("Depth", "1/4 in")}, ("area",))


def _steps(job: Job) -> None:
    st.header("Steps across joints and cracks")
    boxes = {"at": _AT, "step": ("Height of the step", "3/16 in"), "along": ("Along joint or crack", "J2")}
    nameless.draw(job, ("fault",), {}, boxes, ("at", "step"))


def _gaps(job: Job) -> None:
    st.header("Gaps under a straightedge")
    boxes = {
        "at": _AT,
        "gap": ("Largest gap", "1/4 in"),
        "straightedge": ("Length of the straightedge", "10 ft"),
    }
    nameless.draw(job, ("gap",), {}, boxes, ("at", "gap", "straightedge"))


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
