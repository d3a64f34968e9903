"""Page: the next step on a panel, entering what was done with one press, and what the paint allows."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from defectmap.pages import frame, waiting
from defectmap.pages.entering import entered_line
from defectmap.pages.reading_entry import reading_entry
from defectmap.pages.step_entry import entries, step_entry
from defectmap.pages.widgets.agreement import agreement, held_against
from defectmap.pages.widgets.budgetbar import budget_svg, budget_words
from defectmap.pages.widgets.stage_bar import stage_bar
from defectmap.record.advise import PanelAdvice
from defectmap.record.results import advise, tables_of
from defectmap.record.shop_style import screen_writer
from defectmap.trade.advice import CAUTIONS
from defectmap.trade.budget import Budget
from defectmap.words.counting import counted
from defectmap.words.page_words import plain
from defectmap.words.remark import Remark
from defectmap.words.trade_words import told, told_all
from defectmap.words.writer import Writer

ACTION_ICONS = {"stop": ":material/front_hand:", "": ":material/arrow_circle_right:"}
BUDGET_PX = 520  # at most; narrower where the page is


def show() -> None:
    """Draw the page."""
    with frame.page("next_step"):
        desk = frame.chosen_job()
        if waiting.measure_this_panel(desk):
            st.rerun()
        trade = tables_of(desk.store)
        found = advise(desk.store, desk.reference)
        panel = frame.chosen_panel(desk)
        one = next(a for a in found if a.advice.panel == panel)
        look = desk.panel(panel)
        stage_bar(look)
        writer = screen_writer(desk.store)
        _advice(one, writer)
        entered_line(desk)
        step_entry(desk, trade, look.history, one.advice)
        reading_entry(desk, look.history, needed=not one.budget.known)
        _budget(one, writer)
        _cautions(one, writer)
        agreement(desk, trade.goal)
        entries(desk, look.history)
        with st.expander("All panels", icon=":material/list:"):
            st.table(
                {
                    "Panel": [plain(a.advice.panel) for a in found],
                    "Next step": [plain(_action(a)) for a in found],
                    "May still come off": [_left(a.budget, writer) for a in found],
                },
                border="horizontal",
            )


def _told(remarks: Sequence[Remark], writer: Writer) -> tuple[str, ...]:
    return told_all(remarks, audience="page", writer=writer)


def _action(one: PanelAdvice) -> str:
    rung = one.advice.rung
    return f"{one.advice.action}: {rung.name}" if rung else one.advice.action


def _left(budget: Budget, writer: Writer) -> str:
    return writer.film(budget.left_um, 1) if budget.known else "not measured"


def _advice(one: PanelAdvice, writer: Writer) -> None:
    """The one thing first, its reason in one line, the rest behind a door."""
    advice = one.advice
    reasons = _told((*advice.why, *advice.questions), writer)
    with st.container(border=True):
        icon = ACTION_ICONS["stop" if advice.stops else ""]
        st.subheader(f"{icon} {plain(advice.action.capitalize())}", anchor=False)
        if advice.rung is not None:
            st.markdown(f"**{plain(advice.rung.name)}**, {counted(advice.sets, 'set')}")
        if reasons:
            st.markdown(plain(reasons[0]))
        with st.expander("Why, and what else"):
            for line in reasons[1:]:
                st.markdown(plain(line))
            if advice.measured:
                st.markdown(plain("Measured: " + "; ".join(_told(advice.measured, writer))))
            st.markdown(plain(held_against(one.limits, writer)))
            if advice.alternatives:
                instead = "\n".join(f"- {plain(a)}" for a in _told(advice.alternatives, writer))
                st.markdown(f"What can be done instead:\n{instead}")


def _budget(one: PanelAdvice, writer: Writer) -> None:
    budget = one.budget
    words = budget_words(budget, writer)
    if budget.known:
        st.image(budget_svg(budget, writer=writer, dark=frame.is_dark()), width=BUDGET_PX, alt=words)
    remarks = _told(budget.remarks, writer)
    if remarks:  # what can harm the paint is never behind a door
        st.warning(plain(remarks[0]), icon=":material/priority_high:")
    with st.expander("Clear coat", icon=":material/layers:"):
        st.markdown(plain(words))
        st.markdown(plain(told(budget.assumption, audience="page", writer=writer)))
        for remark in remarks[1:]:
            st.warning(plain(remark), icon=":material/priority_high:")


def _cautions(one: PanelAdvice, writer: Writer) -> None:
    cautions = [c for c in one.advice.cautions if c not in one.budget.remarks] or list(CAUTIONS)
    with st.expander("Cautions: read before any machine goes on", icon=":material/warning:"):
        st.markdown("\n".join(f"- {plain(caution)}" for caution in _told(cautions, writer)))


show()
