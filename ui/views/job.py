"""Job and first questions: what must be asked before anything else, use, outline, what is known."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st

from analyzer import chain
from analyzer.terms import Abuts, Answer, Support, Use, Wetness
from ui import fields, plan, state
from ui.missing import STOPS
from ui.paths import look, next_corner
from ui.store import Change, Job
from ui.typed import PLAN_UNIT, SMALL_UNIT, complete_length
from ui.views import nameless

_USES = {Use.FOOT: "People on foot", Use.CAR: "Cars", Use.TRUCK: "Trucks"}


def draw(job: Job) -> None:
    """Draw the step."""
    form = _form()
    st.write(
        "No advice is given while one of these is open. “Don’t know” is an honest answer: "
        "the report then says what to find out."
    )
    for name in STOPS:
        fields.answer(job, ("stops", name), _question(form["stops"], name))
    _cleared(job)
    st.header("The job")
    fields.text(job, ("job", "title"), "What is the slab?", "Walk to the mill office")
    fields.text(job, ("job", "by"), "Who took the readings?")
    fields.text(job, ("job", "date"), "Day of the visit", "2026-05-03")
    fields.text(job, ("job", "weather"), "Weather", "Overcast, 54 F")
    fields.choice(job, ("job", "surface"), "Surface at the visit", [w.value for w in Wetness])
    fields.choice(job, ("site", "use"), "What goes over it?", [u.value for u in Use], _USES)
    for name in ("public_route", "freeze_thaw", "deicer"):
        fields.answer(job, ("site", name), _question(form["site"], name))
    st.header("Outline")
    _outline(job)
    st.header("What is known of the slab")
    fields.length(job, ("slab", "thickness"), "Thickness, seen at an edge", hint="4 +- 1/4")
    fields.number(job, ("slab", "age_years"), "Age in years")
    questions = form["slab"]
    for name, rule in questions.items():
        if rule.get("$ref", "").endswith("/answer") and name not in {"heights_listed"}:
            fields.answer(job, ("slab", name), _question(questions, name))
    fields.length(job, ("slab", "ponding_depth"), "Deepest standing water")
    fields.text(job, ("job", "notes"), "Anything else", area=True)


def _cleared(job: Job) -> None:
    """What a licensed person said about a question that would otherwise stop all advice."""
    waiting = [n for n in STOPS if look(job.book, ("stops", n)) == Answer.YES]
    if not waiting and not look(job.book, ("stops", "cleared")):
        return
    st.subheader("An engineer has spoken")
    st.write("A yes above stops all advice until a licensed person has said in writing what may be done.")
    boxes = {
        "who": ("Who, with the licence", "R. Example, engineer"),
        "date": ("When", "2026-04-14"),
        "says": ("What was said", "The post has its own footing."),
    }
    nameless.draw(job, ("stops", "cleared"), {"stop": waiting or list(STOPS)}, boxes, ("who", "date", "says"))


@st.cache_data
def _form() -> dict[str, Any]:
    """Questions as the field book itself asks them, by table."""
    tables = chain.field_book_schema()["properties"]
    return {name: tables[name]["properties"] for name in ("stops", "site", "slab")}


def _question(table: Mapping[str, Any], name: str) -> str:
    text = str(table[name]["description"])
    return f"{text[0].upper()}{text[1:]}?"


def _outline(job: Job) -> None:
    unit = PLAN_UNIT[job.units]
    corners = job.book.get("corner", [])
    if not corners:
        st.write("Seen from above, with the building at the top. A rectangle needs two lengths:")
        across, out = st.columns(2)
        along = across.text_input(f"Left to right ({unit})", key=f"{job.key} along", placeholder="20")
        away = out.text_input(f"Out from the building ({unit})", key=f"{job.key} away", placeholder="12")
        if st.button("Draw the rectangle", key="rectangle", disabled=not (along and away)):
            _rectangle(job, complete_length(along, unit), complete_length(away, unit))
            st.rerun()
    plan.draw(job, f"{job.key} outline plan")
    names = [str(c.get("name")) for c in corners]
    for name in names:
        with st.container(border=True):
            head, button = st.columns([3, 2], vertical_alignment="center")
            head.markdown(f"**Corner {name}**")
            button.button(
                "Take out",
                key=f"{job.key} out {name}",
                on_click=fields.remove,
                args=(job.key, ("corner", name), look(job.book, ("corner", name))),
            )
            fields.point(job, ("corner", name, "at"), ("Right", "Up"), unit)
    st.button("Add a corner", key="add corner", icon=":material/add:", on_click=_add_corner, args=(job,))
    if len(names) >= 3:
        st.subheader("What lies beside each edge")
        for start, end in zip(names, names[1:] + names[:1], strict=True):
            _edge(job, start, end)
    st.caption(f"A length without a unit is in {unit} here, in {SMALL_UNIT[job.units]} everywhere else.")


def _edge(job: Job, start: str, end: str) -> None:
    forward, backward = f"{start}-{end}", f"{end}-{start}"
    name = backward if look(job.book, ("edge", backward)) else forward
    if not look(job.book, ("edge", name)):
        # An edge is entered when something is said of it, so the box writes a whole entry first.
        st.button(
            f"Edge {forward}: say what lies beside it",
            key=f"{job.key} edge {forward}",
            on_click=fields.put,
            args=(job.key, Change(("edge", forward), {"from": start, "to": end})),
        )
        return
    with st.container(border=True):
        st.markdown(f"**Edge {forward}**")
        left, right = st.columns(2)
        with left:
            fields.choice(job, ("edge", name, "abuts"), "Beside it", [a.value for a in Abuts])
        with right:
            fields.choice(job, ("edge", name, "support"), "Ground under it", [s.value for s in Support])


def _rectangle(job: Job, along: str, away: str) -> None:
    zero = f"0 {PLAN_UNIT[job.units]}"
    places = {"A": [zero, zero], "B": [along, zero], "C": [along, away], "D": [zero, away]}
    corners = [Change(("corner", n), {"name": n, "at": at}) for n, at in places.items()]
    house = Change(("edge", "C-D"), {"from": "C", "to": "D", "abuts": "house"})
    fields.change(job.key, [*corners, house])


def _add_corner(job: Job) -> None:
    now = state.workspace().open(job.key)
    name = next_corner(now.book)
    fields.change(job.key, [Change(("corner", name), {"name": name, "at": ["", ""]})])
