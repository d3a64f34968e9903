"""Putting right what is wrong with a kept photograph: its scale, its place, or that it is used at all."""

from __future__ import annotations

import streamlit as st

from defectmap.pages import frame
from defectmap.pages.uploads import move
from defectmap.pages.widgets.scale_choice import TypedScale, scale_choice
from defectmap.record.entries import set_aside
from defectmap.record.intake import Place, rescale
from defectmap.record.shop_style import screen_writer
from defectmap.trade.facts import PhotographRecord


def mending(desk: frame.Desk, photograph: PhotographRecord) -> None:
    """Draw what can be changed."""
    _scale(desk, photograph)
    st.divider()
    _place(desk, photograph)
    st.divider()
    key = photograph.id
    why = st.text_input("Why it is not to be used", key=f"why_{key}", max_chars=200)
    if st.button("Remove from figures", key=f"aside_{key}"):
        with frame.guarded():
            set_aside(desk.store, desk.reference, "photograph", photograph.id, why=why)
            st.rerun()


def _scale(desk: frame.Desk, photograph: PhotographRecord) -> None:
    now = TypedScale(px_per_mm=photograph.px_per_mm, field_width_mm=photograph.field_width_mm)
    new = scale_choice(now, key=f"scale_{photograph.id}", writer=screen_writer(desk.store))
    if st.button("Change the scale", key=f"rescale_{photograph.id}", disabled=new == now):
        with frame.guarded():
            rescale(
                desk.store,
                desk.reference,
                photograph.id,
                px_per_mm=new.px_per_mm,
                field_width_mm=new.field_width_mm,
            )
            st.rerun()


def _place(desk: frame.Desk, photograph: PhotographRecord) -> None:
    key = photograph.id
    panel = st.selectbox(
        "Panel", desk.panels, index=desk.panels.index(photograph.panel), key=f"to_panel_{key}"
    )
    stage = frame.stage_choice(photograph.stage, key=f"to_stage_{key}")
    spot = st.text_input("Spot", value=photograph.spot, max_chars=40, key=f"to_spot_{key}")
    if st.button("Move it there", key=f"move_{key}"):
        place = Place(
            panel=panel,
            stage=stage,
            spot=spot.strip() or "1",
            px_per_mm=photograph.px_per_mm,
            field_width_mm=photograph.field_width_mm,
        )
        with frame.guarded():
            move(desk.store, desk.reference, photograph, place)
            st.rerun()
