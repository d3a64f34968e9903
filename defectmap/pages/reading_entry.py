"""Entering film thickness: a number pad for a thumb, or a line of numbers for a keyboard."""

from __future__ import annotations

import re

import streamlit as st

from defectmap.errors import BadReading
from defectmap.pages import frame
from defectmap.pages.entering import enter_readings
from defectmap.pages.widgets.keypad import PLACES, Readings, reading_pad
from defectmap.record.shop_style import shop_style
from defectmap.record.thickness_entries import Unit
from defectmap.trade.facts import PanelHistory

UNIT_WORDS: dict[Unit, str] = {"um": "µm", "mil": "mil"}
REFUSED = "readings_refused"
MOST = 50  # readings in a line


def reading_entry(desk: frame.Desk, history: PanelHistory, *, needed: bool) -> None:
    """Draw it; open where nothing is known of the thickness yet.

    Parameters
    ----------
    needed : bool
        Whether the advice waits for readings.
    """
    panel = history.panel.name
    with st.expander("Film thickness", icon=":material/straighten:", expanded=needed):
        units = list(UNIT_WORDS)
        unit: Unit = st.radio(
            "Unit",
            units,
            index=units.index(shop_style(desk.store).unit),
            format_func=UNIT_WORDS.__getitem__,
            horizontal=True,
            key="readings_unit",
        )
        done = st.session_state.setdefault("readings_done", 0)
        given = reading_pad(_places(history), unit=UNIT_WORDS[unit], done=done, key=f"readings_pad_{panel}")
        if given:
            _take(desk, panel, given, unit)
        refused = st.session_state.get(REFUSED)
        if refused and refused[0] == panel and st.button("The gauge shows just that", key="readings_sure"):
            _take(desk, panel, refused[1], unit, sure=True)
        typed = st.popover("Type them instead", icon=":material/keyboard:")
        with typed, st.form("readings_line", border=False, clear_on_submit=True):
            place = st.text_input("Place", value="middle", max_chars=40)
            numbers = st.text_input("Readings, three or more", placeholder="112 110 113")
            if st.form_submit_button("Save readings"):
                with frame.guarded():
                    _take(desk, panel, ((place.strip() or "middle", read_numbers(numbers)),), unit)


def _take(desk: frame.Desk, panel: str, given: Readings, unit: Unit, *, sure: bool = False) -> None:
    if enter_readings(desk, panel, given, unit=unit, sure=sure):
        st.session_state["readings_done"] += 1
        st.session_state.pop(REFUSED, None)
    else:
        st.session_state[REFUSED] = (panel, given)
    st.rerun()


def _places(history: PanelHistory) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*PLACES, *(reading.place for reading in history.readings))))


def read_numbers(words: str) -> tuple[float, ...]:
    """Numbers out of a line: spaces or semicolons between them, comma or point for decimals.

    Raises
    ------
    BadReading
        There is none, there are too many, or something in it is no number.

    Examples
    --------
    >>> read_numbers("112 110,5; 113.2")
    (112.0, 110.5, 113.2)
    >>> read_numbers("112, 110, 113")
    (112.0, 110.0, 113.0)
    """
    parts = [part.strip(",") for part in re.split(r"[\s;]+", words.strip()) if part.strip(",")]
    if not parts or len(parts) > MOST:
        raise BadReading(f"Type 1 to {MOST} readings with spaces between them, such as: 112 110 113.")
    values = []
    for part in parts:
        if not re.fullmatch(r"\d+([.,]\d+)?", part):
            raise BadReading(
                f"{part!r} is not a valid reading; type numbers with spaces between them: 112 110 113."
            )
        values.append(float(part.replace(",", ".")))
    return tuple(values)
