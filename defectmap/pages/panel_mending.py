"""Corrections on a panel result: each is kept at once, said, and undone as quickly."""

from __future__ import annotations

import streamlit as st

from defectmap.errors import DefectmapError
from defectmap.pages import frame
from defectmap.pages.page_units import PageUnits, units_of
from defectmap.pages.widgets.picture import Act
from defectmap.record.corrections import NEW_KINDS, Correction, Exclusion, Relabel, relabel
from defectmap.record.keeping import PhotoResult
from defectmap.record.whole import correct, measurement_of
from defectmap.words.mark_words import is_one
from defectmap.words.page_words import plain

DONE_ALREADY = "result_act"


def do(desk: frame.Desk, result: PhotoResult, act: Act) -> None:
    """Do what somebody did to the picture, once."""
    if st.session_state.get(DONE_ALREADY) == act.number or act.photograph != result.photograph.id:
        return
    st.session_state[DONE_ALREADY] = act.number
    try:
        corrections, said = _corrected(desk, result, act)
        correct(desk.store, result, corrections)
    except DefectmapError as error:
        st.error(plain(error), icon=":material/error:")
        return
    st.session_state["result_said"] = said
    st.rerun()


def undoing(desk: frame.Desk, result: PhotoResult) -> None:
    """Every correction with a button that takes it back."""
    st.caption("The program's own result stays in the record; corrections count from then on.")
    units = units_of(desk.store, result.record)
    for number, one in enumerate(result.corrections):
        words, button = st.columns([3, 1], vertical_alignment="center")
        words.markdown(f"{number + 1}. {plain(correction_words(one, units))}")
        button.button(
            "Undo",
            key=f"result_undo_{number}",
            width="stretch",
            on_click=_without,  # at the start of a run: nothing further up can swallow the press
            args=(desk, result, number),
        )


def correction_words(one: Correction, units: PageUnits) -> str:
    """A correction in words."""
    if isinstance(one, Relabel):
        return f"A mark of {units.length(one.length_mm)} is {is_one(one.kind)}"
    return "An area left out"


def _without(desk: frame.Desk, result: PhotoResult, number: int) -> None:
    correct(desk.store, result, tuple(one for at, one in enumerate(result.corrections) if at != number))


def _corrected(desk: frame.Desk, result: PhotoResult, act: Act) -> tuple[tuple[Correction, ...], str]:
    if act.what == "undo":
        return result.corrections[:-1], "Undone."
    if act.what == "area":
        left, top, right, bottom = act.box
        one: Correction = Exclusion(left=left, top=top, right=right, bottom=bottom)
    else:
        measured = measurement_of(desk.store, result)
        kind = next(kind for kind in NEW_KINDS if kind == act.kind)
        one = relabel(measured.marks[act.mark], kind)
    said = correction_words(one, units_of(desk.store, result.record))
    return (*result.corrections, one), f"{said}. Counted again."
