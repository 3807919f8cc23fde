"""Levels and heights: tap a station, type, next; heights at doors and steps."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st

from analyzer import chain
from analyzer.errors import SlabError
from analyzer.records import LevelMap
from analyzer.units import format_length, format_slope, from_mm
from ui import disk, fields, plan, state
from ui.paths import look, next_name
from ui.store import Change, Job
from ui.typed import PLAN_UNIT, SMALL_UNIT
from ui.views import heights
from ui.work import ready

_WAYS = {"rod": "Rod readings (grow downwards)", "height": "Heights (grow upwards)"}


def draw(job: Job) -> None:
    """Draw the step."""
    way = _way(job)
    stations = [str(s.get("name")) for s in job.book.get("station", ())]
    chosen = state.note(f"{job.key} station")
    if chosen not in stations:
        chosen = next(iter(_unread(job)), stations[0] if stations else None)
    st.write("Tap the slab to set a station, tap a station to choose it, type its reading, then Next.")
    box = f"{job.key} level plan"
    found = _levels(job.key, job.revision, job.book) if len(stations) > len(_unread(job)) else None
    plan.draw(
        job,
        box,
        chosen,
        tap=True,
        levels=found if isinstance(found, LevelMap) else None,
        picked=lambda: _picked(job.key, box),
        placed=lambda: _placed(job.key, box),
    )
    if chosen:
        _reading(job, str(chosen), way)
    with st.container(horizontal=True):
        st.button(
            "A station at every corner",
            key="corners",
            on_click=_at_corners,
            args=(job.key,),
            disabled=len(plan.corner_places(job.book)) < 3,
        )
        st.button("A station by its place", key="by_place", on_click=_add, args=(job.key, ["", ""]))
        first = next((s for s in job.book.get("station", ()) if s.get("rod") or s.get("height")), None)
        if first and not any("check_of" in s for s in job.book["station"]):
            name = str(first["name"])
            st.button(f"Read {name} again at the end", key="close_run", on_click=_close, args=(job.key, name))
    _surface(job, found)
    heights.draw(job)


def _way(job: Job) -> str:
    """Rod or height: what the book has already, or what this visitor says."""
    used = next((k for s in job.book.get("station", ()) for k in _WAYS if k in s), None)
    if used:
        return used
    said = st.segmented_control(
        "How do you read levels?",
        list(_WAYS),
        format_func=_WAYS.__getitem__,
        default="rod",
        required=True,
        key=f"{job.key} way",
    )
    return str(said)


def _reading(job: Job, name: str, way: str) -> None:
    with st.container(border=True, key="station"):
        st.markdown(f"**Station {name}**")
        label = "Rod reading" if way == "rod" else "Height"
        fields.length(
            job, ("station", name, way), label, SMALL_UNIT[job.units], signed=way == "height", hint="4 3/8"
        )
        if isinstance(look(job.book, ("station", name, "at")), list):
            fields.point(job, ("station", name, "at"), ("Right", "Up"), PLAN_UNIT[job.units])
        with st.container(horizontal=True):
            st.button(
                "Next station", type="primary", key="next_station", on_click=_next, args=(job.key, name)
            )
            st.button(
                "Take out",
                key="out_station",
                on_click=fields.remove,
                args=(job.key, ("station", name), look(job.book, ("station", name))),
            )


def _unread(job: Job) -> list[str]:
    return [str(s["name"]) for s in job.book.get("station", ()) if "rod" not in s and "height" not in s]


def _next(job_key: str, name: str) -> None:
    """The next station without a reading after this one, or else the one after it."""
    job = state.workspace().open(job_key)
    names = [str(s["name"]) for s in job.book.get("station", ())]
    after = names[names.index(name) + 1 :] + names[: names.index(name)] if name in names else names
    unread = set(_unread(job))
    following = next((n for n in after if n in unread), after[0] if after else None)
    state.note(f"{job_key} station", following)


def _picked(job_key: str, box: str) -> None:
    event = _event(box, "picked")
    if isinstance(event.get("name"), str):
        state.note(f"{job_key} station", event["name"])


def _placed(job_key: str, box: str) -> None:
    event = _event(box, "placed")
    if not all(isinstance(event.get(k), int | float) for k in ("x", "y")):
        return
    job = state.workspace().open(job_key)
    _add(job_key, [typed_place(float(event[k]), job.units) for k in ("x", "y")])


def _event(box: str, name: str) -> Mapping[str, Any]:
    """What the plan sent; a browser may send anything, so only a mapping counts."""
    value = getattr(state.in_box(box), name, None)
    return value if isinstance(value, Mapping) else {}


def typed_place(mm: float, units: str) -> str:
    """A tapped place as a person would write it: to the inch, or to the centimetre."""
    if units == "metric":
        return f"{round(from_mm(mm, 'm'), 2)} m"
    return f"{round(from_mm(mm, 'in'))} in"


def _add(job_key: str, at: list[str] | str) -> None:
    name = next_name(state.workspace().open(job_key).book, "station", "S")
    if fields.change(job_key, [Change(("station", name), {"name": name, "at": at})]):
        state.note(f"{job_key} station", name)


def _close(job_key: str, first: str) -> None:
    """The first station once more, to see whether the instrument moved."""
    name = f"{first}-again"
    if fields.change(job_key, [Change(("station", name), {"name": name, "check_of": first})]):
        state.note(f"{job_key} station", name)


def _at_corners(job_key: str) -> None:
    for corner in plan.corner_places(state.workspace().open(job_key).book):
        book = state.workspace().open(job_key).book
        if not any(s.get("at") == corner for s in book.get("station", ())):
            _add(job_key, corner)
    unread = _unread(state.workspace().open(job_key))
    state.note(f"{job_key} station", unread[0] if unread else None)


@st.cache_data(max_entries=16, show_spinner=False)
def _levels(key: str, revision: int, book: dict[str, Any]) -> LevelMap | str | None:
    """The chain's own reading of the levels; a sentence where the field book does not read yet."""
    with disk.book_in_passing(ready(book, with_photos=False)) as path:
        try:
            return chain.read_levels(path)[0]
        except SlabError as error:
            return str(error)


def _surface(job: Job, found: LevelMap | str | None) -> None:
    """Table of the surface as it lies, from the chain."""
    if len(job.book.get("station", ())) - len(_unread(job)) < 1:
        return
    st.subheader("The surface so far")
    if isinstance(found, str):
        fields.problem(found)
        return
    if found is None:
        st.write("Read more stations: the surface appears as soon as there are enough.")
        return
    low = min(s.z_mm for s in found.stations)
    st.table(
        [
            {
                "Station": s.station_id,
                "Above the lowest": format_length(s.z_mm - low, job.units),
                "Off the best plane": format_length(s.residual_mm, job.units),
            }
            for s in found.stations
        ]
    )
    if found.misclosure_mm is not None:
        st.write(f"Repeated readings differ by {format_length(found.misclosure_mm, job.units)}.")
    for edge in found.edges:
        if str(edge.abuts) == "house":
            way = "towards" if edge.slope < 0 else "away from"
            slope = format_slope(abs(edge.slope), job.units)
            st.write(f"At edge {edge.edge} the surface falls {way} the building: {slope}.")
