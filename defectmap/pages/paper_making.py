"""A paper of the job as a file, with its pages as pictures: what is seen is what is printed."""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import streamlit as st

from defectmap.errors import JobError
from defectmap.pages import frame
from defectmap.pages.reports import MadeReport, made_report, state_of_record
from defectmap.record.results import compare_ready, ready_panels
from defectmap.record.shop_style import shop_style
from defectmap.record.signatures import signatures_of
from defectmap.report.car_papers import car_paper
from defectmap.report.car_sheets import paper_pdf

PAPERS: Mapping[str, str] = {
    "intake": "Intake sheet",
    "quote": "Quote",
    "invoice": "Invoice",
    "hand-over": "Hand-over sheet",
    "claims": "What advertising may say",
}
DOTS_PER_POINT = 1.7  # of the pictures: legible on a laptop, and on a phone when brought closer


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What somebody wants on paper."""

    kind: str
    day: date
    number: str = ""
    protection: str | None = None
    feel: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MadePaper:
    """The file, and what it looks like."""

    kind: str
    file_name: str
    pdf: bytes
    pages: tuple[bytes, ...]
    priced: bool = True
    lines: int = 1  # of a quote or an invoice
    untimed: tuple[str, ...] = ()  # work that an invoice leaves out, as no time was entered


def made_paper(desk: frame.Desk, asked: Asked) -> MadePaper:
    """Make it from the record as it stands.

    Raises
    ------
    JobError
        It cannot be made yet; the sentence says what is missing.
    """
    file_name = f"{frame.file_stem(desk)}-{asked.kind}.pdf"
    if asked.kind == "claims":
        pdf = job_report(desk).claims()
        return MadePaper(kind=asked.kind, file_name=file_name, pdf=pdf, pages=pictures_of(pdf))
    content = car_paper(
        desk.store,
        desk.reference,
        asked.kind,
        day=asked.day,
        number=asked.number,
        protection=asked.protection,
        feel=asked.feel,
    )
    pdf = paper_pdf(content, shop_style(desk.store), made_on=asked.day.isoformat())
    quote = content.quote
    return MadePaper(
        kind=asked.kind,
        file_name=file_name,
        pdf=pdf,
        pages=pictures_of(pdf),
        priced=quote is None or quote.priced,
        lines=1 if quote is None else len(quote.lines),
        untimed=tuple(dict.fromkeys(f"{one.what} on {one.panel}" for one in content.untimed)),
    )


def job_report(desk: frame.Desk) -> MadeReport:
    """The customer's report of the job, as the customer's view and the claims need it.

    Raises
    ------
    JobError
        No panel has photographs from before and after.
    """
    ready = ready_panels(desk.look)
    if not ready:
        raise JobError("No panel has photographs from before and after yet: there is nothing to say of them.")
    compare_ready(desk.store, desk.reference, ready)
    state = state_of_record(desk.store, desk.reference)
    return made_report(desk.store, desk.reference, state, made_on=date.today().isoformat())


@st.cache_data(max_entries=24, show_spinner=False)
def pictures_of(pdf: bytes) -> tuple[bytes, ...]:
    """Every page of a file as a PNG."""
    import pypdfium2

    found = []
    with pypdfium2.PdfDocument(pdf) as document:
        for page in document:
            out = io.BytesIO()
            page.render(scale=DOTS_PER_POINT).to_pil().save(out, "PNG")
            found.append(out.getvalue())
    return tuple(found)


def missing_words(desk: frame.Desk, paper: MadePaper) -> tuple[str, ...]:
    """What the paper still lacks, one sentence each."""
    signed = {one.what for one in signatures_of(desk.store, desk.reference)}
    said = []
    if paper.kind in ("intake", "hand-over") and paper.kind not in signed:
        where = "on the page Intake" if paper.kind == "intake" else "below"
        said.append(f"Nobody has signed yet: {where}, or on the printed sheet.")
    if paper.kind == "invoice" and not paper.lines:
        said.append("No hours are entered, so there is nothing to charge: enter them under Hours.")
    elif paper.untimed:
        said.append(f"Not charged, as no time was entered: {', '.join(paper.untimed)}.")
    if paper.lines and not paper.priced:
        said.append("No prices: enter your rates on the page Set-up, under Tables.")
    return tuple(said)
