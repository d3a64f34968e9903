"""Damage that a car comes with: touched on its plan, named, photographed; and what is marked already."""

from __future__ import annotations

from typing import Any

import streamlit as st

from defectmap.pages import frame
from defectmap.pages.cached import preview
from defectmap.pages.uploads import KINDS, as_file, check_file, tidy_name
from defectmap.pages.widgets.carplan import Dot
from defectmap.pages.widgets.plan_touch import Touched, touched_place
from defectmap.record.damages import add_damage, damage_photograph, damages_of
from defectmap.trade.damage import DAMAGE_KINDS, stays_because
from defectmap.trade.facts import DamageRecord
from defectmap.words.page_words import plain
from defectmap.words.trade_words import told

PLACE = "arrival_place"
SMALL_PX = 120


def damage_marking(desk: frame.Desk) -> None:
    """Draw the plan, the fields of the place that was touched, and the list."""
    if not desk.panels:
        st.markdown("No panels yet; add them on the page Car and panels.")
        return
    found = damages_of(desk.store, desk.reference)
    dots = [
        Dot(number=number, x=one.x, y=one.y)
        for number, one in enumerate(found, start=1)
        if one.x is not None and one.y is not None
    ]
    names = frame.standard_names(desk)
    touched = touched_place(desk.panels, aliases=names, kind=desk.job.kind, dots=dots, key="arrival_plan")
    if touched is not None:
        st.session_state[PLACE] = touched
    place: Touched | None = st.session_state.get(PLACE)
    if place is None or place.panel not in desk.panels:
        st.caption("Touch the place on the plan.")
    else:
        _fields(desk, place)
    if found:
        with st.expander(f"Marked: {len(found)}", expanded=True):
            for number, one in enumerate(found, start=1):
                _line(desk, number, one)


def _fields(desk: frame.Desk, place: Touched) -> None:
    turn = st.session_state.setdefault("arrival_turn", 0)
    with st.container(border=True):
        st.markdown(f"**New damage: {plain(place.panel)}**")
        kind = st.pills("Kind", DAMAGE_KINDS, key=f"arrival_kind_{turn}", format_func=str.capitalize)
        words = st.text_input("More about it (optional)", max_chars=120, key=f"arrival_words_{turn}")
        stays = st.text_input(
            "Not corrected, because (optional)",
            max_chars=120,
            key=f"arrival_stays_{turn}",
            help="Chips, dents, cracks and deep scratches stay in any case: polishing does not mend them.",
        )
        photo = st.file_uploader("Photograph (optional)", type=list(KINDS), key=f"arrival_photo_{turn}")
        with st.container(horizontal=True):
            if st.button("Mark it", type="primary", disabled=kind is None, key="arrival_mark") and kind:
                _mark(desk, place, kind, words=words, stays=stays.strip() or None, photo=photo)
            if st.button("Cancel", key="arrival_cancel"):
                _empty()


def _mark(
    desk: frame.Desk, place: Touched, kind: str, *, words: str, stays: str | None, photo: Any | None
) -> None:
    given: Any = {"words": words, "at_plan": place.at, "stays": stays}
    with frame.guarded():
        if photo is None:
            add_damage(desk.store, desk.reference, place.panel, kind, **given)
        else:
            check_file(photo.getvalue(), tidy_name(photo.name))
            with as_file(photo.getvalue(), "damage") as file:
                add_damage(desk.store, desk.reference, place.panel, kind, photograph=file, **given)
        _empty()


def _empty() -> None:
    st.session_state.pop(PLACE, None)
    st.session_state["arrival_turn"] += 1
    st.rerun()


def _line(desk: frame.Desk, number: int, damage: DamageRecord) -> None:
    words, button = st.columns([4, 1], vertical_alignment="center")
    why = stays_because(damage)
    with words:
        what = ", ".join(filter(None, (damage.kind, damage.words)))
        st.markdown(f"**{number}** · {plain(damage.panel)}: {plain(what)}")
        if why is not None:
            st.caption(plain(told(why, audience="page")))
        path = damage_photograph(desk.store, damage)
        small = None if path is None else preview(str(damage.sha256), path)
        if small is not None:
            st.image(small, width=SMALL_PX, alt=f"Photograph of damage {number}")
    with button:
        frame.aside_button(desk, "damage", damage.id, words="Take it out")
