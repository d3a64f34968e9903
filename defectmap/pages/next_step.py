"""Page: the next step on a panel, what the clear coat allows, and entering what was done."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from defectmap.pages import frame
from defectmap.pages.readings import read_numbers
from defectmap.pages.widgets.agreement import agreement, held_against
from defectmap.pages.widgets.budgetbar import budget_svg, budget_words
from defectmap.record.advise import PanelAdvice
from defectmap.record.entries import StepSpec, add_step, set_aside
from defectmap.record.notes import setting
from defectmap.record.results import advise, tables_of
from defectmap.record.thickness_entries import add_readings
from defectmap.trade.advice import CAUTIONS
from defectmap.trade.budget import Budget
from defectmap.trade.facts import PanelHistory
from defectmap.trade.stages import STEP_KINDS
from defectmap.trade.tables import TradeTables
from defectmap.words.counting import counted
from defectmap.words.page_words import figure, plain
from defectmap.words.remark import Remark
from defectmap.words.trade_words import told, told_all

STEP_WORDS = {
    "wash": "Wash",
    "decontaminate": "Decontaminate",
    "correct": "Correct (machine polish)",
    "wipe": "Solvent wipe",
    "fill": "Filler or glaze",
    "protect": "Protect",
}
ACTION_ICONS = {"stop": ":material/front_hand:", "": ":material/arrow_circle_right:"}

BUDGET_PX = 520  # at most; narrower where the page is


def show() -> None:
    """Draw the page."""
    with frame.page("next_step"):
        desk = frame.chosen_job()
        if frame.measure_what_is_missing(desk):
            st.rerun()
        trade = tables_of(desk.store)
        found = advise(desk.store, desk.reference)
        panel = frame.chosen_panel(desk)
        one = next(a for a in found if a.advice.panel == panel)
        history = next(p.history for p in desk.look.panels if p.history.panel.name == panel)
        _advice(one)
        agreement(desk, trade.goal)
        _budget(one)
        _cautions(one)
        left, right = st.columns(2, gap="large")
        with left:
            _enter_step(desk, trade, history)
        with right:
            _enter_readings(desk, history)
        _done(desk, history)
        with st.expander("Every panel at once", icon=":material/list:"):
            st.table(
                {
                    "Panel": [plain(a.advice.panel) for a in found],
                    "Next step": [plain(_action(a)) for a in found],
                    "May still come off": [_left(a.budget) for a in found],
                },
                border="horizontal",
            )


def _told(remarks: Sequence[Remark]) -> tuple[str, ...]:
    return told_all(remarks, audience="page")


def _action(one: PanelAdvice) -> str:
    rung = one.advice.rung
    return f"{one.advice.action}: {rung.name}" if rung else one.advice.action


def _left(budget: Budget) -> str:
    return f"{budget.left_um:.1f} µm" if budget.known else "not measured"


def _advice(one: PanelAdvice) -> None:
    advice = one.advice
    with st.container(border=True):
        icon = ACTION_ICONS["stop" if advice.action.startswith("stop") else ""]
        st.subheader(f"{icon} {plain(advice.action.capitalize())}", anchor=False)
        if advice.rung is not None:
            st.markdown(f"**{plain(advice.rung.name)}**, {counted(advice.sets, 'set')}")
        for line in _told((*advice.why, *advice.questions)):
            st.markdown(plain(line))
        if advice.measured:
            st.caption(plain("Measured: " + "; ".join(_told(advice.measured))))
        st.caption(plain(held_against(one.limits)))
        if advice.alternatives:
            st.markdown(
                "What can be done instead:\n" + "\n".join(f"- {plain(a)}" for a in _told(advice.alternatives))
            )


def _budget(one: PanelAdvice) -> None:
    st.subheader("What the clear coat allows", anchor=False)
    budget = one.budget
    words = budget_words(budget)
    if budget.known:
        dark = frame.is_dark()
        st.image(budget_svg(budget, dark=dark), width=BUDGET_PX, alt=words)
    st.markdown(plain(words))
    st.caption(plain(told(budget.assumption, audience="page")))
    for remark in _told(budget.remarks):
        st.warning(plain(remark), icon=":material/priority_high:")


def _cautions(one: PanelAdvice) -> None:
    cautions = [c for c in one.advice.cautions if c not in one.budget.remarks] or list(CAUTIONS)
    with st.expander(
        "Cautions before any machine goes on", icon=":material/warning:", expanded=bool(one.advice.rung)
    ):
        st.markdown("\n".join(f"- {plain(caution)}" for caution in _told(cautions)))


def _enter_step(desk: frame.Desk, trade: TradeTables, history: PanelHistory) -> None:
    st.subheader("Enter what was done", anchor=False)
    kind = st.selectbox("Step", STEP_KINDS, format_func=lambda k: STEP_WORDS.get(k, k), key="next_kind")
    with st.form("next_step", border=False, clear_on_submit=True):
        rung, sets, spot = None, 1, ""
        if kind == "correct":
            rung = st.selectbox(
                "Which", trade.ladder_keys, format_func=lambda key: trade.rung(key).name, key="next_rung"
            )
            sets = int(
                st.number_input(
                    "Sets (one set: four to six movements over a section)", 1, trade.sets.usual_most, 1
                )
            )
        if kind in ("correct", "wipe"):
            spot = st.text_input("Only on the test spot (its name; empty: the whole panel)", max_chars=40)
        product = st.text_input("Product, in your words (optional)", max_chars=120)
        everywhere = st.checkbox("On every panel of the job")
        if st.form_submit_button("Save step", type="primary"):
            spec = _spec(trade, kind, rung, sets, product)
            with frame.guarded():
                names = desk.panels if everywhere else (history.panel.name,)
                said: list[str] = []
                for name in names:
                    step = add_step(
                        desk.store,
                        desk.reference,
                        name,
                        spec,
                        spot=spot.strip() or None,
                        ladder=trade.ladder_keys,
                    )
                    said += [f"{name}: {w}" for w in step.warnings]
                st.session_state["next_said"] = said
                st.rerun()
    for sentence in st.session_state.pop("next_said", []):
        st.warning(plain(sentence), icon=":material/priority_high:")


def _spec(trade: TradeTables, kind: str, rung: str | None, sets: int, product: str) -> StepSpec:
    if rung is None:
        return StepSpec(kind=kind, product=product.strip())
    known = trade.rung(rung)
    return StepSpec(
        kind=kind,
        rung=rung,
        product=product.strip(),
        pad=known.pad,
        machine=known.machine,
        passes=sets,
        section_s=known.section_s,
        removal_low_um=known.removal_um.low * sets,
        removal_high_um=known.removal_um.high * sets,
    )


def _enter_readings(desk: frame.Desk, history: PanelHistory) -> None:
    st.subheader("Enter film thickness", anchor=False)
    units = {"um": "µm", "mil": "mil"}
    usual = (setting(desk.store, "shop", {}) or {}).get("unit", "um")
    with st.form("next_readings", border=False, clear_on_submit=True):
        place = st.text_input("Place on the panel", value="middle", max_chars=40)
        numbers = st.text_input(
            "Readings, three or more",
            placeholder="112 110 113",
            help="With spaces between them; a comma or a point for decimals.",
        )
        unit = st.radio(
            "Unit",
            list(units),
            index=list(units).index(usual),
            format_func=units.__getitem__,
            horizontal=True,
        )
        if st.form_submit_button("Save readings", type="primary"):
            with frame.guarded():
                values = read_numbers(numbers)
                add_readings(
                    desk.store,
                    desk.reference,
                    history.panel.name,
                    place.strip() or "middle",
                    values,
                    unit="mil" if unit == "mil" else "um",
                )
                st.rerun()


def _done(desk: frame.Desk, history: PanelHistory) -> None:
    with st.expander(
        f"What is entered: {counted(len(history.steps), 'step')}, {counted(len(history.readings), 'reading')}"
    ):
        for step in history.steps:
            where = f" on spot {step.spot}" if step.spot else ""
            which = f", {step.rung}, {counted(step.passes, 'set')}" if step.rung else ""
            words = f"{step.at[:16].replace('T', ' ')} · {STEP_WORDS.get(step.kind, step.kind)}{which}{where}"
            _entry(desk, "step", step.id, " · ".join(filter(None, (words, step.product))))
        for reading in history.readings:
            _entry(
                desk, "reading", reading.id, f"{reading.place}: {figure(reading.value_um, 'µm', decimals=0)}"
            )


def _entry(desk: frame.Desk, what: str, entry: str, words: str) -> None:
    left, right = st.columns([4, 1], vertical_alignment="center")
    left.markdown(plain(words))
    with right.popover("Entered by mistake", width="stretch"):
        why = st.text_input("Why", key=f"why_{entry}", max_chars=200)
        if st.button("Remove from figures", key=f"aside_{entry}"):
            with frame.guarded():
                set_aside(desk.store, desk.reference, "step" if what == "step" else "reading", entry, why=why)
                st.rerun()


show()
