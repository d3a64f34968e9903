"""Page: what the customer takes home, made from what the record keeps."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

import streamlit as st

from defectmap.pages import frame, waiting
from defectmap.pages.cached import preview
from defectmap.pages.reports import BLURRED, MadeReport, boxes_from, made_report, state_of_record
from defectmap.record.keeping import results_of
from defectmap.record.notes import put_setting, setting
from defectmap.record.results import compare_ready, ready_panels
from defectmap.report.content import Audience
from defectmap.trade.stages import BASELINE, PROOF
from defectmap.words.counting import counted
from defectmap.words.page_words import plain

AUDIENCES: Mapping[Audience, str] = {
    "customer": "For the customer: one page first",
    "full": "Full: every figure, method, hashes",
}


def show() -> None:
    """Draw the page."""
    with frame.page("report"):
        desk = frame.chosen_job()
        if waiting.measure_what_is_missing(desk):
            st.rerun()
        if not _compare_all(desk):
            return
        audience = st.radio(
            "Version", list(AUDIENCES), format_func=AUDIENCES.__getitem__, key="report_audience"
        )
        left, right = st.columns(2)
        with_customer = left.toggle("Name the customer as the record does", key="report_customer")
        with_files = right.toggle("Show names of files (full version)", key="report_files")
        with st.expander("Make number plates and faces unreadable", icon=":material/blur_on:"):
            _blur(desk)
        made = made_report(
            desk.store,
            desk.reference,
            state_of_record(desk.store, desk.reference),
            made_on=date.today().isoformat(),
            audience=audience,
            customer=with_customer,
            file_names=with_files,
        )
        _show(desk, made)


def _compare_all(desk: frame.Desk) -> bool:
    """Compare every panel that has both sides; whether there is anything to report."""
    ready = ready_panels(desk.look)
    if not ready:
        st.info(
            "A report needs at least one panel with photographs of the stages "
            f"{frame.stage_words(BASELINE)} and {frame.stage_words(PROOF)}.",
            icon=":material/info:",
        )
        return False
    bar = st.empty()

    def progress(done: int, total: int, what: str) -> None:
        del what
        if done < total:  # what is only found again is over before a bar would be seen
            bar.progress(done / total, text=f"Compared {done} of {counted(total, 'panel')}")

    for problem in compare_ready(desk.store, desk.reference, ready, progress=progress):
        st.warning(plain(problem), icon=":material/priority_high:")
    bar.empty()
    return True


def _show(desk: frame.Desk, made: MadeReport) -> None:
    st.subheader(plain(made.report.headline), anchor=False)
    if made.report.summary:  # the others stand in the report itself
        st.markdown(plain(made.report.summary[0]))
    name = frame.file_stem(desk)
    files: tuple[tuple[str, str, Callable[[], bytes], str], ...] = (
        ("Report as PDF", f"{name}.pdf", made.pdf, "application/pdf"),
        ("Report as web page", f"{name}.html", made.page, "text/html"),
        ("Figures as table", f"{name}.csv", made.table, "text/csv"),
        ("Picture for posting", f"{name}.jpg", made.posting, "image/jpeg"),
        ("What advertising may say", f"{name}-claims.pdf", made.claims, "application/pdf"),
    )
    columns = st.columns(2)
    for number, (words, file, data, mime) in enumerate(files):
        if number and number % 2 == 0:
            columns = st.columns(2)  # one row at a time: so fingers and the keyboard meet them in this order
        column = columns[number % 2]
        if made.no_posting and mime == "image/jpeg":
            column.caption(f"{words}: {plain(made.no_posting)}")
            continue
        column.download_button(
            words,
            data,  # made when it is asked for
            file_name=file,
            mime=mime,
            icon=":material/download:",
            type="primary" if number == 0 else "secondary",
            width="stretch",
            on_click="ignore",
            key=f"report_get_{number}",
        )
    st.caption(
        "No place, serial number or note is ever in a report. Rules for advertising differ from place to "
        "place: check yours before you publish a figure."
    )
    with st.expander("Read it here", expanded=True, icon=":material/description:"):
        st.iframe(made.html, height=900, alt="The report as it is given to the customer")


def _blur(desk: frame.Desk) -> None:
    results = list(results_of(desk.store, desk.reference).values())
    kept: Mapping[str, Any] = setting(desk.store, f"{BLURRED} {desk.job.id}", {}) or {}
    labels = {
        r.photograph.sha256: f"{r.photograph.panel}, {frame.stage_words(r.photograph.stage)}, spot "
        f"{r.photograph.spot}"
        for r in results
    }
    if not labels:
        return
    picked = st.selectbox("Photograph", list(labels), format_func=labels.__getitem__, key="report_blur_photo")
    small = preview(picked, desk.store.originals.local(picked))
    if small is not None:
        st.image(small, width=480, alt="The photograph in which a box can be marked")
    across = st.slider("From left to right, %", 0, 100, (0, 0), key="report_blur_across")
    down = st.slider("From top to bottom, %", 0, 100, (0, 0), key="report_blur_down")
    box = [across[0] / 100, down[0] / 100, across[1] / 100, down[1] / 100]
    ready = box[0] < box[2] and box[1] < box[3]
    if st.button("Make this box unreadable in reports", disabled=not ready):
        boxes = {**kept, picked: [*kept.get(picked, []), box]}
        boxes_from(boxes)  # refuses what is no box
        put_setting(desk.store, f"{BLURRED} {desk.job.id}", boxes)
        st.rerun()
    number = sum(len(one) for one in kept.values())
    if number:
        st.markdown(f"{counted(number, 'box')} marked in this job.")
        if st.button("Take all boxes back"):
            put_setting(desk.store, f"{BLURRED} {desk.job.id}", {})
            st.rerun()


show()
