"""Page: the papers of the job beside the report: looked at as they print, downloaded, signed; hours; care."""

from __future__ import annotations

from datetime import date
from typing import get_args

import streamlit as st

from defectmap.pages import frame, waiting
from defectmap.pages.care_entry import care_dates
from defectmap.pages.hours import hours_table
from defectmap.pages.paper_making import PAPERS, Asked, MadePaper, made_paper, missing_words
from defectmap.pages.signing import signing
from defectmap.record.results import tables_of
from defectmap.trade.plan import USUAL_FEEL, Feel
from defectmap.words.page_words import plain

FEELS = get_args(Feel)
WITHOUT_FIGURES = ("intake", "invoice")  # of photographs: they wait for nothing
PAGE_PX = 900  # at most; narrower where the screen is


def show() -> None:
    """Draw the page."""
    with frame.page("papers"):
        desk = frame.chosen_job()
        kind = st.pills(
            "Paper",
            list(PAPERS),
            default=frame.current("paper", list(PAPERS)),
            format_func=PAPERS.__getitem__,
            key="papers_kind",
            required=True,
        )
        frame.remember("paper", kind)
        if kind not in WITHOUT_FIGURES and waiting.measure_what_is_missing(desk):
            st.rerun()
        asked = _asked(desk, kind)
        with frame.guarded():
            _shown(desk, made_paper(desk, asked))
        if kind == "hand-over":
            signing(desk, "hand-over")
        hours_table(desk)
        care_dates(desk)


def _asked(desk: frame.Desk, kind: str) -> Asked:
    """What a paper needs to be told."""
    if kind == "claims":
        return Asked(kind=kind, day=date.today())
    row = st.container(horizontal=True, vertical_alignment="bottom")
    with row.container(width=190):
        day = st.date_input("Day on the paper", value=date.today(), key="papers_day", format="YYYY-MM-DD")
    number, protection = "", None
    if kind in ("quote", "invoice"):
        with row.container(width=190):
            number = st.text_input("Number, from your books", max_chars=40, key=f"papers_number_{kind}")
    if kind in ("quote", "hand-over"):
        kinds = tables_of(desk.store).protection
        with row.container(width=260):
            protection = frame.protection_choice("Protection", kinds, key="papers_protection")
    feel = None
    if kind == "quote":
        with row.container(width=190):
            feel = st.selectbox("Feel of the washed paint", FEELS, FEELS.index(USUAL_FEEL), key="papers_feel")
    return Asked(kind=kind, day=day or date.today(), number=number.strip(), protection=protection, feel=feel)


def _shown(desk: frame.Desk, paper: MadePaper) -> None:
    for sentence in missing_words(desk, paper):
        st.info(plain(sentence), icon=":material/info:")
    st.download_button(
        f"Download: {PAPERS[paper.kind]}",
        paper.pdf,
        file_name=paper.file_name,
        mime="application/pdf",
        icon=":material/download:",
        type="primary",
        width="stretch",
        on_click="ignore",
        key="papers_get",
    )
    for number, png in enumerate(paper.pages, start=1):
        with st.container(border=True, width=PAGE_PX):
            st.image(png, width="stretch", alt=f"{PAPERS[paper.kind]}, page {number} of {len(paper.pages)}")


show()
