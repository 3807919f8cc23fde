"""Photos and scale: pictures from the phone, and what tells how large they show things."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from analyzer import chain
from analyzer.errors import SlabError
from ui import fields, marking, state
from ui.paths import look
from ui.store import Change, Job
from ui.typed import PLAN_UNIT, SMALL_UNIT, plain

_PICTURES = ["jpg", "jpeg", "png", "tif", "tiff", "webp", "heic", "heif"]
_SHEETS = 4


def draw(job: Job) -> None:
    """Draw the step."""
    box = f"{job.key} upload {state.counter('upload')}"
    st.file_uploader(
        "Take or choose photos",
        type=_PICTURES,
        accept_multiple_files=True,
        key=box,
        on_change=_take,
        args=(job.key, box),
    )
    for entry in job.book.get("photo", ()):
        _photo(job, str(entry["id"]))
    _points(job)
    st.header("Printed marker sheets")
    st.write(
        "Lay the numbered sheets round the area you photograph and say where the centre cross of each lay. "
        "Then every photo that shows one has its scale."
    )
    numbers = [str(s.get("number")) for s in job.book.get("sheet", ())]
    for number in numbers:
        _sheet(job, number)
    free = next((n for n in range(1, _SHEETS + 1) if str(n) not in numbers), None)
    if free is not None:
        new = {"number": free, "at": ["", ""]}
        st.button(
            f"Sheet {free} lay on the slab",
            key=f"add sheet {free}",
            icon=":material/add:",
            on_click=fields.put,
            args=(job.key, Change(("sheet", str(free)), new)),
        )


@st.cache_data(max_entries=24, show_spinner="Reading the photo …")
def thumbnail(path: Path, changed: int) -> bytes:
    """A small upright picture; ``changed`` makes a new one when the file is another."""
    return chain.upright_picture(path, 900)[0]


def _take(job_key: str, box: str) -> None:
    """Keep what was sent at once, so that a reload finds it; then give an empty box."""
    place = state.workspace()
    told = []
    for sent in state.in_box(box) or ():
        try:
            place.add_photo(job_key, sent.getvalue(), place.settings().get("who", ""))
        except SlabError as error:
            told.append(f"{sent.name}: {error.problem}; {error.remedy}.")
    if told:
        state.note("problem", " ".join(told))
    state.counter("upload", 1)


def _photo(job: Job, name: str) -> None:
    path = state.workspace().photo_file(job, name)
    with st.container(border=True, key=f"photo_{name}"):
        st.markdown(f"**{plain(name)}**")
        if path is None:
            fields.problem(f"{name}: the file is not among the photos of this job; send it again.")
        else:
            try:
                st.image(thumbnail(path, path.stat().st_mtime_ns), alt=f"Photo {name}", width="stretch")
            except SlabError as error:
                fields.problem(f"{name}: {error.problem}; {error.remedy}.")
        fields.yes(job, ("photo", name, "straight_down"), "The camera looked straight down")
        cracks = [str(c["name"]) for c in job.book.get("crack", ()) if c.get("name")]
        if cracks:
            fields.choice(job, ("photo", name, "closeup_of"), "Close-up of crack", cracks)
        st.button(
            "Take out",
            key=f"{job.key} out photo {name}",
            on_click=fields.remove,
            args=(job.key, ("photo", name), look(job.book, ("photo", name))),
        )


def chosen_photo(job: Job, label: str) -> str | None:
    """The photo that is marked on, as the visitor chooses."""
    names = [str(e["id"]) for e in job.book.get("photo", ())]
    return st.selectbox(label, names, key=f"{job.key} {label}") if names else None


def _points(job: Job) -> None:
    """Scale points on a photo, for those without printed sheets."""
    st.header("Scale points on a photo")
    st.write(
        "Without printed sheets: mark four points or more whose places on the slab you know, "
        "such as its corners."
    )
    name = chosen_photo(job, "Photo to scale")
    if name is None:
        return
    marking.draw(job, name)
    unit = PLAN_UNIT[job.units]
    for mark in (look(job.book, ("photo", name)) or {}).get("marks", ()):
        path = ("photo", name, "marks", str(mark["name"]))
        with st.container(border=True, key=f"mark_{mark['name']}"):
            st.markdown(f"**Point {plain(str(mark['name']))}**")
            corners = [str(c.get("name")) for c in job.book.get("corner", ())]
            if not isinstance(mark.get("at"), list):
                fields.choice(job, (*path, "at"), "It is corner", corners, {c: c for c in corners})
            if not isinstance(mark.get("at"), str):
                fields.point(job, (*path, "at"), ("or right", "Up"), unit)


def _sheet(job: Job, number: str) -> None:
    path = ("sheet", number)
    with st.container(border=True, key=f"sheet_{number}"):
        st.markdown(f"**Sheet {number}**")
        fields.point(job, (*path, "at"), ("Right", "Up"), PLAN_UNIT[job.units])
        left, right = st.columns(2)
        with left:
            fields.length(job, (*path, "at_within"), "Within", SMALL_UNIT[job.units], hint="1/4")
        with right:
            fields.number(job, (*path, "turned_deg"), "Turned, degrees")
        fields.length(job, (*path, "ruler"), "Its 100 mm ruler by tape", "mm", hint="100 +- 0.5")
        st.button(
            "Take out",
            key=f"{job.key} out sheet {number}",
            on_click=fields.remove,
            args=(job.key, path, look(job.book, path)),
        )
