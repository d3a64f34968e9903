"""Import what is slow to import while the first visitor still reads the first page."""

from __future__ import annotations

import threading
from importlib import import_module

import streamlit as st

# Tables and charts, pictures, intervals, the report as a page and as a PDF; about two seconds together.
SLOW = ("cv2", "pandas", "scipy.special", "jinja2", "fpdf")


@st.cache_resource(max_entries=1, show_spinner=False)
def warm_up() -> threading.Thread:
    """Start the imports, once in a server."""
    thread = threading.Thread(target=_import_all, name="defectmap warm-up", daemon=True)
    thread.start()
    return thread


def _import_all() -> None:
    for name in SLOW:
        import_module(name)
