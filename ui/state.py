"""The only user of Streamlit's session state: what one visitor has open."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from ui.work import Finished

Work = Callable[[Callable[[str], None]], Finished]

_KEY = "finished"


def keep(finished: Finished | None) -> None:
    """Remember the finished job of this visitor, or forget it."""
    st.session_state[_KEY] = finished


def kept() -> Finished | None:
    """The finished job of this visitor, if there is one."""
    found: Finished | None = st.session_state.get(_KEY)
    return found
