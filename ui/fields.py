"""Boxes that save themselves: each shows a place of the field book and writes it while it is typed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import streamlit as st

from analyzer.errors import SlabError
from analyzer.terms import Answer
from ui import state
from ui.paths import Path, look
from ui.store import Change, Conflict, Job
from ui.typed import SMALL_UNIT, complete_length, length_problem, number_or_text, plain

PAUSE = "400ms"
"""How long a box waits after the last key before it saves."""
_ANSWERS: Mapping[str, str] = {Answer.YES: "Yes", Answer.NO: "No", Answer.UNKNOWN: "Don’t know"}
Read = Callable[[Any], Any]


def text(job: Job, path: Path, label: str, hint: str = "", area: bool = False) -> None:
    """A box for words."""
    widget, value = _now(job, path, _words)
    state.show_in_box(widget, value or "", value)
    arguments = (job.key, path, widget, _words)
    if area:
        st.text_area(label, key=widget, on_change=_save, args=arguments, placeholder=hint)
    else:
        st.text_input(label, key=widget, on_change=_save, args=arguments, placeholder=hint, live=PAUSE)
    _clash(job, path, label)


def number(job: Job, path: Path, label: str, hint: str = "") -> None:
    """A box for a plain number, such as an age in years."""
    widget, value = _now(job, path, _number)
    state.show_in_box(widget, "" if value is None else str(value), value)
    st.text_input(
        label,
        key=widget,
        on_change=_save,
        args=(job.key, path, widget, _number),
        placeholder=hint,
        live=PAUSE,
    )
    if isinstance(value, str):
        problem(f"{label}: “{value}” is not a number; write a plain number, or leave it empty if not known.")
    _clash(job, path, label)


def length(
    job: Job, path: Path, label: str, unit: str | None = None, signed: bool = False, hint: str = ""
) -> None:
    """A box for a length as people write it; without a unit it is in the job's own."""
    unit = unit or SMALL_UNIT[job.units]
    widget, value = _now(job, path, _length(unit))
    state.show_in_box(widget, value or "", value)
    st.text_input(
        f"{label} ({unit})",
        key=widget,
        on_change=_save,
        args=(job.key, path, widget, _length(unit)),
        placeholder=hint,
        live=PAUSE,
    )
    _length_problem(value, label, signed)
    _clash(job, path, label)


def point(job: Job, path: Path, labels: tuple[str, str], unit: str) -> None:
    """Two boxes side by side for a place in plan, ``[x, y]``."""
    base = _name(job, path)
    boxes = [f"{base}.x", f"{base}.y"]
    value = look(job.book, path)
    if any(state.unhandled(box) for box in boxes):
        _save_point(job.key, path, base, boxes, unit)
        value = state.stands_for(base)
    parts = [str(v) for v in value] if isinstance(value, list) else ["", ""]
    state.saved(base, value)
    for column, box, label, part in zip(st.columns(2), boxes, labels, parts, strict=True):
        state.show_in_box(box, part, part)
        column.text_input(
            f"{label} ({unit})",
            key=box,
            on_change=_save_point,
            args=(job.key, path, base, boxes, unit),
            live=PAUSE,
        )
        if part:
            with column:
                _length_problem(part, label, True)
    _clash(job, path, labels[0])


def answer(job: Job, path: Path, question: str) -> None:
    """A question with yes, no and don't know; nothing chosen means that nobody asked yet."""
    widget, value = _now(job, path, _words)
    state.show_in_box(widget, value if value in _ANSWERS else None, value)
    st.segmented_control(
        question,
        list(_ANSWERS),
        format_func=_ANSWERS.__getitem__,
        key=widget,
        on_change=_save,
        args=(job.key, path, widget, _words),
        required=True,
    )
    _clash(job, path, question)


def choice(
    job: Job, path: Path, label: str, words: Sequence[str], names: Mapping[Any, str] | None = None
) -> None:
    """One word of a list, or none."""
    widget, value = _now(job, path, _words)
    state.show_in_box(widget, value if value in words else None, value)
    st.selectbox(
        label,
        list(words),
        format_func=lambda word: (names or {}).get(word, str(word).capitalize()),
        key=widget,
        index=None,
        placeholder="Not noted",
        on_change=_save,
        args=(job.key, path, widget, _words),
    )
    _clash(job, path, label)


def yes(job: Job, path: Path, label: str, hint: str = "") -> None:
    """A switch that is on or off."""
    widget, value = _now(job, path, _flag)
    state.show_in_box(widget, value is True, value)
    st.toggle(label, key=widget, on_change=_save, args=(job.key, path, widget, _flag), help=hint or None)


def change(job_key: str, changes: Sequence[Change], force: bool = False) -> Job | None:
    """Save changes of this visitor; a clash is kept for the page to show, and None comes back."""
    place = state.workspace()
    try:
        return place.save(job_key, place.settings().get("who", ""), changes, force)
    except Conflict as clash:
        mine = clash.change
        other = [c for c in state.clashes() if (c.job_key, c.path) != (job_key, mine.path)]
        state.set_clashes([*other, state.Clash(job_key, mine.path, mine.value, clash.theirs, str(clash))])
    except SlabError as error:
        state.note("problem", str(error))
    return None


def put(job_key: str, *changes: Change) -> None:
    """Save changes (for buttons)."""
    change(job_key, changes)


def remove(job_key: str, path: Path, seen: Any) -> None:
    """Take an entry out of the field book (for buttons)."""
    change(job_key, [Change(path, None, seen)])


def problem(sentence: str) -> None:
    """The one sentence under a box that says what is wrong."""
    st.markdown(f":material/error: **{plain(sentence)}**")


def other_clashes(job: Job) -> None:
    """Clashes at places that have no box on any page, such as entries and lines."""
    for clash in state.clashes():
        if clash.job_key == job.key and len(clash.path) < 2:
            _offer(clash, " ".join(clash.path))


def _name(job: Job, path: Path) -> str:
    return f"{job.key} {'.'.join(path)}"


def _now(job: Job, path: Path, read: Read) -> tuple[str, Any]:
    """The box's name and its value on disk, after saving what its callback was not told of."""
    widget = _name(job, path)
    if state.unhandled(widget):
        _save(job.key, path, widget, read)
        return widget, state.stands_for(widget)
    return widget, look(job.book, path)


def _save(job_key: str, path: Path, widget: str, read: Read) -> None:
    state.handled(widget)
    value = read(state.in_box(widget))
    if change(job_key, [Change(path, value, state.stands_for(widget))]) is not None:
        state.saved(widget, value)


def _save_point(job_key: str, path: Path, base: str, boxes: Sequence[str], unit: str) -> None:
    for box in boxes:
        state.handled(box)
    parts = [complete_length(str(state.in_box(box) or ""), unit) for box in boxes]
    value = parts if any(parts) else None
    if change(job_key, [Change(path, value, state.stands_for(base))]) is not None:
        state.saved(base, value)
        for box, part in zip(boxes, parts, strict=True):
            state.saved(box, part)


def _words(raw: Any) -> Any:
    return (str(raw).strip() or None) if raw is not None else None


def _number(raw: Any) -> Any:
    return number_or_text(str(raw).strip()) if str(raw or "").strip() else None


def _flag(raw: Any) -> Any:
    return True if raw else None


def _length(unit: str) -> Read:
    def read(raw: Any) -> Any:
        return complete_length(str(raw or ""), unit) or None

    return read


def _length_problem(value: Any, label: str, signed: bool) -> None:
    if value in (None, "", "unknown"):
        return
    sentence = length_problem(str(value), label, signed=signed)
    if sentence:
        problem(sentence)


def _clash(job: Job, path: Path, label: str) -> None:
    for clash in state.clashes():
        if (clash.job_key, clash.path) == (job.key, path):
            _offer(clash, label)


def _offer(clash: state.Clash, label: str) -> None:
    """Both values with a button each; both stay in the record of changes whatever is chosen."""
    with st.container(border=True):
        st.warning(plain(f"{label}: {clash.sentence.split(': ', 1)[-1]}"))
        for mine, value in ((True, clash.mine), (False, clash.theirs)):
            said = "nothing" if value is None else str(value)
            st.button(
                plain(f"{'Keep mine' if mine else 'Keep theirs'}: {said}"),
                key=f"{clash.job_key} {clash.path} {mine}",
                on_click=_settle,
                args=(clash, mine),
            )


def _settle(clash: state.Clash, mine: bool) -> None:
    if mine:
        change(clash.job_key, [Change(clash.path, clash.mine)], force=True)
    state.set_clashes([c for c in state.clashes() if c != clash])
