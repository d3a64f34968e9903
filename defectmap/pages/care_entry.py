"""Care dates of a job and of all jobs: planned from the protection, ticked, taken along as a calendar."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import streamlit as st

from defectmap.pages import frame
from defectmap.record.care_dates import add_care, calendar_file, care_of, plan_care, tick_care
from defectmap.record.results import tables_of
from defectmap.record.shop_style import screen_writer
from defectmap.record.store import Store
from defectmap.trade.facts import CareRecord
from defectmap.words.counting import counted
from defectmap.words.page_words import plain
from defectmap.words.trade_words import CARE


def care_dates(desk: frame.Desk) -> None:
    """Draw those of a job, with what plans them."""
    found = care_of(desk.store, reference=desk.reference)
    with st.expander(f"Care dates: {len(found)}", icon=":material/event:"):
        kinds = tables_of(desk.store).protection
        with st.form("care_plan", border=False):
            left, right = st.columns(2)
            with left:
                label = "Protection that is on the car"
                protection = frame.protection_choice(label, kinds, key="care_protection")
            day = right.date_input("Handed over on", date.today(), key="care_day", format="YYYY-MM-DD")
            if st.form_submit_button("Plan the care") and protection is not None and day is not None:
                tables = tables_of(desk.store)
                plan_care(desk.store, desk.reference, tables, protection=protection, done_on=day)
                st.rerun()
        _list(desk.store, found, key="care")
        with st.form("care_own", border=False, clear_on_submit=True):
            left, right = st.columns(2)
            own_day = left.date_input("Another day", None, key="care_own_day", format="YYYY-MM-DD")
            words = right.text_input("What is due", max_chars=80, key="care_own_words")
            if st.form_submit_button("Add it") and own_day is not None and words.strip():
                add_care(desk.store, desk.reference, own_day.isoformat(), "other", words=words.strip())
                st.rerun()


def care_of_all(store: Store) -> None:
    """Draw what is due of all jobs, by day."""
    due = [one for one in care_of(store) if one.done_at is None]
    if due:
        with st.expander(f"Care due: {counted(len(due), 'date')}", icon=":material/event:"):
            _list(store, due, key="care_all", names=True)


def _list(store: Store, dates: Sequence[CareRecord], *, key: str, names: bool = False) -> None:
    writer = screen_writer(store)
    for one in dates:
        whose = f"{one.vehicle or one.job}: " if names else ""
        words = f"{writer.day(one.day)} · {whose}{_words(one)}"
        done = st.checkbox(plain(words), value=one.done_at is not None, key=f"{key}_{one.id}")
        if done != (one.done_at is not None):
            tick_care(store, one.id, done=done)
            st.rerun()
    due = [one for one in dates if one.done_at is None]
    if due:
        titles = [": ".join(filter(None, (one.vehicle or one.job, CARE[one.kind]))) for one in due]
        st.download_button(
            "Calendar file",
            calendar_file(due, titles, made_at=store.clock()),
            file_name="care.ics",
            mime="text/calendar",
            icon=":material/download:",
            on_click="ignore",
            key=f"{key}_calendar",
        )


def _words(one: CareRecord) -> str:
    return ", ".join(filter(None, (CARE[one.kind], one.words)))
