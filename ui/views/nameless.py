"""Entries of the field book that have no name of their own: a list with a form to add one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from ui import fields, state
from ui.paths import Path, look
from ui.store import Change, Job
from ui.typed import PLAN_UNIT, SMALL_UNIT, complete_length, plain

Boxes = Mapping[str, tuple[str, str]]
_WORDS = frozenset({"along", "who", "date", "says", "area"})
"""Keys that hold words or have units of their own; every other one is a length."""


def draw(
    job: Job, path: Path, choices: Mapping[str, Sequence[str]], boxes: Boxes, needed: Sequence[str]
) -> None:
    """List the entries at ``path`` and offer boxes for one more.

    ``choices`` are keys with a list of words, ``boxes`` keys with label and example; a key ``at``
    is a place typed as two lengths or the name of a corner. ``needed`` keys must be filled in.
    """
    entries: list[dict[str, Any]] = look(job.book, path) or []
    base = f"{job.key} {' '.join(path)}"
    for number, entry in enumerate(entries):
        said = ", ".join(_said(v) for v in entry.values())
        left, right = st.columns([3, 2], vertical_alignment="center")
        left.markdown(plain(said[:1].upper() + said[1:]))
        rest = [e for i, e in enumerate(entries) if i != number]
        right.button(
            "Take out",
            key=f"{base} out {number}",
            on_click=fields.put,
            args=(job.key, Change(path, rest or None, entries)),
        )
    turn = state.counter(base)
    with st.container(border=True):
        new: dict[str, Any] = {}
        for key, words in choices.items():
            said = st.selectbox("What is it?", list(words), format_func=_title, key=f"{base} {key}")
            new[key] = said
        for key, (label, example) in boxes.items():
            typed = st.text_input(label, key=f"{base} {key} {turn}", placeholder=example).strip()
            if typed:
                new[key] = typed if key in _WORDS else _value(key, typed, job)
        st.button(
            "Add it",
            key=f"{base} add",
            icon=":material/add:",
            disabled=not all(new.get(key) for key in needed),
            on_click=_add,
            args=(job.key, path, [*entries, new], look(job.book, path), base),
        )


def place(typed: str, unit: str) -> str | list[str]:
    """A place typed as ``3, 4 1/2`` in plan, or the name of a corner as it stands."""
    parts = [part.strip() for part in typed.split(",")]
    return [complete_length(part, unit) for part in parts] if len(parts) > 1 else typed


def _value(key: str, typed: str, job: Job) -> str | list[str]:
    if key == "at":
        return place(typed, PLAN_UNIT[job.units])
    return complete_length(typed, SMALL_UNIT[job.units])


def _add(job_key: str, path: Path, entries: list[dict[str, Any]], seen: Any, base: str) -> None:
    if fields.change(job_key, [Change(path, entries, seen)]):
        state.counter(base, 1)


def _said(value: Any) -> str:
    return " / ".join(str(v) for v in value) if isinstance(value, list) else str(value)


def _title(word: str) -> str:
    return word[:1].upper() + word[1:].replace("_", " ")
