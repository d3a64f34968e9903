"""Page: the car comes in: which it is, what damage it has, what is agreed, and who signed for that."""

from __future__ import annotations

import streamlit as st

from defectmap.pages import frame
from defectmap.pages.damage_marking import damage_marking
from defectmap.pages.signing import signing
from defectmap.pages.vehicle_choice import vehicle_choice
from defectmap.pages.widgets.agreement import agreement
from defectmap.record.results import tables_of


def show() -> None:
    """Draw the page."""
    with frame.page("arrival"):
        desk = frame.chosen_job()
        vehicle_choice(desk)
        st.subheader("Damage that is there already", anchor=False)
        damage_marking(desk)
        agreement(desk, tables_of(desk.store).goal)
        signing(desk, "intake")
        frame.to_page("papers", "Intake sheet")


show()
