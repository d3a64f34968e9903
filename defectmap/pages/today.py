"""Page: the jobs, the latest first, and taking a car in."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import streamlit as st

from defectmap.pages import frame
from defectmap.pages.care_entry import care_of_all
from defectmap.pages.widgets.agreement import WHY, target_fields
from defectmap.pages.widgets.plan_touch import chosen_panels
from defectmap.record.jobs import (
    ORDERS,
    all_jobs,
    close_job,
    closed_jobs,
    create_job,
    free_reference,
    sorted_jobs,
)
from defectmap.record.notes import checklists_of, start_checklist, tick
from defectmap.record.overview import JobOverview, overview
from defectmap.record.panels import standard_panels
from defectmap.record.results import tables_of
from defectmap.record.shop_style import screen_writer
from defectmap.record.store import Store
from defectmap.record.vehicles import all_vehicles
from defectmap.trade.facts import CheckRecord, JobRecord, Target
from defectmap.trade.surface import PAINTS
from defectmap.words.counting import counted
from defectmap.words.page_words import plain

SHOWN = 12
FEW = 5  # below, there is nothing to search


def show() -> None:
    """Draw the page."""
    with frame.page("today"):
        store = frame.the_store()
        jobs = all_jobs(store)
        closed = closed_jobs(store)
        if not jobs:
            st.info("No jobs yet. Start the first one below.", icon=":material/info:")
        with st.expander("New job", expanded=not jobs, icon=":material/add:"):
            _new_job(store, jobs)
        wanted = _wanted(jobs)
        open_ones = [job for job in wanted if job.id not in closed]
        for job in open_ones[:SHOWN]:
            _job_row(store, job, closed=False)
        _behind_a_door(store, "earlier", open_ones[SHOWN:], closed=False)
        _behind_a_door(store, "closed", [job for job in wanted if job.id in closed], closed=True)
        if jobs:
            care_of_all(store)
            _lists(store)


def _wanted(jobs: Sequence[JobRecord]) -> list[JobRecord]:
    """Those that are looked for, in the order that is asked for."""
    if len(jobs) < FEW:
        return list(jobs)
    left, right = st.columns([3, 1])
    words = left.text_input("Search jobs", key="today_search", placeholder="reference, vehicle, colour")
    order = right.selectbox("Order", list(ORDERS), key="today_order")
    return sorted_jobs(jobs, words=words, order=order)


def _behind_a_door(store: Store, which: str, jobs: Sequence[JobRecord], *, closed: bool) -> None:
    if jobs:
        with st.expander(f"{len(jobs)} {which}"):
            for job in jobs:
                _job_row(store, job, closed=closed)


def _job_row(store: Store, job: JobRecord, *, closed: bool) -> None:
    look = overview(store, job.reference)
    with st.container(border=True):
        words, buttons = st.columns([3, 2], vertical_alignment="center")
        open_now = st.session_state.get("job") == job.reference
        with words:
            mark = " · open" if open_now else ""
            st.markdown(f"**{plain(job.reference)}**{mark}  \n{plain(_what(job))}")
            st.caption(_state(look))
        with buttons.container(horizontal=True, horizontal_alignment="right"):
            if st.button(
                "Open", key=f"open_{job.id}", type="primary", help=f"Open job {plain(job.reference)}"
            ):
                _open(job.reference)
            st.button(
                "Reopen" if closed else "Close",
                key=f"close_{job.id}",
                on_click=close_job,
                args=(store, job.id),
                kwargs={"closed": not closed},
            )


def _open(reference: str) -> None:
    st.session_state["job"] = reference
    st.query_params["job"] = reference
    for one in ("panel", "spot", "stage"):
        frame.forget(one)
    frame.forget_widgets("pick_panel", "photograph")
    st.switch_page(frame.page_file("car"))


def _what(job: JobRecord) -> str:
    day = screen_writer(frame.the_store()).day(job.created_at)
    return ", ".join(part for part in (job.vehicle or job.kind, job.colour, day) if part)


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


def _new_job(store: Store, jobs: Sequence[JobRecord]) -> None:
    tables = tables_of(store)
    reference = st.text_input(
        "Reference of the job",
        value=free_reference([job.reference for job in jobs], date.today()),
        max_chars=80,
        key="today_reference",
        help="Your own number or word for it.",
    )
    again = _here_before(store)
    kind = st.selectbox("Kind of vehicle", list(tables.panels), key="today_kind")
    st.markdown("**Touch the panels you work on**")
    panels = chosen_panels([row.name for row in tables.panels[kind]], kind=kind, key=f"today_plan_{kind}")
    with st.expander("Vehicle, paint, customer, what is good enough"):
        vehicle = st.text_input("Vehicle, in your words", max_chars=80, key="today_vehicle")
        colour = st.text_input("Colour", max_chars=40, key="today_colour")
        paint = st.selectbox("Paint", PAINTS, key="today_paint")
        customer = st.text_input(
            "Reference of the customer",
            max_chars=80,
            key="today_customer",
            help="Need not be a name. It never appears in a report unless you ask for it.",
        )
        st.caption(plain(WHY))
        target = target_fields(tables.goal, now=Target(), key="today_agreed", writer=screen_writer(store))
    if st.button("Start the job", type="primary", key="today_start", width="stretch"):
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
                of=again,
            )
            for key in ("reference", "vehicle", "colour", "customer"):
                st.session_state.pop(f"today_{key}", None)
            _open(reference.strip())


def _here_before(store: Store) -> str | None:
    """The vehicle on record that comes again: what was known of its panels is taken from its last visit."""
    names = [car.name for car in all_vehicles(store)]
    if not names:
        return None
    return st.selectbox("Here before", names, index=None, placeholder="A new vehicle", key="today_again")


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
