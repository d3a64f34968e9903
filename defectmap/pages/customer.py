"""Page: for the customer, on the shop's screen or phone: before and after under a finger, what is left."""

from __future__ import annotations

import streamlit as st

from defectmap.pages import frame, waiting
from defectmap.pages.paper_making import job_report
from defectmap.pages.widgets.slider import compare_slider
from defectmap.record.care_dates import care_of
from defectmap.record.results import ready_panels
from defectmap.record.shop_style import shop_writer
from defectmap.report.handover import CareLine, Handover, handover, handover_zip
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
        if waiting.measure_what_is_missing(desk):
            st.rerun()
        if not ready_panels(desk.look):
            st.info("Nothing to show yet: no panel has photographs from before and after.")
            return
        shown = handover(job_report(desk).report, care=_care(desk))
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
            if panel.filmed:
                with st.expander("What the film shows", icon=":material/movie:"):
                    st.markdown(plain(panel.filmed))
                    for pair in panel.more:
                        before, after = st.columns(2)
                        before.image(pair.before.jpeg, caption="Before", width="stretch", alt=pair.before.alt)
                        after.image(pair.after.jpeg, caption="After", width="stretch", alt=pair.after.alt)
                        st.caption(plain(pair.caption))
            if panel.left:
                st.markdown(f"What is left: {plain(panel.left)}")
    if shown.care:
        st.markdown("**Care**")
        st.markdown("\n".join(f"- {line.day}: {line.words}" for line in shown.care))


def _care(desk: frame.Desk) -> tuple[CareLine, ...]:
    """The days that the shop has planned and nobody has ticked."""
    writer = shop_writer(desk.store)
    return tuple(
        CareLine(day=writer.day(one.day), words=": ".join(filter(None, (one.words, CARE_WORDS[one.kind]))))
        for one in care_of(desk.store, reference=desk.reference)
        if one.done_at is None
    )


show()
