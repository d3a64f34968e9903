"""Entering steps: one press for most, a few fields for a correction; and what is entered."""

from __future__ import annotations

import streamlit as st

from defectmap.pages import frame
from defectmap.pages.entering import STEP_WORDS, enter_step
from defectmap.pages.hours import clock_entry, worker
from defectmap.record.entries import EntryKind, StepSpec, spec_of
from defectmap.record.shop_style import screen_writer
from defectmap.trade.advice import Advice
from defectmap.trade.facts import PanelHistory
from defectmap.trade.tables import TradeTables
from defectmap.words.counting import counted
from defectmap.words.page_words import plain

ONE_PRESS = ("wash", "decontaminate", "wipe", "protect", "fill")


def step_entry(desk: frame.Desk, trade: TradeTables, history: PanelHistory, advice: Advice) -> None:
    """Draw the buttons."""
    st.markdown("**What was done**")
    everywhere = st.toggle("On every panel", key="next_everywhere") if len(desk.panels) > 1 else False
    panels = desk.panels if everywhere else (history.panel.name,)
    product = st.session_state.get("next_product", "").strip()
    with st.container(horizontal=True):
        for kind in ONE_PRESS:
            st.button(
                STEP_WORDS[kind],
                key=f"next_do_{kind}",
                on_click=enter_step,
                args=(desk, panels, StepSpec(kind=kind, product=product, by=worker())),
                kwargs={"words": STEP_WORDS[kind].lower()},
            )
    with st.expander("Correction, test spot, product", icon=":material/construction:"):
        _correction(desk, trade, history, advice, panels)
    clock_entry(desk, history.panel.name)


def _correction(
    desk: frame.Desk, trade: TradeTables, history: PanelHistory, advice: Advice, panels: tuple[str, ...]
) -> None:
    keys = list(trade.ladder_keys)
    advised = advice.rung.key if advice.rung is not None and advice.rung.key in keys else keys[0]
    rung = st.selectbox(
        "Correction",
        keys,
        index=keys.index(advised),
        format_func=lambda key: trade.rung(key).name,
        key=f"next_rung_{history.panel.name}",
    )
    sets = int(
        st.number_input(
            "Sets",
            1,
            trade.sets.usual_most,
            min(max(1, advice.sets), trade.sets.usual_most),
            key="next_sets",
            help="One set: four to six movements over a section.",
        )
    )
    test = st.toggle("Test spot only", key="next_test")
    spot = st.text_input("Spot", value="1", max_chars=40, key="next_spot").strip() if test else None
    product = st.text_input("Product, in your words (optional)", max_chars=120, key="next_product")
    left, right = st.columns(2)
    for column, kind in ((left, "correct"), (right, "wipe")):
        spec = (
            spec_of("correct", trade.rung(rung), sets=sets, product=product, by=worker())
            if kind == "correct"
            else spec_of(kind, by=worker())
        )
        words = trade.rung(rung).name if kind == "correct" else "solvent wipe"
        column.button(
            "Save correction" if kind == "correct" else "Save solvent wipe",
            key=f"next_save_{kind}",
            type="primary" if kind == "correct" else "secondary",
            width="stretch",
            on_click=enter_step,
            args=(desk, (history.panel.name,) if spot else panels, spec),
            kwargs={"words": words, "spot": spot or None},
        )


def entries(desk: frame.Desk, history: PanelHistory) -> None:
    """What is entered on a panel, each with a way to take it out of the figures."""
    number = f"{counted(len(history.steps), 'step')}, {counted(len(history.readings), 'reading')}"
    with st.expander(f"What is entered: {number}", icon=":material/history:"):
        writer = screen_writer(desk.store)
        for step in history.steps:
            where = f" on spot {step.spot}" if step.spot else ""
            which = f", {step.rung}, {counted(step.sets, 'set')}" if step.rung else ""
            words = f"{writer.moment(step.at)} · {STEP_WORDS.get(step.kind, step.kind)}{which}{where}"
            _entry(desk, "step", step.id, " · ".join(filter(None, (words, step.product))))
        for reading in history.readings:
            words = f"{reading.place}: {writer.film(reading.value_um)}"
            _entry(desk, "reading", reading.id, words)


def _entry(desk: frame.Desk, what: EntryKind, entry: str, words: str) -> None:
    left, right = st.columns([4, 1], vertical_alignment="center")
    left.markdown(plain(words))
    with right:
        frame.aside_button(desk, what, entry, words="Remove from figures")
