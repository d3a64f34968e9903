"""Who did what and how long it took: clocks started and stopped, or minutes typed, now or afterwards."""

from __future__ import annotations

import streamlit as st

from defectmap.pages import frame
from defectmap.pages.entering import STEP_WORDS
from defectmap.record.shop_style import screen_writer
from defectmap.record.worktimes import put_minutes, running_on, start_work, stop_work
from defectmap.trade.facts import RunningRecord, StepRecord
from defectmap.words.page_words import plain

WORKER = "worker"  # whoever works stays who works, from press to press


def worker() -> str:
    """Who works on this screen, as typed last."""
    return str(st.session_state.get(WORKER, "")).strip()


def clock_entry(desk: frame.Desk, panel: str) -> None:
    """Start a clock for a step on a panel; the step's own button stops it."""
    running = running_on(desk.store, desk.reference)
    for one in running:
        _running(desk, one)
    with st.expander("Hours", icon=":material/timer:"):
        left, right = st.columns(2)
        name = left.text_input("Who works", value=worker(), max_chars=40, key="hours_who")
        st.session_state[WORKER] = name
        right.number_input(
            "Minutes, for what is entered next",
            min_value=0,
            max_value=720,
            value=None,
            placeholder="or start the clock",
            key="next_minutes",
        )
        there = {one.kind for one in running if one.panel == panel}
        with st.container(horizontal=True):
            for kind, words in STEP_WORDS.items():
                st.button(
                    f"Start: {words.lower()}",
                    key=f"hours_start_{kind}",
                    icon=":material/play_arrow:",
                    disabled=kind in there,
                    on_click=_start,
                    args=(desk, panel, kind, name),
                )


def _start(desk: frame.Desk, panel: str, kind: str, name: str) -> None:
    with frame.guarded():
        start_work(desk.store, desk.reference, panel, kind, by=name)


def _running(desk: frame.Desk, one: RunningRecord) -> None:
    since = screen_writer(desk.store).moment(one.started_at)[-5:]
    what = STEP_WORDS.get(one.kind, one.kind).lower()
    by = f", {one.by}" if one.by else ""
    with st.container(horizontal=True, vertical_alignment="center"):
        st.markdown(f":material/timer: {plain(f'{what}, {one.panel}{by}, since {since}')}", width="content")
        st.button(
            "Drop the clock",
            key=f"hours_drop_{one.id}",
            help="Entering the step stops the clock and books the time; this throws it away.",
            on_click=_drop,
            args=(desk, one),
        )


def _drop(desk: frame.Desk, one: RunningRecord) -> None:
    with frame.guarded():
        stop_work(desk.store, desk.reference, one.panel, one.kind)


def hours_table(desk: frame.Desk) -> None:
    """What is booked, and minutes for what has none."""
    steps = [(p.history.panel.name, s) for p in desk.look.panels for s in p.history.steps]
    booked = sum(step.minutes or 0.0 for _, step in steps)
    with st.expander(f"Hours: {booked / 60:.1f} h booked", icon=":material/timer:"):
        if not steps:
            st.markdown("Nothing is entered yet.")
            return
        st.table(
            {
                "Step": [plain(_what(panel, step)) for panel, step in steps],
                "Who": [plain(step.by) or "–" for _, step in steps],
                "Minutes": ["–" if step.minutes is None else f"{step.minutes:.0f}" for _, step in steps],
            },
            border="horizontal",
        )
        _afterwards(desk, steps)


def _afterwards(desk: frame.Desk, steps: list[tuple[str, StepRecord]]) -> None:
    with st.form("hours_after", border=False, clear_on_submit=True):
        at = st.selectbox(
            "Step", range(len(steps)), format_func=lambda number: _what(*steps[number]), key="hours_step"
        )
        left, right = st.columns(2)
        minutes = left.number_input("Minutes", 1, 720, value=None, key="hours_minutes")
        by = right.text_input("Who", max_chars=40, key="hours_by")
        if st.form_submit_button("Book these minutes") and minutes is not None and at is not None:
            with frame.guarded():
                put_minutes(desk.store, desk.reference, steps[at][1].id, float(minutes), by=by)
                st.rerun()


def _what(panel: str, step: StepRecord) -> str:
    where = f", spot {step.spot}" if step.spot else ""
    rung = f" ({step.rung})" if step.rung else ""
    return f"{panel}{where}: {STEP_WORDS.get(step.kind, step.kind).lower()}{rung}"
