"""Marking on a photo: the component of our own, the scale of the photo, and where its edits go."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import streamlit as st
from streamlit import runtime

from analyzer import chain
from analyzer.errors import SlabError
from analyzer.records import Calibration
from ui import fields, state
from ui.edits import change_of, lines_on
from ui.paths import look
from ui.store import Job
from ui.typed import plain
from ui.work import last_result, one_photo

_STATIC = Path(__file__).parent / "static"
_WORDS = {
    "move": "Look, choose",
    "mark": "Scale point",
    "crack": "Crack",
    "joint": "Joint",
    "undo": "Undo",
    "redo": "Redo",
    "finish": "End the line",
    "accept": "Keep as it is",
    "out": "Take out",
    "larger": "Larger",
    "smaller": "Smaller",
    "say_move": "Drag to look around, two fingers or the wheel for larger; tap a line or point to choose it.",
    "say_mark": "Press, look through the magnifier, let go on the point.",
    "say_crack": "Tap along the crack, then End the line.",
    "say_joint": "Tap both ends of the joint, then End the line.",
}
_HTML = (
    '<div class="marking"><div class="tools" role="toolbar" aria-label="Tools"></div>'
    '<canvas tabindex="0" role="img"></canvas><p class="say" aria-live="polite"></p></div>'
)
_mount = st.components.v2.component(
    "slab_marking",
    html=_HTML,
    css=(_STATIC / "mark.css").read_text("utf-8"),
    js=(_STATIC / "mark.js").read_text("utf-8"),
    isolate_styles=False,
)


def draw(job: Job, photo_id: str) -> None:
    """The photo with its marks and lines; every edit is saved at once under the visitor's name."""
    path = state.workspace().photo_file(job, photo_id)
    if path is None:
        fields.problem(f"{photo_id}: the file is not among the photos of this job; send it again.")
        return
    try:
        data, rows, cols = _picture(path, path.stat().st_mtime_ns)
    except SlabError as error:
        fields.problem(f"{photo_id}: {error.problem}; {error.remedy}.")
        return
    scale = scale_of(job, photo_id)
    box = f"{job.key} marking {photo_id}"
    entry = look(job.book, ("photo", photo_id)) or {}
    taken = [str(e.get("name")) for t in ("crack", "joint") for e in job.book.get(t, ())]
    found = lines_on(job.book, _record(job), scale) if scale is not None else []
    _mount(
        key=box,
        data={
            "url": _address(data, box),
            "rows": rows,
            "cols": cols,
            "marks": [{"name": m["name"], "x": m["px"][0], "y": m["px"][1]} for m in entry.get("marks", ())],
            "lines": found,
            "taken": taken,
            "scaled": scale is not None,
            "done": state.note(f"{box} done") or [],
            "words": _WORDS,
            "label": f"Photo {photo_id} with marks and lines",
        },
        on_edits_change=lambda: _take(job.key, photo_id, box, (rows, cols)),
    )
    _scale_line(job, photo_id, scale)


def scale_of(job: Job, photo_id: str) -> Calibration | None:
    """The scale of a photo, if somebody asked for it since its marks last changed."""
    if state.note(f"{job.key} scaled {photo_id}") != _basis(job, photo_id):
        return None
    found = _scale(job, photo_id, _basis(job, photo_id))
    return found if isinstance(found, Calibration) else None


def _scale_line(job: Job, photo_id: str, scale: Calibration | None) -> None:
    """What the scale rests on, or the button that works it out."""
    basis = _basis(job, photo_id)
    if scale is not None:
        st.markdown(
            f":material/check: **Scaled** by {plain(str(scale.method))}; points fit within "
            f"{scale.residual_rms_mm:.1f} mm. Cracks and joints can be drawn."
        )
        return
    if state.note(f"{job.key} scaled {photo_id}") == basis:
        found = _scale(job, photo_id, basis)
        if isinstance(found, str):
            fields.problem(found)
    st.button(
        "Scale this photo",
        key=f"{job.key} scale {photo_id}",
        type="primary",
        on_click=state.note,
        args=(f"{job.key} scaled {photo_id}", basis),
    )


@st.cache_data(max_entries=6, show_spinner="Reading the photo …")
def _picture(path: Path, changed: int) -> tuple[bytes, int, int]:
    return chain.upright_picture(path)


@st.cache_resource(max_entries=32, show_spinner="Scaling the photo …", hash_funcs={Job: lambda job: job.key})
def _scale(job: Job, photo_id: str, basis: str) -> Calibration | str:
    """The chain's scale of one photo, or its sentence why there is none."""
    try:
        with one_photo(state.workspace(), job, photo_id) as book:
            found = chain.scale_photos(book)[0]
    except SlabError as error:
        return str(error)
    return (
        found if found.has_plan_position else f"{photo_id}: the photo has no place in plan; mark four points."
    )


def _basis(job: Job, photo_id: str) -> str:
    """All that a scale rests on, as text: another text needs another scale."""
    parts = [job.book.get("corner"), job.book.get("sheet"), look(job.book, ("photo", photo_id))]
    return json.dumps(parts, sort_keys=True, default=str)


def _record(job: Job) -> Any:
    """The record of the last result for lines found on photos; None where there is none."""
    note = state.workspace().result_note(job.key)
    return _last(job, note.get("revision")) if note else None


@st.cache_resource(max_entries=8, show_spinner=False, hash_funcs={Job: lambda job: job.key})
def _last(job: Job, revision: object) -> Any:
    try:
        return last_result(job).record
    except (SlabError, OSError):
        return None


def _address(data: bytes, box: str) -> str:
    """Address of the picture on this server; without a server there is none."""
    if not runtime.exists():
        return ""
    try:
        return runtime.get_instance().media_file_mgr.add(data, "image/jpeg", box)
    except (AttributeError, RuntimeError):  # pragma: no cover (a runtime without media)
        return ""


def _take(job_key: str, photo_id: str, box: str, size: tuple[int, int]) -> None:
    """Save what the component sent and has not been saved yet, each edit by itself."""
    sent = getattr(state.in_box(box), "edits", None)
    done = list(state.note(f"{box} done") or [])
    for edit in sent if isinstance(sent, list) else []:
        name = edit.get("id") if isinstance(edit, dict) else None
        if not isinstance(name, str) or name in done:
            continue
        job = state.workspace().open(job_key)
        try:
            fields.put(job_key, *change_of(edit, job, photo_id, size, scale_of(job, photo_id)))
        except SlabError as error:
            state.note("problem", str(error))
        done.append(name)
    state.note(f"{box} done", done[-200:])
