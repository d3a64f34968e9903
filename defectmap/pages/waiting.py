"""Photographs that are not measured yet: waiting for those that a page needs, with how far it is."""

from __future__ import annotations

import streamlit as st

from defectmap.pages import background_run, frame
from defectmap.record.measuring import measure_job
from defectmap.words.counting import counted
from defectmap.words.page_words import plain


def measure_what_is_missing(desk: frame.Desk) -> bool:
    """Wait until everything is measured, showing how far it is; it goes on when somebody leaves the page.

    Returns
    -------
    bool
        Whether anything was measured.
    """
    if desk.look.old and _asked_to_renew(desk):
        return True
    if not desk.look.unmeasured:
        return False
    run = background_run.start(desk.store, desk.reference)
    bar = st.progress(0.0, text=f"Measuring {counted(desk.look.unmeasured, 'photograph')} …")

    def tell(run: background_run.Run) -> None:
        bar.progress(min(1.0, run.done / max(1, run.total)), text=measuring_words(run))

    background_run.wait_for(run, tell=tell)
    bar.empty()
    for line in run.problems:
        st.error(plain(line))
    return run.done > len(run.problems)


def measure_this_panel(desk: frame.Desk) -> bool:
    """Wait for the photographs of the panel that is looked at; those of others are measured meanwhile.

    Returns
    -------
    bool
        Whether anything was measured.
    """
    if not desk.panels:
        return False
    panel = frame.current("panel", desk.panels)
    (own,) = (one for one in desk.look.panels if one.history.panel.name == panel)
    if desk.look.old or any(stage.unmeasured for stage in own.stages):
        return measure_what_is_missing(desk)
    if desk.look.unmeasured:
        background_run.start(desk.store, desk.reference)
        st.caption(f"{counted(desk.look.unmeasured, 'photograph')} of other panels being measured.")
    return False


def _asked_to_renew(desk: frame.Desk) -> bool:
    """Say that there are old results, and measure them anew where somebody asks for it."""
    st.info(
        f"{counted(desk.look.old, 'photograph')} measured in an earlier way: old figures, which cannot "
        "be held against new ones.",
        icon=":material/history:",
    )
    if not st.button("Measure them anew", key="renew"):
        return False
    with st.spinner("Measuring anew …"):
        run = measure_job(desk.store, desk.reference, renew=True)
    for line in run.failed:
        st.error(plain(line))
    return run.measured > 0


def measuring_words(run: background_run.Run) -> str:
    """How far measuring is."""
    if run.compared:
        return f"Comparing before and after: {plain(run.compared)} …"
    return f"Measured {run.done} of {run.total}{f': {plain(run.what)}' if run.what else ''}"
