"""Entry of the page: takes a field book and its photos, runs the chain, shows the recommendation."""

from __future__ import annotations

import sys
from pathlib import Path

import streamlit as st

# `streamlit run ui/app.py` puts this folder on the path and not the one above it.
sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from ui.views import first_page

st.set_page_config(page_title="Old slab: overlay, patch or removal", layout="centered")
first_page.show()
