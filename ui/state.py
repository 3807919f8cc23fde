"""The only user of Streamlit's session state: what one visitor has open, drawn and typed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import streamlit as st

from ui.store import Workspace, default_root
from ui.work import Finished

Work = Callable[[Callable[[str], None]], Finished]

_KEY = "finished"


@dataclass(frozen=True, slots=True)
class Clash:
    """Two people wrote at one place: what each said, until this visitor chooses."""

    job_key: str
    path: tuple[str, ...]
    mine: Any
    theirs: Any
    sentence: str


def keep(finished: Finished | None) -> None:
    """Remember the finished job of this visitor, or forget it."""
    st.session_state[_KEY] = finished


def kept() -> Finished | None:
    """The finished job of this visitor, if there is one."""
    found: Finished | None = st.session_state.get(_KEY)
    return found


def workspace() -> Workspace:
    """The jobs of this machine."""
    return Workspace(default_root())


def job_key() -> str:
    """Key of the open job: from the address, so that a reload comes back to it."""
    return str(st.query_params.get("job", ""))


def set_pages(pages: dict[str, Any]) -> None:
    """Remember the pages of this run by name."""
    st.session_state["pages"] = pages


def page(name: str) -> Any:
    """A page by its name."""
    return st.session_state["pages"][name]


def show_in_box(widget: str, shown: Any, on_disk: Any) -> Any:
    """Make a box show what is on disk, unless what stands in it led to just that.

    Returns what the box stands for: the value a change replaces.
    """
    drawn = st.session_state.setdefault("drawn", {})
    if widget not in st.session_state or widget not in drawn or drawn[widget] != on_disk:
        st.session_state[widget] = shown
        drawn[widget] = on_disk
        handled(widget)
    return on_disk


def handled(widget: str) -> None:
    """What stands in the box now has been shown or saved."""
    st.session_state.setdefault("handled", {})[widget] = st.session_state.get(widget)


def unhandled(widget: str) -> bool:
    """Whether the box holds something that no callback was told of.

    Inputs that follow each other quickly can reach the script without their callback.
    """
    known = st.session_state.setdefault("handled", {})
    return widget in st.session_state and widget in known and st.session_state[widget] != known[widget]


def in_box(widget: str) -> Any:
    """What stands in a box now."""
    return st.session_state.get(widget)


def stands_for(widget: str) -> Any:
    """The value on disk when the box was last drawn or saved."""
    return st.session_state.setdefault("drawn", {}).get(widget)


def saved(widget: str, value: Any) -> None:
    """What stands in the box is now on disk as ``value``."""
    st.session_state.setdefault("drawn", {})[widget] = value


def clashes() -> list[Clash]:
    """Places where this visitor and somebody else both wrote."""
    found: list[Clash] = st.session_state.setdefault("clashes", [])
    return found


def set_clashes(found: list[Clash]) -> None:
    """Replace the list of clashes."""
    st.session_state["clashes"] = found


def counter(name: str, step: int = 0) -> int:
    """A counter of this visitor, raised by ``step``: a new number makes a new, empty box."""
    key = f"counter {name}"
    st.session_state[key] = st.session_state.get(key, 0) + step
    return int(st.session_state[key])


def note(name: str, value: Any = ...) -> Any:
    """A small remark kept for this visitor; without a value, read it."""
    key = f"note {name}"
    if value is not ...:
        st.session_state[key] = value
    return st.session_state.get(key)
