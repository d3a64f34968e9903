"""Page: for the customer, on the shop's screen or phone: before and after under a finger, what is left."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from defectmap.pages import frame, waiting
from defectmap.pages.paper_making import job_report
from defectmap.pages.widgets.slider import compare_slider
from defectmap.record.results import ready_panels
from defectmap.record.shop_style import shop_writer
from defectmap.report.care_lines import CareLine, care_lines
from defectmap.report.content import Report
from defectmap.report.handover import handover_zip
from defectmap.words.page_words import plain


def show() -> None:
    """Draw the page; the job's reference stands nowhere on it."""
    with frame.page("customer", with_job=False, heading="Your car, before and after"):
        desk = frame.chosen_job()
        if waiting.measure_what_is_missing(desk):
            st.rerun()
        if not ready_panels(desk.look):
            st.info("Nothing to show yet: no panel has photographs from before and after.")
            return
        report = job_report(desk).report
        care = care_lines(desk.store, desk.reference, writer=shop_writer(desk.store))
        _show(report, care)
        st.download_button(
            "Folder to hand over",
            lambda: handover_zip(report, care),
            file_name="your-car.zip",
            mime="application/zip",
            icon=":material/folder_zip:",
            on_click="ignore",
            key="customer_folder",
            help="One page with its pictures; it needs no network, and names neither job nor customer.",
        )


def _show(report: Report, care: Sequence[CareLine]) -> None:
    st.subheader(plain(report.headline), anchor=False)
    for sentence in report.beside_panels:
        st.markdown(plain(sentence))
    for number, panel in enumerate(report.panels):
        with st.container(border=True):
            st.markdown(f"**{plain(panel.name.capitalize())}**: {plain(panel.found)}")
            for pair in panel.handed[:1]:
                words = f"{pair.before.alt} {pair.after.alt}"
                compare_slider(pair.before.jpeg, pair.after.jpeg, words=words, key=f"customer_{number}")
            if panel.filmed:
                with st.expander("What the film shows", icon=":material/movie:"):
                    st.markdown(plain(panel.filmed))
                    for pair in panel.handed[1:]:
                        before, after = st.columns(2)
                        before.image(pair.before.jpeg, caption="Before", width="stretch", alt=pair.before.alt)
                        after.image(pair.after.jpeg, caption="After", width="stretch", alt=pair.after.alt)
                        st.caption(plain(pair.caption))
            if panel.left:
                st.markdown(f"What is left: {plain(panel.left)}")
    if care:
        st.markdown("**Care**")
        st.markdown("\n".join(f"- {line.day}: {line.words}" for line in care))


show()
