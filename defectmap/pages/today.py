"""Page: the jobs, the latest first, and taking a car in."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from defectmap.pages import frame
from defectmap.pages.widgets.agreement import WHY, target_fields
from defectmap.record.jobs import all_jobs, create_job, standard_panels
from defectmap.record.notes import checklists_of, start_checklist, tick
from defectmap.record.overview import JobOverview, overview
from defectmap.record.results import tables_of
from defectmap.record.store import Store
from defectmap.trade.facts import CheckRecord, JobRecord, Target
from defectmap.trade.surface import PAINTS
from defectmap.words.counting import counted
from defectmap.words.page_words import plain

SHOWN = 12


def show() -> None:
    """Draw the page."""
    with frame.page("today"):
        store = frame.the_store()
        jobs = all_jobs(store)
        if not jobs:
            st.info("No jobs yet. Start the first one below.", icon=":material/info:")
        for job in jobs[:SHOWN]:
            _job_row(store, job)
        if len(jobs) > SHOWN:
            with st.expander(f"{len(jobs) - SHOWN} earlier jobs"):
                for job in jobs[SHOWN:]:
                    _job_row(store, job)
        with st.expander("New job", expanded=not jobs, icon=":material/add:"):
            _new_job(store)
        if jobs:
            _lists(store)


def _job_row(store: Store, job: JobRecord) -> None:
    look = overview(store, job.reference)
    with st.container(border=True):
        words, button = st.columns([4, 1], vertical_alignment="center")
        open_now = st.session_state.get("job") == job.reference
        with words:
            mark = " · open" if open_now else ""
            st.markdown(f"**{plain(job.reference)}**{mark}  \n{plain(_what(job))}")
            st.caption(_state(look))
        if button.button(
            "Open",
            key=f"open_{job.id}",
            type="primary",
            width="stretch",
            help=f"Open job {plain(job.reference)}",
        ):
            st.session_state["job"] = job.reference
            st.query_params["job"] = job.reference
            frame.forget_widgets("pick_job", "pick_panel", "panel")
            st.switch_page(frame.page_file("car"))


def _what(job: JobRecord) -> str:
    return ", ".join(part for part in (job.vehicle or job.kind, job.colour, job.created_at[:10]) if part)


def _state(look: JobOverview) -> str:
    parts = [counted(len(look.panels), "panel"), counted(look.photographs, "photograph")]
    if look.unmeasured:
        parts.append(f"{look.unmeasured} not measured yet")
    if look.refused:
        parts.append(f"{look.refused} to take again")
    done = sum(bool(panel.at("decontaminated") and panel.at("wiped")) for panel in look.panels)
    if done:
        parts.append(f"before and after on {counted(done, 'panel')}")
    return " · ".join(parts)


def _new_job(store: Store) -> None:
    tables = tables_of(store)
    kind = st.selectbox("Kind of vehicle", list(tables.panels), key="today_kind")
    with st.form("today_new", border=False):
        reference = st.text_input(
            "Reference of the job", max_chars=80, help="Your own number or word for it."
        )
        vehicle = st.text_input("Vehicle, in your words", max_chars=80)
        colour = st.text_input("Colour", max_chars=40)
        paint = st.selectbox("Paint", PAINTS)
        panels = st.pills(
            "Panels",
            [row.name for row in tables.panels[kind]],
            selection_mode="multi",
            default=[row.name for row in tables.panels[kind]],
            help="Leave out what you do not work on; others can be added later.",
        )
        customer = st.text_input(
            "Reference of the customer (optional)",
            max_chars=80,
            help="Need not be a name. It never appears in a report unless you ask for it.",
        )
        st.markdown("**What is good enough** (optional; it can be changed later on the page Next step)")
        st.caption(plain(WHY))
        target = target_fields(tables.goal, now=Target(), key="today_agreed")
        if st.form_submit_button("Take it in", type="primary"):
            with frame.guarded():
                create_job(
                    store,
                    reference,
                    panels=standard_panels(panels, tables.panels[kind]),
                    kind=kind,
                    vehicle=vehicle.strip(),
                    colour=colour.strip(),
                    paint=paint,
                    customer=customer.strip(),
                    target=target,
                )
                st.session_state["job"] = reference.strip()
                frame.forget_widgets("pick_job", "pick_panel", "panel")
                st.switch_page(frame.page_file("car"))


def _lists(store: Store) -> None:
    with st.expander("Checklists of the open job", icon=":material/checklist:"):
        desk = frame.chosen_job()
        lines = checklists_of(store, desk.reference)
        started = {line.list_name for line in lines}
        for name, words in tables_of(store).checklists.items():
            if name in started:
                _list(store, desk.reference, name, [line for line in lines if line.list_name == name])
            elif st.button(f"Start the list: {plain(name)}", key=f"today_start_{name}"):
                start_checklist(store, desk.reference, name, words)
                st.rerun()


def _list(store: Store, reference: str, name: str, lines: Sequence[CheckRecord]) -> None:
    st.markdown(f"**{plain(name.capitalize())}**")
    for line in lines:
        done = st.checkbox(plain(line.words), value=line.done_at is not None, key=f"today_line_{line.id}")
        if done != (line.done_at is not None):
            tick(store, reference, line.id, done=done)
            st.rerun()


show()
