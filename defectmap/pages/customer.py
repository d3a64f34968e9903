"""Page: for the customer, on the shop's screen or phone: before and after under a finger, what is left."""

from __future__ import annotations

from datetime import date

import streamlit as st

from defectmap.pages import frame
from defectmap.pages.reports import MadeReport, made_report, state_of_record
from defectmap.pages.widgets.slider import compare_slider
from defectmap.record.results import compare_ready, ready_panels, tables_of
from defectmap.report.handover import CareLine, Handover, handover, handover_zip
from defectmap.trade.care import care_days
from defectmap.trade.facts import StepRecord
from defectmap.words.page_words import plain

CARE_WORDS = {
    "wash again": "from now on it may be washed again",
    "look": "look at the protection",
    "follow-up": "come back for a look at the finish",
    "renew from": "the protection may need renewing",
    "renew by": "renew the protection by now",
    "other": "look after the finish",
}


def show() -> None:
    """Draw the page; the job's reference stands nowhere on it."""
    with frame.page("customer", with_job=False, heading="Your car, before and after"):
        desk = frame.chosen_job()
        if frame.measure_what_is_missing(desk):
            st.rerun()
        ready = ready_panels(desk.look)
        if not ready:
            st.info("Nothing to show yet: no panel has photographs from before and after.")
            return
        compare_ready(desk.store, desk.reference, ready)
        shown = handover(_made(desk).report, care=_care(desk))
        _show(shown)
        st.download_button(
            "Folder to hand over",
            lambda: handover_zip(shown),
            file_name="your-car.zip",
            mime="application/zip",
            icon=":material/folder_zip:",
            on_click="ignore",
            key="customer_folder",
            help="One page with its pictures; it needs no network, and names neither job nor customer.",
        )


def _made(desk: frame.Desk) -> MadeReport:
    return made_report(
        desk.reference,
        state_of_record(desk.store, desk.reference),
        "customer",
        False,
        False,
        date.today().isoformat(),
        desk.store,
    )


def _show(shown: Handover) -> None:
    st.subheader(plain(shown.headline), anchor=False)
    for number, panel in enumerate(shown.panels):
        with st.container(border=True):
            st.markdown(f"**{plain(panel.name.capitalize())}**: {plain(panel.figure)}")
            if panel.pair is not None:
                words = f"{panel.pair.before.alt} {panel.pair.after.alt}"
                compare_slider(
                    panel.pair.before.jpeg, panel.pair.after.jpeg, words=words, key=f"customer_{number}"
                )
            if panel.left:
                st.markdown(f"What is left: {plain(panel.left)}")
    if shown.care:
        st.markdown("**Care**")
        st.markdown("\n".join(f"- {line.day}: {line.words}" for line in shown.care))


def _care(desk: frame.Desk) -> tuple[CareLine, ...]:
    """Days of care, once the protection that is on the car is known."""
    steps = [s for p in desk.look.panels for s in p.history.steps if s.kind == "protect"]
    if not steps:
        return ()
    kinds = tables_of(desk.store).protection
    last = max(steps, key=lambda step: step.at)
    with st.expander("Care dates", icon=":material/event:"):
        at = st.selectbox(
            "Protection that is on the car",
            range(len(kinds)),
            index=_guessed([kind.name for kind in kinds], last),
            format_func=lambda number: kinds[number].name,
            key="customer_protection",
        )
    if at is None:
        return ()
    days = care_days(kinds[at], date.fromisoformat(last.at[:10]))
    return tuple(CareLine(day=one.day.isoformat(), words=CARE_WORDS[one.kind]) for one in days)


def _guessed(names: list[str], step: StepRecord) -> int | None:
    """The protection that the step's own words name; nobody guesses where they do not."""
    said = step.product.casefold()
    return next((at for at, name in enumerate(names) if name.casefold() in said), None) if said else None


show()
