"""Page: what the customer takes home."""

from __future__ import annotations

import importlib.util

import streamlit as st

from defectmap.pages.behind import frame


def show() -> None:
    """Draw the page."""
    with frame.page("report"):
        desk = frame.chosen_job()
        if frame.measure_what_is_missing(desk):
            st.rerun()
        if importlib.util.find_spec("defectmap.report") is None:
            st.info(
                "This installation cannot write reports yet. The figures stand on the page Before and "
                "after, and `defectmap job export` writes the whole job into one file.",
                icon=":material/info:",
            )
            return
        st.info("Reports are not joined to this page yet.")


show()
