"""Entry of the page: the workspace where a job is typed, measured and handed over."""

from __future__ import annotations

import sys
from pathlib import Path

# `streamlit run ui/app.py` puts this folder on the path and not the one above it.
sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from ui import flow

flow.run()
